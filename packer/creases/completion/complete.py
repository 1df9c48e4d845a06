"""Close a packing with fillers, and draw its creases.

A completion exists because metric trees are injective (see
`packer.creases.completion.filler_search`). So where a try fails, rounding or the choice of
fillers is the reason, never the figure, and another try follows.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from itertools import combinations
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.creases.completion.convex_partition import (
    convex_partition,
    has_reflex_corner,
    sides_of,
)
from packer.creases.completion.filler_insertion import with_filler
from packer.creases.completion.filler_search import (
    CORNER_SHARE,
    corner_filler,
    farthest_filler,
    side_filler,
)
from packer.creases.constraints.active_paths import lengthened, onto_borders, snapped
from packer.creases.molecules.assembly import pattern_of
from packer.creases.tip_layout import layout_of
from packer.deadline import NEVER, Deadline, OutOfTime
from packer.errors import PatternError
from packer.folded.ordering.construct import polygon_without_order
from packer.model.figure import refuse_to_fold
from packer.units import ACTIVE_GAP, ALIKE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from packer.creases.completion.convex_partition import Pair
    from packer.creases.completion.filler_search import Filler
    from packer.creases.pattern import CreasePattern
    from packer.creases.plane_graph import Loop
    from packer.creases.tip_layout import TipLayout
    from packer.model.packing import Packing

ACTIVATION: Final = (3e-6, 1e-5, 1e-4, 1e-3)
"""Slack, as a share of the diagonal, below which paths are made active: one try after another."""

CORNER_SHARES: Final = (CORNER_SHARE, 0.6, 0.35)
"""Length of corner fillers as a share of the distance to the nearest tip, one try after another."""

SHRUNK: Final = (0.999, 0.998, 0.997, 0.996, 0.995, 0.99, 0.98)
"""Shares of the scale to fall back to where the packing itself is too regular to be safe."""

FINE_EDGE: Final = 1e-6
"""Shortest edge, as a share of the diagonal, above which no other try is made.

