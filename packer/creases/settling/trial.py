"""One try at settling a packing, by one random_trial: borders, growth, fillers at joints, polish."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.creases.completion.borders import LEAST_FILLER, at_borders, with_corner_fillers
from packer.creases.completion.complete import closed
from packer.creases.completion.convex_partition import has_reflex_corner, triangulation
from packer.creases.completion.filler_insertion import with_filler
from packer.creases.completion.filler_search import joint_filler
from packer.creases.constraints.active_paths import snapped
from packer.creases.constraints.variables import free_variables, shifted, symmetrised
from packer.creases.molecules.assembly import pattern_of
from packer.creases.settling.close_slack import GrowthLimits, close_slack
from packer.creases.smallest_feature import smallest_feature
from packer.creases.tip_layout import layout_of
from packer.deadline import NEVER, Deadline
from packer.errors import PatternError
from packer.units import ACTIVE_GAP

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from packer.creases.constraints.length_bounds import LengthBounds
    from packer.creases.pattern import CreasePattern
    from packer.creases.plane_graph import Loop
    from packer.creases.smallest_feature import Feature
    from packer.creases.tip_layout import TipLayout
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
class Trial:
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
    growth: GrowthLimits = field(default_factory=GrowthLimits)


@dataclass(frozen=True, eq=False)
class Candidate:
    """A closed layout, the polygons it is cut into, its pattern and that pattern's finest spot."""

    layout: TipLayout
    polygons: tuple[Loop, ...]
    pattern: CreasePattern
    feature: Feature


def random_trial(rng: np.random.Generator, least: float) -> Trial:
    """Draw a random_trial; `least` is the smallest share of the packing's scale allowed.

    Of ten tries each on six samples of 12 to 26 flaps, the best had borders of 0.02 to 0.12 and
    any cost and sharpness; growth of flaps by at most half won for four of the six.
    """
    return Trial(
        least + max(0.0, MOST - least) * float(rng.uniform()) ** 2,
        float(rng.choice([0.02, 0.03, 0.05, 0.08, 0.12])),
        float(rng.choice([0.0, 0.005, 0.01, 0.02])),
        GrowthLimits(
            flaps=float(rng.choice([0.25, 0.5, 1.0])),
            rivers=float(rng.choice([0.1, 0.2])),
            cost=float(rng.choice([0.02, 0.03, 0.05])),
            sharpness=float(rng.choice([0.003, 0.007, 0.015])),
        ),
    )


def run_trial(
    packing: Packing,
    choice: Trial,
    rng: np.random.Generator,
    deadline: Deadline = NEVER,
) -> TipLayout:
    """Return the layout that one random_trial makes of a packing, before it is candidates_of.

    `packer.deadline.OutOfTime` is raised where the deadline is over.
    """
    start = _jiggled(layout_of(packing, choice.at), choice.jiggle, rng)
    layout = with_corner_fillers(at_borders(start, choice.border))
    layout = close_slack(layout, _asked(start, layout), choice.growth, deadline)
    for _ in range(ROUNDS):
        fuller = _with_joint_fillers(layout)
        if fuller is layout:
            break
        layout = close_slack(fuller, _asked(start, fuller), choice.growth, deadline)
    return layout


def candidates_of(
    layout: TipLayout, bounds: LengthBounds, deadline: Deadline = NEVER
) -> Iterator[Candidate]:
    """Yield the patterns of a layout, one for each tolerance of `POLISH` that makes a new one.

    Parameters
    ----------
    layout
        A layout with many sides nearly active.
    bounds
        Layouts with shorter parts are refused.
    deadline
        Asked now and then; `packer.deadline.OutOfTime` is raised where it is over.
    """
    seen: set[int] = set()
    for below in POLISH:
        deadline.check()
        count = int((layout.slack < below * layout.sheet.diagonal).sum())
        if count in seen:
            continue
        seen.add(count)
        exact = snapped(layout, below, bounds)
        if not _holds(exact, bounds):
            continue
        try:
            made = built_from(*closed(exact), bounds)
        except PatternError:
            continue
        if made is not None:
            yield made


def built_from(
    layout: TipLayout, polygons: tuple[Loop, ...], bounds: LengthBounds
) -> Candidate | None:
    """Return the pattern of a closed layout; None where it does not hold or does not fold."""
    if not _holds(layout, bounds) or any(has_reflex_corner(layout, loop) for loop in polygons):
        return None
    try:
        pattern = pattern_of(layout, polygons)
    except PatternError:
        return None
    return Candidate(layout, polygons, pattern, smallest_feature(pattern))


def _holds(layout: TipLayout, bounds: LengthBounds) -> bool:
    """Whether tips lie on the sheet, no length is lost and no path is too short."""
    if not np.isfinite(layout.points).all() or (layout.lengths <= layout.tolerance).any():
        return False
    size = (layout.sheet.width, layout.sheet.height)
    if np.maximum(-layout.points, layout.points - size).max() > layout.tolerance:
        return False
    worst = float(layout.slack[np.triu_indices(len(layout.points), 1)].min())
    return worst >= -ACTIVE_GAP * layout.sheet.diagonal and not bounds.violated(layout).any()


def _jiggled(layout: TipLayout, by: float, rng: np.random.Generator) -> TipLayout:
    """Return the layout with its tips moved at random, as far as the inequalities allow."""
    if not by:
        return layout
    free = free_variables(layout)
    step = rng.normal(size=len(free.lead)) * by * min(layout.sheet.width, layout.sheet.height)
    step[free.lead >= 2 * layout.tree.n_tips] = 0.0
    for _ in range(8):
        moved = symmetrised(shifted(layout, free.expand(step)))
        moved = replace(moved, points=np.clip(moved.points, layout.low, layout.high))
        if moved.slack.min() >= 0:
            return moved
        step = step / 2
    return layout


def _asked(start: TipLayout, layout: TipLayout) -> NDArray[np.float64]:
    """(edges,) lengths below which parts may not fall: as asked, and a least one for fillers."""
    known = dict(zip(start.tree.names, start.lengths.tolist(), strict=True))
    least = LEAST_FILLER * min(layout.sheet.width, layout.sheet.height)
    parts = list(layout.part_of.values())
    cut = {part for part in parts if parts.count(part) > 1}
    found = []
    for name, length in zip(layout.tree.names, layout.lengths.tolist(), strict=True):
        if name not in layout.part_of:
            found.append(min(length, least))
        else:
            found.append(length if layout.part_of[name] in cut else known[name])
    return np.array(found)


def _with_joint_fillers(layout: TipLayout) -> TipLayout:
    """Return the layout with a filler at a joint for every loose side that takes one."""
    side = min(layout.sheet.width, layout.sheet.height)
    shares = np.linspace(0, 1, 43)[1:-1, None]
    for i, j in triangulation(layout, ACTIVE_GAP * layout.sheet.diagonal):
        if layout.slack[i, j] <= LOOSE_SIDE * side:
            continue
        points = layout.points[i] + shares * (layout.points[j] - layout.points[i])
        filler = joint_filler(layout, points, LEAST_FILLER * side)
        if filler is not None:
            layout = with_filler(layout, filler.point, filler.tree_point, filler.length)
    return layout
