"""The drawing of a stick figure: one stroke a part, joints, tips and names."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from packer.drawing.marks.labels import Segment, choose_places, label_box
from packer.drawing.marks.strokes import Anchor, Disc, Drawing, Label, Mark, Path, moved, plain
from packer.drawing.marks.styles import part_colours
from packer.drawing.stick_layout import layout
from packer.model.tree import LEFT, RIGHT, tree_of
from packer.numbers import counted

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from packer.model.figure import Figure, Symmetry
    from packer.model.tree import Tree

LONGER_SIDE = 150.0
"""Length in mm of the longer side of a figure's box of nodes."""

ROOMY = 1.03
"""How many times its drawing a box may be for the drawing to fill it."""

CROWDED = 24
"""Flaps above which names stand along their flaps and without lengths."""


def figure_drawing(figure: Figure, mm_per_unit: float | None = None) -> Drawing:
    """Draw a stick figure with true proportions.

    Parameters
    ----------
    figure
        Any figure.
    mm_per_unit
        Millimetres for one unit of length; by default as many as make the longer side of the
        box round its nodes 150 mm.

    Returns
    -------
    Drawing
        With the groups rivers, flaps, joints, tips and names.
    """
    tree = tree_of(figure)
    at = layout(tree)
    mm = mm_per_unit or LONGER_SIDE / float(np.ptp(at, axis=0).max())
    labels = _names(tree, at * mm)
    low, high = _extent(at * mm, labels)
    at = at * mm - low
    width, height = (float(side) for side in high - low)
    spots = [(float(x), float(y)) for x, y in at]
    groups: list[tuple[str, list[Mark]]] = [
        ("rivers", _edges(tree, spots, len(tree.flaps), len(tree.names))),
        ("flaps", _edges(tree, spots, 0, len(tree.flaps))),
        ("joints", [Disc("joint", p, 0.9) for p in spots[tree.n_tips :]]),
        (
            "tips",
            [
                Disc("tip", p, 0.6, name)
                for name, p in zip(tree.flaps, spots[: tree.n_tips], strict=True)
            ],
        ),
        ("names", [moved(label, *(-low).tolist()) for label in labels]),
    ]
    return Drawing(
        width,
        height,
        tuple((name, tuple(marks)) for name, marks in groups),
        title=f"{plain(figure.name)}: stick figure",
        description=f"{len(tree.flaps)} flaps and {counted(len(tree.rivers), 'river')}; one unit of length "
        f"is drawn {mm:.4g} mm long.",
        colours=part_colours(tree),
    )


def mm_to_fit(figure: Figure, width: float, height: float) -> float:
    """Return the millimetres a unit at which a figure with its names fits into a box in mm."""
    box = np.ptp(layout(tree_of(figure)), axis=0)
    mm = max(width, height) / float(box.max())
    for _ in range(6):
        drawing = figure_drawing(figure, mm)
        share = min(width / drawing.width, height / drawing.height)
        if 1 <= share <= ROOMY:
            break
        mm *= 0.985 * share
    return mm


def written_name(tree: Tree, edge: int) -> str:
    """Return a part's name as written in the figure: twins without their sides."""
    name = tree.names[edge]
    return name if tree.twin[edge] == edge else name.removesuffix(LEFT).removesuffix(RIGHT)


def flap_names(
    tree: Tree,
    symmetry: Symmetry,
    places: Callable[[int, str], Sequence[Label]],
    strokes: Sequence[Segment],
) -> list[Label]:
    """Return a label for each flap on a sheet where it hides least; twins choose together.

    Parameters
    ----------
    tree, symmetry
        Of what is packed; without symmetry twins are named apart.
    places
        Returns the places of a flap's name from its tip and the text, the best liked first.
    strokes
        Lines to keep clear of.
    """
    choices: dict[int, list[Sequence[Label]]] = {}
    for tip, name in enumerate(tree.flaps):
        paired = symmetry != "none" and tree.twin[tip] != tip
        text = plain(written_name(tree, tip) if paired else name, 28)
        first = min(tip, int(tree.twin[tip])) if paired else tip
        choices.setdefault(first, []).append(places(tip, text))
    return choose_places(
        (list(zip(*found, strict=False)) for found in choices.values()), strokes
    )


def _edges(tree: Tree, at: list[tuple[float, float]], first: int, last: int) -> list[Mark]:
    kind = "stick river" if first else "stick flap"
    found: list[Mark] = []
    for k in range(first, last):
        a, b = tree.ends[k].tolist()
        name = tree.names[k]
        title = f"{name}: {'river' if first else 'flap'}, length {tree.lengths[k]:g}"
        found.append(Path(kind, (at[b], at[a]), part=name, title=title))
    return found


