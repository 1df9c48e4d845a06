"""The base as it looks in the hand: front, back, fanned out, and its layers just beyond joints.

Paper hides what lies under it; its front and its back have two tones. Fanned out, each flap and
river is turned about its joint as in the stick figure, so that what was laid to one side can be
told apart.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.creases.faces import edges_of_faces, offset_on
from packer.drawing.marks.label_placement import Naming, place_labels
from packer.drawing.marks.labels import LETTER
from packer.drawing.marks.strokes import Area, Drawing, Label, Path, moved, plain
from packer.drawing.sides_drawing import PAPER_COLOURS, sides_drawing
from packer.drawing.state_drawing import state_drawing
from packer.folded.layer_count import section
from packer.model.stick_layout import layout
from packer.model.tree import Tree, walk

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern
    from packer.drawing.marks.strokes import Mark
    from packer.folded.layers import FlatBase

WIDE: Final = 180.0
HIGH: Final = 90.0
GAP: Final = 10.0
TIP_NAME_MM: Final = 2.4
"""Width of the drawing, greatest height of a view and room between two, in mm."""

PAGE: Final = 0.9
MOST_PAGES: Final = 40
BREAK: Final = 5.0
"""Height of one layer in a section, the most that are drawn, and the gap for those left out; in mm
but for the number."""

SHEET: Final = 110.0
"""Longer side of the sheet as drawn, in mm."""

SLENDER: Final = 0.3
"""Greatest height of a fanned out flap as a share of the usual flap's length."""

EDGE: Final = 12.0
"""Room round it on a plate, in mm."""

COLUMN: Final = 42.0
"""Width of a section, in mm."""


def base_drawing(
    base: FlatBase, paper_colours: tuple[str, str] = PAPER_COLOURS, columns: int = 1
) -> Drawing | None:
    """Draw a base with a layer order as it looks in the hand; None without an order.

    Parameters
    ----------
    base
        A folded pattern.
    paper_colours
        Of the paper's front, which carries the pattern, and of its back.
    columns
        In which the views stand, one or two.

    Returns
    -------
    Drawing
        One group for each view.
    """
    if base.order is None:
        return None
    pattern, views = base.pattern, _views(base)
    tall = [view.height + GAP + 4.0 for _, view in views]
    # where the second column begins: the longer of the two as short as can be
    cuts = range(1, len(views)) if columns > 1 else [len(views)]
    cut = min(cuts, key=lambda k: max(sum(tall[:k]), sum(tall[k:])))
    height = GAP + max(sum(tall[:cut]), sum(tall[cut:]))
    groups: list[tuple[str, tuple[Mark, ...]]] = []
    left, top = 0.0, height - GAP
    for k, (title, view) in enumerate(views):
        if k == cut:
            left, top = WIDE + GAP, height - GAP
        marks: list[Mark] = [Label("heading", (left, top), title, 3.4, "start")]
        at = (left, top - 4.0 - view.height)
        marks += [moved(mark, *at) for mark in view.marks]
        groups.append((title, tuple(marks)))
        top -= tall[k]
    return Drawing(
        WIDE if cut == len(views) else 2 * WIDE + GAP,
        height,
        tuple(groups),
        title=f"{plain(pattern.title)}: the base" if pattern.title else "the base",
        description="The flat base from the front, from the back and fanned out, what shows of the sheet, and layers just beyond joints",
        colours=dict(zip(("front", "back"), paper_colours, strict=True)),
        margin=8.0,
    )


@lru_cache(maxsize=2)
def _views(base: FlatBase) -> tuple[tuple[str, Drawing], ...]:
    """Return the views of a base with an order, each with its title."""
    names = [name for name in base.pattern.tree.flaps if name not in base.pattern.fillers]
    narrow = _narrowing(base.pattern)
    return (
        ("seen from above, and turned over", _both(base, names)),
        ("what shows of the sheet; raw edges of parts heavy", _sides(base)),
        (f"fanned out, heights drawn at {narrow:.0%}", _fanned(base, narrow)),
        ("layers just beyond each joint", _sections(base)),
    )


def beside(plate: Drawing, base: Drawing | None) -> Drawing:
    """Return a plate with the drawing of its base on the right, enlarged to its height."""
    if base is None:
        return plate
    room = plate.height - 2 * EDGE
    times = min(room / base.height, 1.5)
    at = (plate.width, plate.height - EDGE - base.height * times)
    marks = tuple(moved(mark, *at, times) for mark in base.marks)
    return replace(
        plate,
        width=plate.width + base.width * times + EDGE,
        groups=(*plate.groups, ("base", marks)),
        description=f"{plate.description}. {base.description}",
        colours={**plate.colours, **base.colours},
    )


