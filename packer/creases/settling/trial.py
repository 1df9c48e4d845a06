"""One trial: random constants, borders, slack closed, fillers at joints; then its candidates."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

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
    from packer.creases.settling.settling_params import SettlingParams, TrialParams
    from packer.creases.smallest_feature import Feature
    from packer.creases.tip_layout import TipLayout
    from packer.model.packing import Packing


@dataclass(frozen=True)
class Trial:
    """What one trial draws at random.

    Attributes
    ----------
    scale
        Share of the packing's scale to build at.
    border
        Distance, as a share of the shorter side, within which a tip is moved onto a border.
    perturbation
        Standard deviation of the first random displacement, as a share of the shorter side.
    growth
        How far parts may grow and what that costs.
    """

    scale: float
    border: float
    perturbation: float
    growth: GrowthLimits


@dataclass(frozen=True, eq=False)
class Candidate:
    """A crease pattern that settling may return, with what it was made from.

    Attributes
    ----------
    layout
        Tips, lengths and fillers.
    polygons
        The convex polygons of active paths into which the sheet is cut.
    pattern
        The polygons filled with molecules.
    feature
        The smallest feature of the pattern.
    """

    layout: TipLayout
    polygons: tuple[Loop, ...]
    pattern: CreasePattern
    feature: Feature


def random_trial(rng: np.random.Generator, least: float, params: TrialParams) -> Trial:
    """Draw a trial that builds at no less than the share `least` of the packing's scale."""

    def one_of(values: tuple[float, ...]) -> float:
        return float(rng.choice(values))

    largest = max(0.0, params.largest_scale - least)
    return Trial(
        least + largest * float(rng.uniform()) ** 2,
        one_of(params.borders),
        one_of(params.perturbations),
        GrowthLimits(
            flaps=one_of(params.flap_growths),
            rivers=one_of(params.river_growths),
            cost=one_of(params.growth_costs),
            half_weight=one_of(params.half_weights),
        ),
    )


def run_trial(
    packing: Packing,
    trial: Trial,
    rng: np.random.Generator,
    params: SettlingParams,
    deadline: Deadline = NEVER,
) -> TipLayout:
    """Return the layout that one trial makes of a packing; most of its sides are nearly active.

    Parameters
    ----------
    packing
        Any packing that holds.
    trial
        The constants drawn.
    rng
        For the displacement.
    params
        The constants that are not drawn.
    deadline
        Asked before each linear program; `packer.deadline.OutOfTime` is raised where it is over.
    """
    start = _perturbed(layout_of(packing, trial.scale), trial.perturbation, rng, params.trial)
    layout = with_corner_fillers(at_borders(start, trial.border))
    layout = close_slack(layout, _asked(start, layout), trial.growth, params.slack, deadline)
    for _ in range(params.trial.filler_rounds):
        fuller = _with_joint_fillers(layout, params.trial)
        if fuller is layout:
            break
        layout = close_slack(
            fuller, _asked(start, fuller), trial.growth, params.slack, deadline
        )
    return layout


def candidates_of(
    layout: TipLayout,
    bounds: LengthBounds,
    params: TrialParams,
    deadline: Deadline = NEVER,
) -> Iterator[Candidate]:
    """Yield the candidates of a layout, one for each tolerance that activates other paths.

    Parameters
    ----------
    layout
        A layout most of whose sides are nearly active.
    bounds
        Layouts with shorter parts are refused.
    params
        Gives the tolerances.
    deadline
        Asked before each tolerance; `packer.deadline.OutOfTime` is raised where it is over.
    """
    seen: set[int] = set()
    for below in params.activation:
        deadline.check()
        count = int((layout.slack < below * layout.sheet.diagonal).sum())
        if count in seen:
            continue
        seen.add(count)
        exact = snapped(layout, below, bounds)
        if not _holds(exact, bounds):
            continue
        try:
            candidate = candidate_of(*closed(exact), bounds)
        except PatternError:
            continue
        if candidate is not None:
            yield candidate


def candidate_of(
    layout: TipLayout, polygons: tuple[Loop, ...], bounds: LengthBounds
) -> Candidate | None:
    """Return the candidate of a closed layout; None where it breaks a rule or does not fold."""
    if not _holds(layout, bounds) or any(has_reflex_corner(layout, p) for p in polygons):
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
    gap = -ACTIVE_GAP * layout.sheet.diagonal
    return worst >= gap and not bounds.violated(layout).any()


def _perturbed(
    layout: TipLayout, deviation: float, rng: np.random.Generator, params: TrialParams
) -> TipLayout:
    """Return the layout with its tips displaced at random, as far as the inequalities allow."""
    if not deviation:
        return layout
    free = free_variables(layout)
    side = min(layout.sheet.width, layout.sheet.height)
    step = rng.normal(size=len(free.lead)) * deviation * side
    step[free.lead >= 2 * layout.tree.n_tips] = 0.0
    for _ in range(params.halvings):
        moved = symmetrised(shifted(layout, free.expand(step)))
        moved = replace(moved, points=np.clip(moved.points, layout.low, layout.high))
        if moved.slack.min() >= 0:
            return moved
        step = step / 2
    return layout


def _asked(start: TipLayout, layout: TipLayout) -> NDArray[np.float64]:
    """(edges,) lengths below which parts may not fall: as asked, and a least one for fillers.

    The pieces of a part that a filler cuts keep the lengths that they have.
    """
    known = dict(zip(start.tree.names, start.lengths.tolist(), strict=True))
    least = LEAST_FILLER * min(layout.sheet.width, layout.sheet.height)
    parts = list(layout.part_of.values())
    cut = {part for part in parts if parts.count(part) > 1}
    asked = []
    for name, length in zip(layout.tree.names, layout.lengths.tolist(), strict=True):
        if name not in layout.part_of:
            asked.append(min(length, least))
        else:
            asked.append(length if layout.part_of[name] in cut else known[name])
    return np.array(asked)


def _with_joint_fillers(layout: TipLayout, params: TrialParams) -> TipLayout:
    """Return the layout with a filler at a joint for every loose side that takes one."""
    side = min(layout.sheet.width, layout.sheet.height)
    shares = np.linspace(0, 1, params.points_on_side + 2)[1:-1, None]
    for i, j in triangulation(layout, ACTIVE_GAP * layout.sheet.diagonal):
        if layout.slack[i, j] <= params.loose_side * side:
            continue
        points = layout.points[i] + shares * (layout.points[j] - layout.points[i])
        filler = joint_filler(layout, points, LEAST_FILLER * side)
        if filler is not None:
            layout = with_filler(layout, filler.point, filler.tree_point, filler.length)
    return layout
