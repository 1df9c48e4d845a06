"""Close a packing: fillers until the sheet is cut into convex polygons of active paths.

That a completion exists follows from the injectivity of metric trees (see `fillers`), so that a
failure is a matter of numbers and of the places chosen, never a verdict on the figure.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.creases.completion.convex_partition import bent, convex_partition, sides_of
from packer.creases.completion.filler_insertion import with_filler
from packer.creases.completion.filler_search import corner_filler, march, side_filler
from packer.creases.constraints.active_paths import lengthened, onto_borders, snapped
from packer.creases.molecules.assembly import pattern_of
from packer.creases.tip_layout import plan_of
from packer.errors import PatternError
from packer.units import ACTIVE_GAP, ALIKE

if TYPE_CHECKING:
    from collections.abc import Iterator

    from packer.creases.completion.filler_search import Filler
    from packer.creases.pattern import CreasePattern
    from packer.creases.plane_graph import Loop
    from packer.creases.tip_layout import Plan
    from packer.model.packing import Packing

SNAPS: Final = (3e-6, 1e-5, 1e-4, 1e-3)
"""Slack, as a share of the diagonal, below which paths are made active: one try after another."""

SHARES: Final = (0.9, 0.6, 0.35)
"""Length of corner fillers as a share of the distance to the nearest tip, likewise."""

SHRUNK: Final = (0.999, 0.998, 0.997, 0.996, 0.995, 0.99, 0.98)
"""Shares of the scale to fall back to where the packing itself is too regular to be safe."""

FINE_EDGE: Final = 1e-6
"""Shortest edge, as a share of the diagonal, above which no other try is made.