def _names(tree: Tree, spots: NDArray[np.float64]) -> list[Label]:
    """Name each flap beyond its tip, and each river beside it where there is room."""
    crowded = tree.n_tips > CROWDED
    size = (2.0 if crowded else 3.2) * math.sqrt(
        float(np.ptp(spots, axis=0).max()) / LONGER_SIDE
    )
    flaps: dict[int, list[list[Label]]] = {}
    rivers: list[list[tuple[Label, ...]]] = []
    for k, name in enumerate(tree.names):
        text = plain(written_name(tree, k), 24)
        if not crowded:
            text += f"  {tree.lengths[k]:g}"
        far, near = spots[tree.ends[k]]
        first = min(k, int(tree.twin[k]))
        if k < tree.n_tips:
            label = Label("name", (0.0, 0.0), text, size, part=name)
            flaps.setdefault(first, []).append(_beyond(label, near, far, crowded))
        elif not crowded and (k != first or tree.twin[k] == k):  # one of two twins is enough
            label = Label("note", (0.0, 0.0), text, 0.75 * size, part=name)
            rivers.append([(place,) for place in _beside(label, near, far)])
    strokes = [_segment(spots[pair]) for pair in tree.ends]
    shown = choose_places(
        (list(zip(*places, strict=True)) for places in flaps.values()), strokes
    )
    taken = [_segment(label_box(label)[[0, 2]]) for label in shown]
    return [*shown, *choose_places(rivers, [*strokes, *taken], most=0.25)]


def _segment(ends: NDArray[np.float64]) -> Segment:
    (x0, y0), (x1, y1) = ends.tolist()
    return (x0, y0), (x1, y1)


def _beyond(
    label: Label, near: NDArray[np.float64], far: NDArray[np.float64], crowded: bool
) -> list[Label]:
    """Return places for a flap's name: level beside its tip, or on from it at some angle."""
    way = (far - near) / max(float(np.hypot(*(far - near))), 1e-300)
    x, y = (far + way * (0.8 + 0.4 * label.size)).tolist()
    anchor: Anchor = "middle" if abs(way[0]) < 0.35 else "start" if way[0] > 0 else "end"
    level = replace(label, at=(x, y + (0.3 * label.size * way[1])), anchor=anchor)
    if anchor == "middle":
        level = replace(level, at=(x, y + 0.3 * label.size * math.copysign(1, way[1])))
    along = []
    heading = math.degrees(math.atan2(way[1], way[0]))
    for aside in (0, 20, -20, 40, -40, 65, -65):
        angle = heading + (aside if way[0] >= 0 else -aside)
        c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
        gap = 0.8 + 0.3 * label.size
        spot = float(far[0]) + gap * c, float(far[1]) + gap * s
        forwards = c >= -1e-9
        along.append(
            replace(
                label,
                at=spot,
                anchor="start" if forwards else "end",
                angle=round(angle if forwards else angle - 180 * math.copysign(1, angle), 6),
            )
        )
    return along if crowded else [level, *along]


def _beside(label: Label, near: NDArray[np.float64], far: NDArray[np.float64]) -> list[Label]:
    """Return places for a river's name: level on either side of it, or along it."""
    way = (far - near) / max(float(np.hypot(*(far - near))), 1e-300)
    aside = np.array([way[1], -way[0]])
    if aside[0] < -1e-9:
        aside = -aside
    angle = math.degrees(math.atan2(way[1], way[0]))
    if abs(angle) > 90 + 1e-9:
        angle -= 180 * math.copysign(1, angle)
    found = []
    for share in (0.5, 0.35, 0.65):
        spot = near + share * (far - near)
        for hand in (1.0, -1.0):
            clear = hand * aside * (1.2 + 0.5 * label.size)
            anchor: Anchor = "middle"
            if abs(aside[0]) > 0.5:
                anchor = "start" if clear[0] > 0 else "end"
                clear = clear * 0.8
            x, y = (spot + clear).tolist()
            found.append(replace(label, at=(x, y), anchor=anchor))
            x, y = (spot + hand * aside * (1.0 + 0.6 * label.size)).tolist()
            found.append(replace(label, at=(x, y), angle=round(angle, 6)))
    return found


def _extent(
    at: NDArray[np.float64], labels: list[Label]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    boxes = map(label_box, labels)
    every = np.concatenate([at, *boxes])
    return every.min(axis=0) - 1.0, every.max(axis=0) + 1.0
