"""One try at settling a packing, by one recipe: borders, growth, fillers at joints, polish."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.creases.completion.borders import LEAST_FILLER, at_borders, with_corner_fillers
from packer.creases.completion.complete import closed
from packer.creases.completion.convex_partition import bent, triangulation
from packer.creases.completion.filler_insertion import with_filler
from packer.creases.completion.filler_search import joint_filler
from packer.creases.constraints.active_paths import snapped
from packer.creases.constraints.variables import freedom, shifted, symmetrised
from packer.creases.molecules.assembly import pattern_of
from packer.creases.settling.close_slack import Growth, grown
from packer.creases.smallest_feature import smallest_feature
from packer.creases.tip_layout import plan_of
from packer.errors import PatternError
from packer.units import ACTIVE_GAP

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

    from packer.creases.constraints.length_bounds import Limits
    from packer.creases.pattern import CreasePattern
    from packer.creases.plane_graph import Loop
    from packer.creases.smallest_feature import Feature
    from packer.creases.tip_layout import Plan
    from packer.model.packing import Packing

POLISH: Final = (1e-2, 5e-3, 2e-3, 5e-4, 1e-5)
"""Slack, as a share of the diagonal, below which sides are made active: each gives a pattern.

The twelve best patterns of ten tries on 21 mirrored flaps came from 1, 1, 5, 3 and 2 of these.
"""

LOOSE_SIDE: Final = 0.02
"""Slack, as a share of the shorter side, above which a side asks for a filler of its own."""

ROUNDS: Final = 4
"""Rounds of fillers at joints, each settled again."""

MOST: Final = 0.998
"""Greatest share of a packing's scale to build at."""


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
    """A closed plan, the polygons it is cut into, its pattern and that pattern's finest spot."""

    plan: Plan
    polygons: tuple[Loop, ...]
    pattern: CreasePattern
    feature: Feature


def recipe(rng: np.random.Generator, least: float) -> Recipe:
    """Draw a recipe; `least` is the smallest share of the packing's scale allowed.

    Of ten tries each on six samples of 12 to 26 flaps, the best had borders of 0.02 to 0.12 and
    any cost and sharpness; growth of flaps by at most half won for four of the six.
    """
    return Recipe(
        least + max(0.0, MOST - least) * float(rng.uniform()) ** 2,
        float(rng.choice([0.02, 0.03, 0.05, 0.08, 0.12])),
        float(rng.choice([0.0, 0.005, 0.01, 0.02])),
        Growth(
            flaps=float(rng.choice([0.25, 0.5, 1.0])),
            rivers=float(rng.choice([0.1, 0.2])),
            cost=float(rng.choice([0.02, 0.03, 0.05])),
            sharpness=float(rng.choice([0.003, 0.007, 0.015])),
        ),
    )


def attempt(
    packing: Packing,
    choice: Recipe,
    rng: np.random.Generator,
    check: Callable[[], None] = lambda: None,
) -> Plan:
    """Return the plan that one recipe makes of a packing, before it is polished.

    `check` is called now and then, to raise where time is out.
    """
    start = _jiggled(plan_of(packing, choice.at), choice.jiggle, rng)
    plan = with_corner_fillers(at_borders(start, choice.border))
    plan = grown(plan, _asked(start, plan), choice.growth, check)
    for _ in range(ROUNDS):
        fuller = _with_joint_fillers(plan)
        if fuller is plan:
            break
        plan = grown(fuller, _asked(start, fuller), choice.growth, check)
    return plan


def polished(
    plan: Plan, limits: Limits, check: Callable[[], None] = lambda: None
) -> Iterator[Attempt]:
    """Yield the patterns of a plan, one for each tolerance of `POLISH` that makes a new one.

    Parameters
    ----------
    plan
        A plan with many sides nearly active.
    limits
        Plans with shorter parts are refused.
    check
        Called before each tolerance, to raise where time is out.
    """
    seen: set[int] = set()
    for below in POLISH:
        check()
        count = int((plan.slack < below * plan.sheet.diagonal).sum())
        if count in seen:
            continue
        seen.add(count)
        exact = snapped(plan, below, limits)
        if not _holds(exact, limits):
            continue
        try:
            made = built_from(*closed(exact), limits)
        except PatternError:
            continue
        if made is not None:
            yield made


def built_from(plan: Plan, polygons: tuple[Loop, ...], limits: Limits) -> Attempt | None:
    """Return the pattern of a closed plan; None where it does not hold or does not fold."""
    if not _holds(plan, limits) or any(bent(plan, loop) for loop in polygons):
        return None
    try:
        pattern = pattern_of(plan, polygons)
    except PatternError:
        return None
    return Attempt(plan, polygons, pattern, smallest_feature(pattern))


def _holds(plan: Plan, limits: Limits) -> bool:
    """Whether tips lie on the sheet, no length is lost and no path is too short."""
    if not np.isfinite(plan.points).all() or (plan.lengths <= plan.room).any():
        return False
    size = (plan.sheet.width, plan.sheet.height)
    if np.maximum(-plan.points, plan.points - size).max() > plan.room:
        return False
    worst = float(plan.slack[np.triu_indices(len(plan.points), 1)].min())
    return worst >= -ACTIVE_GAP * plan.sheet.diagonal and not limits.missed(plan).any()


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
