"""The folded form as an x-ray: every layer translucent, the axis, and each flap by name.

Layers lie over each other, so that more paper is darker. Under the axis each flap and river
stands as a bar over the stretch of the axis that it takes, in its own colour.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from packer.drawing.crease_drawing import colours_of
from packer.drawing.marks.labels import LETTER
from packer.drawing.marks.strokes import Area, Drawing, Label, Mark, Path, plain
from packer.drawing.packing_drawing import mm_of
from packer.folded.readback import edge_under
from packer.model.tree import node_distances, walk
from packer.units import SAME_PLACE

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern
    from packer.folded.form import FoldedForm
    from packer.folded.layers import FlatBase

LANE = 3.6
"""Height of a bar's lane, in mm."""


def folded_drawing(
    base: FlatBase,
    mm_per_unit: float | None = None,
    colours: Mapping[str, str] | None = None,
) -> Drawing:
    """Draw a folded base as an x-ray, at the sheet's own millimetres.

    Parameters
    ----------
    base
        A folded pattern, with or without a layer order.
    mm_per_unit, colours
        As for `packer.drawing.crease_drawing.crease_drawing`.

    Returns
    -------
    Drawing
        With the groups "layers", "axis", "bars" and "names".
    """
    pattern, form = base.pattern, base.form
    mm = mm_per_unit or mm_of(pattern.sheet)
    length, high = (form.positions.max(axis=0) * mm).tolist()  # both begin at nothing
    gap = 4.0
    foot = len(set(_lanes(pattern, form).values())) * LANE + gap
    text = LETTER * 2.6 * max(len(_called(pattern, name)) for name in pattern.tree.flaps) + 4
    height = foot + high
    points = form.positions * mm + (0.0, foot)
    bars = _bars(pattern, form, mm, foot - gap)
    axis = Path("axis level", ((0.0, foot), (length, foot)), title="the axis")
    return Drawing(
        length + text,
        height,
        (
            ("layers", tuple(_layers(pattern, points))),
            ("axis", (*_joint_levels(pattern, form, mm, height), axis)),
            ("bars", tuple(_drawn(pattern, bars))),
            ("names", tuple(_names(pattern, bars))),
        ),
        title=f"{plain(pattern.title)}: folded form" if pattern.title else "folded form",
        description=(f"Folded form {length:.4g} mm long and {high:.4g} mm high, {base.status}"),
        colours=colours_of(pattern, colours),
    )


def _layers(pattern: CreasePattern, points: NDArray[np.float64]) -> Iterable[Mark]:
    for loop in pattern.faces:
        ring = tuple((float(x), float(y)) for x, y in points[list(loop)])
        yield Area("layer", (ring,), pattern.tree.names[edge_under(pattern, loop)])


def _levels(pattern: CreasePattern, form: FoldedForm) -> NDArray[np.float64]:
    levels: NDArray[np.float64] = node_distances(pattern.tree, pattern.lengths)[form.root]
    return levels


def _lanes(pattern: CreasePattern, form: FoldedForm) -> dict[int, int]:
    """Give each edge of the tree a lane; edges that do not overlap along the axis may share.

    The fillers of one joint share a lane.
    """
    depth = _levels(pattern, form)
    tolerance = SAME_PLACE * pattern.sheet.diagonal
    ends: list[float] = []
    lane_of: dict[int, int] = {}
    fillers: dict[int, int] = {}
    for _, joint, edge in walk(pattern.tree, form.root):
        if edge < 0:
            continue
        start, end = sorted(depth[pattern.tree.ends[edge]].tolist())
        # A river may share a lane with what begins where it ends; names of flaps need room.
        reach = end if edge >= pattern.tree.n_tips else np.inf
        lane = next((k for k, last in enumerate(ends) if last <= start + tolerance), len(ends))
        if pattern.tree.names[edge] in pattern.fillers:
            lane = fillers.setdefault(joint, lane)
        ends[lane : lane + 1] = [reach]
        lane_of[edge] = lane
    return lane_of


class _Bar(NamedTuple):
    """The stretch of the axis that an edge of the tree takes, in mm, and the height of its lane."""

    edge: int
    start: float
    end: float
    y: float


def _bars(pattern: CreasePattern, form: FoldedForm, mm: float, top: float) -> list[_Bar]:
    depth = _levels(pattern, form)
    bars = []
    for edge, lane in _lanes(pattern, form).items():
        start, end = sorted(depth[pattern.tree.ends[edge]].tolist())
        bars.append(_Bar(edge, start * mm, end * mm, top - (lane + 0.5) * LANE))
    return bars


def _drawn(pattern: CreasePattern, bars: list[_Bar]) -> Iterable[Mark]:
    half = 0.3 * LANE
    for edge, start, end, y in bars:
        name = pattern.tree.names[edge]
        ring = ((start, y - half), (end, y - half), (end, y + half), (start, y + half))
        title = f"{name}: {end - start:.4g} mm"
        if name in pattern.fillers:
            yield Path("filler bar", ring, True, name, f"{title}, filler")
        else:
            yield Area("flap bar", (ring,), name, title)


def _names(pattern: CreasePattern, bars: list[_Bar]) -> Iterable[Mark]:
    fillers: dict[float, list[_Bar]] = {}
    for bar in bars:
        name = pattern.tree.names[bar.edge]
        called = _called(pattern, name)
        if name in pattern.fillers:
            fillers.setdefault(bar.y, []).append(bar)
        elif bar.edge < pattern.tree.n_tips:
            yield Label("name", (bar.end + 1.2, bar.y), called, 2.6, "start", name)
        elif LETTER * 2.2 * len(called) < bar.end - bar.start:
            middle = (bar.start + bar.end) / 2
            yield Label("name", (middle, bar.y), called, 2.2, "middle", name)
    for y, lane in fillers.items():
        longest = max(lane, key=lambda bar: bar.end)
        called = pattern.tree.names[longest.edge] if len(lane) == 1 else f"{len(lane)} fillers"
        yield Label("name", (longest.end + 1.2, y), called, 2.6, "start")


def _called(pattern: CreasePattern, name: str) -> str:
    """Return what a part of the tree built is called in the figure."""
    return plain(pattern.part_of.get(name, name), 24)


def _joint_levels(
    pattern: CreasePattern, form: FoldedForm, mm: float, height: float
) -> Iterable[Mark]:
    depth = _levels(pattern, form)
    n = pattern.tree.n_tips
    for node in range(n, pattern.tree.n_nodes):
        x = float(depth[node]) * mm
        yield Path(
            "joint level",
            ((x, 0.0), (x, height)),
            title=f"joint {pattern.tree.joints[node - n]}",
        )