def _both(base: FlatBase, names: list[str]) -> Drawing:
    """Draw the base from above and turned over, side by side."""
    above, below = (_seen(base, names, back) for back in (False, True))
    marks = (*above.marks, *(moved(mark, WIDE - below.width, 0.0) for mark in below.marks))
    return Drawing(WIDE, above.height, (("both", marks),))


def _seen(base: FlatBase, names: list[str], back: bool) -> Drawing:
    size = (WIDE / 2 - GAP, HIGH)
    drawing = state_drawing(base.pattern, base.form, base.order, size, back=back, names=names)
    groups = tuple((name, tuple(map(_toned, marks))) for name, marks in drawing.groups)
    return replace(drawing, groups=groups)


def _toned(mark: Mark) -> Mark:
    """Return paper in the tone of its side, any other mark as it is."""
    if isinstance(mark, Area) and mark.kind in {"paper front", "paper back"}:
        return replace(mark, kind="toned paper", part=mark.kind.removeprefix("paper "))
    return mark


def _narrowing(pattern: CreasePattern) -> float:
    """Return the share of their heights at which flaps are drawn so that they stay apart.

    A folder narrows them too; a height is how far paper reaches from the axis.
    """
    own = [pattern.built[name] for name in pattern.tree.flaps if name not in pattern.fillers]
    return min(1.0, SLENDER * float(np.median(own) / pattern.heights.max()))


def _fanned(base: FlatBase, narrow: float) -> Drawing:
    """Draw each face turned about the joints as in the stick figure, lower layers first."""
    pattern, order = base.pattern, base.order
    assert order is not None
    start, way = _pose(pattern, base.form.root)
    over, near = edges_of_faces(pattern), _near(pattern, base.form.root)
    shapes = []
    for face, loop in enumerate(pattern.faces):
        edge = int(over[face])
        along = np.array([offset_on(pattern, v, edge) for v in loop])
        if pattern.tree.ends[edge, 0] != near[edge]:
            along = pattern.lengths[edge] - along
        up = np.array([-way[edge, 1], way[edge, 0]])
        heights = narrow * pattern.heights[list(loop)]
        shapes.append(start[edge] + along[:, None] * way[edge] + heights[:, None] * up)
    corners = np.concatenate(shapes)
    low, high = corners.min(axis=0), corners.max(axis=0)
    mm = float(min(WIDE / (high[0] - low[0]), 1.6 * HIGH / (high[1] - low[1])))
    marks: list[Mark] = []
    for face in np.argsort(order.of_faces, kind="stable").tolist():
        ring = tuple((float(x), float(y)) for x, y in (shapes[face] - low) * mm)
        side = "back" if base.form.flipped[face] else "front"
        marks.append(Area("toned paper", (ring,), side))
    marks += _tip_names(pattern, start, way, low, mm)
    size = (high - low) * mm
    return Drawing(float(size[0]), float(size[1]), (("paper", tuple(marks)),))


def _tip_names(
    pattern: CreasePattern,
    start: NDArray[np.float64],
    way: NDArray[np.float64],
    low: NDArray[np.float64],
    mm: float,
) -> list[Mark]:
    """Name each flap at its tip, on the side to which it points where there is room."""
    tips = (start + pattern.lengths[:, None] * way - low) * mm
    namings = []
    for edge, name in enumerate(pattern.tree.flaps):
        if name in pattern.fillers:
            continue
        x, y = tips[edge].tolist()
        text = plain(pattern.part_of.get(name, name), 24)
        wide = LETTER * TIP_NAME_MM * len(text)
        right = Label("name", (x + 0.8, y - 0.8), text, TIP_NAME_MM, "start")
        left = Label("name", (x - 0.8, y - 0.8), text, TIP_NAME_MM, "end")
        sides = (right, left) if way[edge, 0] >= 0 else (left, right)
        rows = [Label("name", (x, y + up), text, TIP_NAME_MM) for up in (0.8, -2.6)]
        room = {id(right): x + wide < WIDE, id(left): x - wide > 0}
        places = [(label,) for label in (*sides, *rows) if room.get(id(label), True)]
        namings.append(Naming(places, ((x, y),)))
    lines = np.stack([(start - low) * mm, tips], axis=1).tolist()
    return place_labels(namings, lines, (0.0, 0.0, WIDE, float(tips[:, 1].max()) + 4.0))


def _near(pattern: CreasePattern, root: int) -> dict[int, int]:
    """Return for each edge its node nearer to the root."""
    return {edge: parent for _, parent, edge in walk(pattern.tree, root) if edge >= 0}