Below it angles are no longer sure to 1e-6 rad.
"""

SHORTEST: Final = (0.01, 1e-3, 1e-5)
"""Least length of fillers on sides as a share of the diagonal: longer ones first."""


FILLERS_PER_TIP: Final = 3
FILLERS_BESIDE: Final = 60
"""Tips and fillers at which closing is given up: so many for each tip, and so many besides."""

MOST_DIVIDED: Final = 16
"""Diagonals tried to divide polygons without a layer order; of those met one to three sufficed."""

LEAST_OF_SLACK: Final = 0.45
"""Least length of a filler as a share of its side's slack; one that touches both ends is at most
half as long as the slack."""


def crease_pattern(packing: Packing) -> CreasePattern:
    """Return the crease pattern of a packing as it stands, closed with fillers.

    Tips and lengths stay as near to the packing as they can, so the creases may be too fine to
    fold; `packer.creases.settling.settle.settle` gives up some scale for creases that are not.

    Raises
    ------
    FigureError
        Where the flaps or rivers are more than `packer.limits` tells can be folded.
    PatternError
        Where the packing breaks one of its rules, or no way of closing it is known.
    """
    refuse_to_fold(len(packing.tree.flaps), len(packing.tree.rivers), "can be creased")
    wrong = packing.violations()
    if wrong:
        raise PatternError(f"{wrong[0]}; pack the figure again")
    return replace(completed(layout_of(packing)), title=packing.figure.name)


def completed(layout: TipLayout, deadline: Deadline = NEVER) -> CreasePattern:
    """Return the crease pattern of a layout, closed with as many fillers as it takes.

    Parameters
    ----------
    layout
        Tips and a tree whose inequalities hold.
    deadline
        When the first pattern that closed is good enough, and is not divided further.

    Raises
    ------
    PatternError
        Where no try closed; names the point where the last one failed.
    """
    best: CreasePattern | None = None
    last = PatternError("the packing does not close")
    for tried, (snap, share, shrunk) in enumerate(_tries()):
        if best is not None and deadline.over:
            break
        rng = np.random.default_rng(tried)
        try:
            made = closed(_prepared(layout, snap, shrunk, rng), share)
            pattern = pattern_of(*made)
        except PatternError as error:
            last = error
            continue
        if best is None or shortest_edge(pattern) > shortest_edge(best):
            best = pattern
        if _is_fine(pattern):
            return _divided(made[0], pattern, deadline)
    if best is None:
        raise last
    return best


def _is_fine(pattern: CreasePattern) -> bool:
    """Whether the edges of a pattern are long enough for sure angles."""
    return shortest_edge(pattern) >= FINE_EDGE * pattern.sheet.diagonal


def _divided(layout: TipLayout, pattern: CreasePattern, deadline: Deadline) -> CreasePattern:
    """Divide polygons that have no layer order by fillers on a diagonal, the loosest that will do.

    Parameters
    ----------
    layout, pattern
        A closed layout and its pattern.
    deadline
        When no further diagonal is tried.
    """
    left = MOST_DIVIDED
    with suppress(OutOfTime):
        while left > 0:
            deadline.check()
            index = {layout.tree.flaps.index(name) for name in polygon_without_order(pattern)}
            pairs = sorted(
                combinations(sorted(index), 2),
                key=lambda e: (-round(float(layout.slack[e]), ALIKE), e),
            )
            for pair in pairs[:left]:
                deadline.check()
                left -= 1
                smaller = _closed_along(layout, pair)
                if smaller is not None:
                    layout, pattern = smaller
                    break
            else:
                break
    return pattern


def _closed_along(layout: TipLayout, pair: Pair) -> tuple[TipLayout, CreasePattern] | None:
    """Divide a polygon of a closed layout along a diagonal; None where that cannot be."""
    try:
        other, polygons = closed(layout, wanted=frozenset({pair}))
        if other is layout:
            return None
        pattern = pattern_of(other, polygons)
    except PatternError:
        return None
    return (other, pattern) if _is_fine(pattern) else None


def shortest_edge(pattern: CreasePattern) -> float:
    """Return the length of the shortest edge of a pattern, in sheet units."""
    ways = pattern.points[pattern.edges[:, 1]] - pattern.points[pattern.edges[:, 0]]
    return float(np.hypot(ways[:, 0], ways[:, 1]).min())


def _tries() -> Iterator[tuple[float, float, float]]:
    for share in CORNER_SHARES:
        for snap in ACTIVATION:
            yield snap, share, 1.0
    for shrunk in SHRUNK:
        yield ACTIVATION[0], CORNER_SHARES[0], shrunk


def _prepared(
    layout: TipLayout, snap: float, shrunk: float, rng: np.random.Generator
) -> TipLayout:
    """Lengthen loose flaps, then make what nearly is active exactly so."""
    layout = replace(layout, lengths=layout.lengths * shrunk)
    layout = snapped(lengthened(snapped(onto_borders(layout, snap), snap), rng), snap)
    worst = float(layout.slack[np.triu_indices(layout.tree.n_tips, 1)].min())
    if worst < -ACTIVE_GAP * layout.sheet.diagonal:
        raise PatternError(f"the tips miss their distances by {-worst:.3g}; pack again")
    return layout


def closed(
    layout: TipLayout,
    share: float = CORNER_SHARES[0],
    wanted: frozenset[Pair] = frozenset(),
) -> tuple[TipLayout, tuple[Loop, ...]]:
    """Return the layout with fillers and the convex polygons whose sides are all active.

    Parameters
    ----------
    layout
        A layout whose near paths are exactly active.
    share
        Most of the distance to the nearest tip that a corner filler may be long.
    wanted
        Diagonals, pairs of tips i < j, to divide polygons along.

    Raises
    ------
    PatternError
        Where a side finds no filler, or fillers do not end.
    """
    active = ACTIVE_GAP * layout.sheet.diagonal
    layout = _with_corners(layout, share)
    most = len(layout.points) * FILLERS_PER_TIP + FILLERS_BESIDE
    polygons = convex_partition(layout, active, wanted)
    while True:
        sides = [e for e in sides_of(polygons) if layout.slack[e] > active]
        if not sides:
            break
        if len(layout.points) >= most:
            raise PatternError(f"{most} flaps and fillers did not close the pattern")
        side = max(sides, key=lambda e: (round(float(layout.slack[e]), ALIKE), e))
        layout = _touching(_filled(layout, *side))
        polygons = convex_partition(layout, active, wanted)
    for loop in polygons:
        if has_reflex_corner(layout, loop):
            x, y = layout.points[loop[0]]
            raise PatternError(f"the polygon at ({x:.4g}, {y:.4g}) is not convex")
    return layout, polygons


def _with_corners(layout: TipLayout, share: float) -> TipLayout:
    for corner in layout.sheet.corners.values():
        point = np.array(corner)
        if np.hypot(*(layout.points - point).T).min() <= layout.tolerance:
            continue
        filler = corner_filler(layout, point, share)
        if filler.length < SHORTEST[-1] * layout.sheet.diagonal:
            raise PatternError(
                f"no filler fits in the corner at ({corner[0]:g}, {corner[1]:g})"
            )
        layout = _added(layout, filler)
    return layout


def _touching(layout: TipLayout) -> TipLayout:
    """Return the layout with the paths made active that the last filler left nearly active.

    Such a path would need another filler as short as its slack, with creases as fine.
    """
    i, j = np.triu_indices(layout.tree.n_tips, 1)
    active, near = ACTIVE_GAP * layout.sheet.diagonal, ACTIVATION[0] * layout.sheet.diagonal
    slack = layout.slack[i, j]
    if not ((slack > active) & (slack < near)).any():
        return layout
    moved = snapped(layout, ACTIVATION[0])
    return moved if moved.slack[i, j].min() >= -active else layout


def _added(layout: TipLayout, filler: Filler) -> TipLayout:
    return with_filler(layout, filler.point, filler.tree_point, filler.length)


def _filled(layout: TipLayout, i: int, j: int) -> TipLayout:
    """Put a filler on a side that is not active: one that touches both ends, else one of them."""
    for shortest in SHORTEST:
        least = min(
            shortest * layout.sheet.diagonal, LEAST_OF_SLACK * float(layout.slack[i, j])
        )
        filler = side_filler(layout, i, j, least)
        if filler is not None:
            return _added(layout, filler)
    for shortest in SHORTEST:
        fillers = [
            farthest_filler(layout, a, b, shortest * layout.sheet.diagonal)
            for a, b in ((i, j), (j, i))
        ]
        fitting = [filler for filler in fillers if filler is not None]
        if fitting:
            return _added(layout, max(fitting, key=lambda filler: filler.length))
    x, y = (layout.points[i] + layout.points[j]) / 2
    raise PatternError(
        f"no filler fits between {layout.tree.flaps[i]} and {layout.tree.flaps[j]} "
        f"at ({x:.4g}, {y:.4g})"
    )
