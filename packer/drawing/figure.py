"""The drawing of a stick figure: one stroke a part, joints, tips and names."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from packer.drawing.stick import layout
from packer.drawing.strokes import Anchor, Disc, Drawing, Label, Mark, Path, plain
from packer.drawing.styles import part_colours
from packer.tree import LEFT, RIGHT, tree_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.figure import Figure
    from packer.tree import Tree

LONGER_SIDE = 150.0
"""Length in mm of the longer side of a figure's box of nodes."""

CROWDED = 24
"""Flaps above which names stand along their flaps and without lengths."""

LETTER = 0.58
"""Mean width of a letter, as a share of the size of the text."""


def figure_drawing(figure: Figure, longer_side: float = LONGER_SIDE) -> Drawing:
    """Draw a stick figure with true proportions.

    Parameters
    ----------
    figure
        Any figure.
    longer_side
        In mm, of the box round the nodes; names stand outside it.

    Returns
    -------
    Drawing
        With the groups rivers, flaps, joints, tips and names.
    """
    tree = tree_of(figure)
    at = layout(tree)
    box = np.ptp(at, axis=0)
    mm = longer_side / max(float(box.max()), 1e-300)
    labels = _names(tree, at, mm, longer_side)
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
        ("names", _names(tree, at / mm, mm, longer_side)),
    ]
    return Drawing(
        width,
        height,
        tuple((name, tuple(marks)) for name, marks in groups),
        title=f"{plain(figure.name)}: stick figure",
        description=f"{len(tree.flaps)} flaps and {len(tree.rivers)} rivers; one unit of length "
        f"is drawn {mm:.4g} mm long.",
        colours=part_colours(tree),
    )


def written_name(name: str) -> str:
    """Return a part's name as written in the figure: twins without their sides."""
    return name.removesuffix(LEFT).removesuffix(RIGHT)


def _edges(tree: Tree, at: list[tuple[float, float]], first: int, last: int) -> list[Mark]:
    kind = "stick river" if first else "stick flap"
    found: list[Mark] = []
    for k in range(first, last):
        a, b = tree.ends[k].tolist()
        name = tree.names[k]
        title = f"{name}: {'river' if first else 'flap'}, length {tree.lengths[k]:g}"
        found.append(Path(kind, (at[b], at[a]), part=name, title=title))
    return found


def _names(tree: Tree, at: NDArray[np.float64], mm: float, longer_side: float) -> list[Mark]:
    """Name each flap beyond its tip, and each river beside its middle where there is room."""
    crowded = tree.n_tips > CROWDED
    size = (2.0 if crowded else 3.2) * math.sqrt(longer_side / LONGER_SIDE)
    found: list[Mark] = []
    for k, name in enumerate(tree.names):
        near, far = at[tree.ends[k, 1]] * mm, at[tree.ends[k, 0]] * mm
        text = plain(written_name(name) if tree.twin[k] != k else name, 24)
        if not crowded:
            text += f"  {tree.lengths[k]:g}"
        way = far - near
        way /= max(float(np.hypot(*way)), 1e-300)
        if k < tree.n_tips:
            found.append(
                _beyond(text, far + way * (0.8 + 0.5 * size), way, size, name, crowded)
            )
        elif not crowded:
            aside = np.array([way[1], -way[0]])
            if aside[0] < -1e-9 or (abs(aside[0]) <= 1e-9 and aside[1] < 0):
                aside = -aside
            spot = (near + far) / 2 + aside * 0.8 * size
            anchor: Anchor = "start" if aside[0] > 0.5 else "middle"
            found.append(Label("note", tuple(spot.tolist()), text, 0.8 * size, anchor, name))
    return found


def _beyond(
    text: str,
    at: NDArray[np.float64],
    way: NDArray[np.float64],
    size: float,
    part: str,
    along: bool,
) -> Label:
    """Return a label that starts at a point and runs on in a direction, along it or level."""
    spot = float(at[0]), float(at[1])
    if along:
        angle = math.degrees(math.atan2(way[1], way[0]))
        if way[0] < -1e-9:
            return Label(
                "name", spot, text, size, "end", part, angle - 180 * math.copysign(1, angle)
            )
        return Label("name", spot, text, size, "start", part, angle)
    anchor: Anchor = "middle" if abs(way[0]) < 0.35 else "start" if way[0] > 0 else "end"
    return Label("name", spot, text, size, anchor, part)


def label_box(label: Label) -> NDArray[np.float64]:
    """Return (4, 2) corners of about the rectangle that a label covers."""
    width = LETTER * label.size * len(label.text)
    start = {"start": 0.0, "middle": -width / 2, "end": -width}[label.anchor]
    half = 0.6 * label.size
    corners = np.array(
        [(start, -half), (start + width, -half), (start + width, half), (start, half)]
    )
    c, s = math.cos(math.radians(label.angle)), math.sin(math.radians(label.angle))
    turned: NDArray[np.float64] = corners @ np.array([[c, s], [-s, c]]) + label.at
    return turned


def _extent(
    at: NDArray[np.float64], labels: list[Mark]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    boxes = [label_box(label) for label in labels if isinstance(label, Label)]
    every = np.concatenate([at, *boxes])
    return every.min(axis=0) - 1.0, every.max(axis=0) + 1.0
