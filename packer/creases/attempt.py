"""One try at settling a packing, by one recipe: borders, growth, fillers at joints, polish."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.creases.active import snapped
from packer.creases.assemble import pattern_of
from packer.creases.borders import LEAST_FILLER, at_borders, with_corner_fillers
from packer.creases.complete import closed
from packer.creases.feature import smallest_feature
from packer.creases.fillers import joint_filler
from packer.creases.freedom import freedom, shifted, symmetrised
from packer.creases.growth import Growth, grown
from packer.creases.hanging import with_filler
from packer.creases.partition import sides_of, triangulation
from packer.creases.plan import plan_of
from packer.errors import PatternError
from packer.units import ACTIVE_GAP

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.creases.feature import Feature
    from packer.creases.pattern import CreasePattern
    from packer.creases.plan import Plan
    from packer.creases.planar import Loop
    from packer.packing import Packing

POLISH: Final = (1e-2, 5e-3, 2e-3, 5e-4, 1e-5)
"""Slack, as a share of the diagonal, below which sides are made active: each gives a pattern."""

LOOSE_SIDE: Final = 0.02
"""Slack, as a share of the shorter side, above which a side asks for a filler of its own."""

ROUNDS: Final = 4
"""Rounds of fillers at joints, each settled again."""

WHOLE: Final = 0.6
"""What a pattern is worth with one river split, against one without."""


@dataclass(frozen=True)
class Recipe:
    """The choices of one try.

    Attributes
    ----------
    at
        Share of the packing's scale to build at.
    border
        Distance, as a share of the shorter side, from which a tip is brought onto a border.
    jiggle
        Share of the shorter side by which tips are moved at random first.
    growth
        How parts may grow.
    """

    at: float = 0.98
    border: float = 0.03
    jiggle: float = 0.0
    growth: Growth = field(default_factory=Growth)


@dataclass(frozen=True, eq=False)
class Attempt:
    """A settled plan, the polygons it is cut into, its pattern and that pattern's finest spot."""

    exact: Plan
    plan: Plan
    polygons: tuple[Loop, ...]
    pattern: CreasePattern
    feature: Feature

    @property
    def worth(self) -> float:
        """The size of the smallest feature, less for every river that is split."""
        return self.feature.size * float(WHOLE ** len(self.pattern.split_rivers))


def recipe(rng: np.random.Generator, least: float) -> Recipe:
    """Draw a recipe; `least` is the smallest share of the packing's scale allowed."""
    most = 0.998
    return Recipe(
        least + max(0.0, most - least) * float(rng.uniform()) ** 2,
        float(rng.choice([0.02, 0.03, 0.05, 0.08, 0.12])),
        float(rng.choice([0.0, 0.005, 0.01, 0.02])),
        Growth(
            flaps=float(rng.choice([0.5, 1.0, 2.0])),
            rivers=float(rng.choice([0.1, 0.2])),
            cost=float(rng.choice([0.02, 0.03, 0.05])),
            sharpness=float(rng.choice([0.003, 0.007, 0.015])),
        ),
    )


def attempt(packing: Packing, choice: Recipe, rng: np.random.Generator) -> Plan:
    """Return the plan that one recipe makes of a packing, before it is polished."""
    start = _jiggled(plan_of(packing, choice.at), choice.jiggle, rng)
    plan = with_corner_fillers(at_borders(start, choice.border))
    plan = grown(plan, _asked(start, plan), choice.growth)
    for _ in range(ROUNDS):
        fuller = _with_joint_fillers(plan)
        if fuller is plan:
            break
        plan = grown(fuller, _asked(start, fuller), choice.growth)
    return plan


def polished(plan: Plan, shortest: dict[str, float]) -> list[Attempt]:
    """Return the patterns of a plan, one for each tolerance of `POLISH` that makes a new one.

    Parameters
    ----------
    plan
        A plan with many sides nearly active.
    shortest
        Least length of each part of the figure, in sheet units; shorter ones are refused.
    """
    found: list[Attempt] = []
    seen: set[int] = set()
    for below in POLISH:
        count = int((plan.slack < below * plan.sheet.diagonal).sum())
        if count not in seen:
            seen.add(count)
            made = finished(snapped(plan, below), shortest)
            found += [made] if made is not None else []
    return found