Below it angles are no longer sure to 1e-6 rad.
"""

SHORTEST: Final = (0.01, 1e-3, 1e-5)
"""Least length of fillers on sides as a share of the diagonal: longer ones first."""


def crease_pattern(packing: Packing) -> CreasePattern:
    """Return the crease pattern of a packing as it stands, closed with fillers.

    Tips and lengths stay as near to the packing as they can, so the creases may be too fine to
    fold; `packer.creases.settling.settle.settle` first makes it fit for a folder.

    Raises
    ------
    PatternError
        Where the packing does not hold or no way of closing it was found.
    """
    wrong = packing.violations()
    if wrong:
        raise PatternError(f"{wrong[0]}; pack the figure again")
    return replace(completed(plan_of(packing)), title=packing.figure.name)


def completed(plan: Plan) -> CreasePattern:
    """Return the crease pattern of a plan, closed with as many fillers as it takes.

    Parameters
    ----------
    plan
        Tips and a tree whose inequalities hold.

    Raises
    ------
    PatternError
        Where no try closed; names the spot where the last one failed.
    """
    best: CreasePattern | None = None
    last = PatternError("the packing does not close")
    for tried, (snap, share, shrunk) in enumerate(_tries()):
        rng = np.random.default_rng(tried)
        try:
            pattern = pattern_of(*closed(_prepared(plan, snap, shrunk, rng), share))
        except PatternError as error:
            last = error
            continue
        if best is None or shortest_edge(pattern) > shortest_edge(best):
            best = pattern
        if shortest_edge(best) >= FINE_EDGE * plan.sheet.diagonal:
            break
    if best is None:
        raise last
    return best


def shortest_edge(pattern: CreasePattern) -> float:
    """Return the length of the shortest edge of a pattern, in sheet units."""
    ways = pattern.points[pattern.edges[:, 1]] - pattern.points[pattern.edges[:, 0]]
    return float(np.hypot(ways[:, 0], ways[:, 1]).min())


def _tries() -> Iterator[tuple[float, float, float]]:
    for share in SHARES:
        for snap in SNAPS:
            yield snap, share, 1.0
    for shrunk in SHRUNK:
        yield SNAPS[0], SHARES[0], shrunk


def _prepared(plan: Plan, snap: float, shrunk: float, rng: np.random.Generator) -> Plan:
    """Lengthen loose flaps, then make what nearly is active exactly so."""
    if shrunk < 1:
        plan = replace(plan, lengths=plan.lengths * shrunk)
    plan = snapped(lengthened(snapped(onto_borders(plan, snap), snap), rng), snap)
    worst = float(plan.slack[np.triu_indices(plan.tree.n_tips, 1)].min())
    if worst < -ACTIVE_GAP * plan.sheet.diagonal:
        raise PatternError(f"the tips miss their distances by {-worst:.3g}; pack again")
    return plan


def closed(plan: Plan, share: float = SHARES[0]) -> tuple[Plan, tuple[Loop, ...]]:
    """Return the plan with fillers and the convex polygons whose sides are all active.

    Parameters
    ----------
    plan
        A plan whose near paths are exactly active.
    share
        Most of the distance to the nearest tip that a corner filler may be long.

    Raises
    ------
    PatternError
        Where a side finds no filler, or fillers do not end.
    """
    active = ACTIVE_GAP * plan.sheet.diagonal
    plan = _with_corners(plan, share)
    most = len(plan.points) * 3 + 60
    polygons = convex_partition(plan, active)
    while True:
        sides = [e for e in sides_of(polygons) if plan.slack[e] > active]
        if not sides:
            break
        if len(plan.points) >= most:
            raise PatternError(f"{most} flaps and fillers did not close the pattern")
        side = max(sides, key=lambda e: (round(float(plan.slack[e]), ALIKE), e))
        plan = _touching(_filled(plan, *side))
        polygons = convex_partition(plan, active)
    for loop in polygons:
        if bent(plan, loop):
            x, y = plan.points[loop[0]]
            raise PatternError(f"the polygon at ({x:.4g}, {y:.4g}) is not convex")
    return plan, polygons


def _with_corners(plan: Plan, share: float) -> Plan:
    for corner in plan.sheet.corners.values():
        point = np.array(corner)
        if np.hypot(*(plan.points - point).T).min() <= plan.room:
            continue
        filler = corner_filler(plan, point, share)
        if filler.length < SHORTEST[-1] * plan.sheet.diagonal:
            raise PatternError(
                f"no filler fits in the corner at ({corner[0]:g}, {corner[1]:g})"
            )
        plan = _added(plan, filler)
    return plan


def _touching(plan: Plan) -> Plan:
    """Return the plan with paths made active that a filler which only just fits left nearly so.

    Such a side would ask for another filler as short as its slack, and creases as fine.
    """
    i, j = np.triu_indices(plan.tree.n_tips, 1)
    active, near = ACTIVE_GAP * plan.sheet.diagonal, SNAPS[0] * plan.sheet.diagonal
    slack = plan.slack[i, j]
    if not ((slack > active) & (slack < near)).any():
        return plan
    moved = snapped(plan, SNAPS[0])
    return moved if moved.slack[i, j].min() >= -active else plan


def _added(plan: Plan, filler: Filler) -> Plan:
    return with_filler(plan, filler.point, filler.place, filler.length)


def _filled(plan: Plan, i: int, j: int) -> Plan:
    """Put a filler on a side that is not active: one that touches both ends, else a march."""
    for shortest in SHORTEST:
        least = min(shortest * plan.sheet.diagonal, 0.45 * float(plan.slack[i, j]))
        filler = side_filler(plan, i, j, least)
        if filler is not None:
            return _added(plan, filler)
    for shortest in SHORTEST:
        steps = [march(plan, a, b, shortest * plan.sheet.diagonal) for a, b in ((i, j), (j, i))]
        found = [step for step in steps if step is not None]
        if found:
            return _added(plan, max(found, key=lambda f: f.length))
    x, y = (plan.points[i] + plan.points[j]) / 2
    raise PatternError(
        f"no filler fits between {plan.tree.flaps[i]} and {plan.tree.flaps[j]} "
        f"at ({x:.4g}, {y:.4g})"
    )