def _pose(pattern: CreasePattern, root: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return (edges, 2) where each edge of the tree begins, and its direction, fanned out.

    The figure's own parts go as in the stick figure; fillers lie along the longest part beside them.
    """
    tree = pattern.tree
    positions = _positions(pattern)
    start, way = np.zeros((len(tree.ends), 2)), np.zeros((len(tree.ends), 2))
    at = {root: np.zeros(2)}
    for node, parent, edge in walk(tree, root):
        if edge < 0:
            continue
        if node in positions and parent in positions:
            step = positions[node] - positions[parent]
            way[edge] = step / np.hypot(*step)
        else:
            beside = [
                e for _, e in tree.neighbours[parent] if tree.names[e] not in pattern.fillers
            ]
            longest = max(beside, key=lambda e: pattern.lengths[e], default=edge)
            a, b = tree.ends[longest].tolist()
            other = b if a == parent else a
            step = (
                positions[other] - positions[parent]
                if other in positions
                else np.array([1.0, 0.0])
            )
            way[edge] = step / np.hypot(*step)
        start[edge] = at[parent]
        at[node] = at[parent] + pattern.lengths[edge] * way[edge]
    return start, way


def _positions(pattern: CreasePattern) -> dict[int, NDArray[np.float64]]:
    """Return where the stick figure, without fillers, has its nodes; by the nodes of the tree."""
    tree = pattern.tree
    kept = [k for k, name in enumerate(tree.names) if name not in pattern.fillers]
    number = {edge: k for k, edge in enumerate(kept)}
    flaps = [k for k in kept if k < tree.n_tips]
    nodes = [*flaps, *range(tree.n_tips, tree.n_nodes)]
    at = {node: k for k, node in enumerate(nodes)}
    own = Tree(
        tuple(tree.names[k] for k in flaps),
        tuple(tree.names[k] for k in kept if k >= tree.n_tips),
        tree.joints,
        np.array([[at[a], at[b]] for a, b in tree.ends[kept].tolist()]),
        pattern.lengths[kept],
        np.zeros(len(kept)),
        np.array([number.get(int(tree.twin[k]), number[k]) for k in kept]),
        ((),) * len(flaps),
        tree.directions[kept] if tree.directions.size else tree.directions,
    )
    return dict(zip(nodes, layout(own), strict=True))


def _sides(base: FlatBase) -> Drawing:
    sheet = base.pattern.sheet
    return sides_drawing(base, SHEET / max(sheet.width, sheet.height))


def _sections(base: FlatBase) -> Drawing:
    """Draw for each joint of the figure the layers beside it, lowest first, as a stack of pages."""
    pattern = base.pattern
    joints = [k for k, name in enumerate(pattern.tree.joints) if not name.endswith(", end")]
    per_row = int(WIDE // COLUMN)
    cells = [_stack(base, pattern.tree.n_tips + k) for k in joints]
    rows = [cells[k : k + per_row] for k in range(0, len(cells), per_row)]
    heights = [max(high for _, high in row) for row in rows]
    height = sum(heights) + GAP * len(rows)
    marks: list[Mark] = []
    top = height
    for row, high in zip(rows, heights, strict=True):
        for k, (cell, own) in enumerate(row):
            marks += [moved(mark, k * COLUMN, top - own) for mark in cell]
        top -= high + GAP
    return Drawing(WIDE, height, (("sections", tuple(marks)),))


def _stack(base: FlatBase, joint: int) -> tuple[list[Mark], float]:
    """Return the layers just beyond a joint as marks, and their height in mm.

    Of many the lowest and the highest are drawn, with a gap that says how many lie between.
    """
    pattern = base.pattern
    name = plain(pattern.tree.joints[joint - pattern.tree.n_tips], 20)
    pages = section(base, joint)
    title = f"beyond {name}: {len(pages)} layers cut"
    size = min(2.6, (COLUMN - 4.0) / (0.6 * len(title)))
    if not pages:
        return [Label("note", (0.0, 2.0), title, size, "start")], 5.0
    left_out = max(0, len(pages) - MOST_PAGES)
    half = MOST_PAGES // 2 if left_out else len(pages)
    mm = (COLUMN - 6.0) / max(high for _, high, _ in pages)
    marks: list[Mark] = []
    for k, (low, high, flipped) in enumerate(pages[:half] + pages[half + left_out :]):
        y = 0.5 + k * PAGE + (BREAK if k >= half else 0.0)
        ring = tuple(
            (x * mm, z) for x, z in ((low, y), (high, y), (high, y + 0.6), (low, y + 0.6))
        )
        marks.append(Area("toned paper", (ring,), "back" if flipped else "front"))
    high_mm = PAGE * (len(pages) - left_out) + 1.0 + (BREAK if left_out else 0.0)
    if left_out:
        at = (2.0, 0.5 + half * PAGE + 0.4 * BREAK)
        marks.append(Label("note", at, f"{left_out} more between", 2.4, "start"))
    marks.append(Path("axis level", ((0.0, 0.0), (0.0, high_mm))))
    marks.append(Label("note", (0.0, high_mm + 2.0), title, size, "start"))
    return marks, high_mm + 5.0