def finished(exact: Plan, shortest: dict[str, float]) -> Attempt | None:
    """Close a plan and build its pattern; None where it does not hold or does not close."""
    if not np.isfinite(exact.points).all() or (exact.lengths <= exact.room).any():
        return None
    size = (exact.sheet.width, exact.sheet.height)
    off = np.maximum(-exact.points, exact.points - size)
    if off.max() > exact.room:
        return None
    if _too_short(exact, shortest):
        return None
    worst = float(exact.slack[np.triu_indices(len(exact.points), 1)].min())
    if worst < -ACTIVE_GAP * exact.sheet.diagonal:
        return None
    try:
        plan, polygons = closed(exact)
        pattern = pattern_of(plan, polygons)
    except PatternError:
        return None
    if _too_short(plan, shortest):
        return None
    return Attempt(exact, plan, polygons, pattern, smallest_feature(pattern))


def _too_short(plan: Plan, shortest: dict[str, float]) -> bool:
    """Whether any part of the figure, its pieces added up, is shorter than it may be."""
    built: dict[str, float] = {}
    for name, length in zip(plan.tree.names, plan.lengths.tolist(), strict=True):
        part = plan.part_of.get(name, name)
        built[part] = built.get(part, 0.0) + length
    return any(built[part] < length for part, length in shortest.items())


def _jiggled(plan: Plan, by: float, rng: np.random.Generator) -> Plan:
    """Return the plan with its tips moved at random, as far as the inequalities allow."""
    if not by:
        return plan
    free = freedom(plan)
    step = rng.normal(size=len(free.lead)) * by * min(plan.sheet.width, plan.sheet.height)
    step[free.lead >= 2 * plan.tree.n_tips] = 0.0
    for _ in range(8):
        moved = symmetrised(shifted(plan, free.expand(step)))
        moved = replace(moved, points=np.clip(moved.points, plan.low, plan.high))
        if moved.slack.min() >= 0:
            return moved
        step = step / 2
    return plan


def _asked(start: Plan, plan: Plan) -> NDArray[np.float64]:
    """(edges,) lengths below which parts may not fall: as asked, and a least one for fillers."""
    known = dict(zip(start.tree.names, start.lengths.tolist(), strict=True))
    least = LEAST_FILLER * min(plan.sheet.width, plan.sheet.height)
    parts = list(plan.part_of.values())
    cut = {part for part in parts if parts.count(part) > 1}
    found = []
    for name, length in zip(plan.tree.names, plan.lengths.tolist(), strict=True):
        if name not in plan.part_of:
            found.append(min(length, least))
        else:
            found.append(length if plan.part_of[name] in cut else known[name])
    return np.array(found)


def _with_joint_fillers(plan: Plan) -> Plan:
    """Return the plan with a filler at a joint for every loose side that takes one."""
    side = min(plan.sheet.width, plan.sheet.height)
    shares = np.linspace(0, 1, 43)[1:-1, None]
    for i, j in triangulation(plan, ACTIVE_GAP * plan.sheet.diagonal):
        if plan.slack[i, j] <= LOOSE_SIDE * side:
            continue
        points = plan.points[i] + shares * (plan.points[j] - plan.points[i])
        filler = joint_filler(plan, points, LEAST_FILLER * side)
        if filler is not None:
            plan = with_filler(plan, filler.point, filler.place, filler.length)
    return plan


def inner_pairs(found: Attempt) -> list[tuple[int, int]]:
    """Return the pairs of corners of one polygon, within its exact plan, that are no side."""
    count = found.exact.tree.n_tips
    sides = sides_of(found.polygons)
    return sorted(
        {
            (min(a, b), max(a, b))
            for loop in found.polygons
            for k, a in enumerate(loop)
            for b in loop[:k]
            if max(a, b) < count
        }
        - sides
    )
