"""Make paths exactly active: project nearly active ones, lengthen flaps that are loose."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.creases.constraints.equations import equations, with_violated
from packer.creases.constraints.linear_program import minimise
from packer.creases.constraints.variables import (
    free_variables,
    shifted,
    slack_jacobian,
    symmetrised,
)
from packer.units import EXACT, RANK, ZERO_SLACK

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.creases.constraints.equations import Equations, Pairs
    from packer.creases.constraints.length_bounds import LengthBounds
    from packer.creases.constraints.variables import FreeVariables
    from packer.creases.tip_layout import TipLayout


LONGEST_STEP: Final = 0.1
"""Length of a step, as a share of the diagonal, at which the iteration is given up."""

STEPS: Final = 12
"""Greatest number of steps of one projection; those that converge need few."""

ROUNDS: Final = 4
"""Greatest number of projections, each with the paths that the one before made too short."""


def pairs_below(layout: TipLayout, slack: float) -> Pairs:
    """Return the pairs i < j of tips whose slack is below a length, in sheet units."""
    i, j = np.triu_indices(layout.tree.n_tips, 1)
    near = layout.slack[i, j] < slack
    return i[near], j[near]


def pairs_in_reach(layout: TipLayout, reach: float) -> Pairs:
    """Return the pairs that could lose their slack where no number changes by more than `reach`.

    Neither its two tips nor the edges of its path can use up more.
    """
    i, j = np.triu_indices(layout.tree.n_tips, 1)
    beyond = layout.tree.beyond
    edges = (beyond[:, i] != beyond[:, j]).sum(axis=0)
    near = layout.slack[i, j] < reach * (3 + edges)
    return i[near], j[near]


def snapped(
    layout: TipLayout, below: float = 0.0, bounds: LengthBounds | None = None
) -> TipLayout:
    """Return the layout moved as little as possible so that near paths are exactly active.

    Parameters
    ----------
    layout
        Any layout.
    below
        Slack, as a share of the diagonal, below which a path is made active.
    bounds
        Least lengths of parts to keep, where there are any.
    """
    return projected(
        layout, equations(layout, pairs_below(layout, below * layout.sheet.diagonal)), bounds
    )


def projected(
    layout: TipLayout, system: Equations, bounds: LengthBounds | None = None
) -> TipLayout:
    """Return the layout moved as little as possible so that it satisfies equations.

    Paths and parts that become too short on the way join the equations.
    """
    layout = symmetrised(layout)
    for _ in range(ROUNDS):
        layout = _gauss_newton(layout, system)
        more = with_violated(system, layout, ZERO_SLACK * layout.sheet.diagonal, bounds)
        if more is system:
            break
        system = more
    return layout


def _gauss_newton(layout: TipLayout, system: Equations) -> TipLayout:
    """Take Gauss-Newton steps, each the shortest over tips and lengths, down to rounding."""
    free = free_variables(layout)
    done = np.inf
    for _ in range(STEPS):
        if not layout.gaps[system.pairs].min(initial=np.inf) > 0:
            break  # two tips were driven onto one point
        residual = system.residual(layout)
        worst = float(np.abs(residual).max(initial=0.0)) / layout.sheet.diagonal
        if worst < EXACT or (worst < ZERO_SLACK and worst >= done):
            break
        done = worst
        jacobian = free.reduce(system.jacobian(layout)) / free.norms
        step = np.linalg.lstsq(jacobian, -residual, rcond=RANK)[0]
        if np.abs(step).max() > LONGEST_STEP * layout.sheet.diagonal:
            break  # these cannot all be satisfied near here
        layout = shifted(layout, free.expand(step / free.norms))
    return layout


def onto_borders(layout: TipLayout, within: float) -> TipLayout:
    """Return the layout with tips that nearly lie on a border of the sheet put onto it.

    Parameters
    ----------
    layout
        Any layout.
    within
        Distance from a border, as a share of the diagonal.
    """
    size = np.array([layout.sheet.width, layout.sheet.height])
    near = within * layout.sheet.diagonal
    points = np.where((layout.points < near) & (layout.low <= 0), 0.0, layout.points)
    points = np.where((points > size - near) & (layout.high >= size), size, points)
    return replace(layout, points=points)


def lengthened(
    layout: TipLayout, rng: np.random.Generator, rounds: int = 6, reach: float = 0.05
) -> TipLayout:
    """Return the layout with flaps lengthened and tips moved until no flap is loose.

    Each round is a linear program over tips and flap lengths. A distance between points is
    convex, so its tangent plane lies below it, and every step that the program allows keeps the inequalities exactly.

    Parameters
    ----------
    layout
        A layout whose slacks are not negative.
    rng
        Gives each flap its weight, so that a layout can be lengthened in more than one way.
    rounds
        Linear programs to solve.
    reach
        Share of the diagonal by which a coordinate may change in the first of them.
    """
    weights = rng.uniform(0.5, 1.0, layout.tree.n_tips)
    if layout.symmetry != "none":
        weights = weights + weights[layout.mirror]
    for k in range(rounds):
        better = _one_program(layout, weights, reach * layout.sheet.diagonal / 2**k)
        if better is None:
            break
        layout = better
    return _to_first_contact(layout)


def _one_program(
    layout: TipLayout, weights: NDArray[np.float64], reach: float
) -> TipLayout | None:
    n = layout.tree.n_tips
    free = free_variables(layout)
    i, j = pairs_below(layout, 6 * reach)
    rows = free.reduce(slack_jacobian(layout, i, j))
    lowest, highest = step_box(layout, free, reach)
    highest[free.lead >= 3 * n] = 0.0
    lowest[free.lead >= 2 * n] = 0.0
    gain = np.zeros(free.size)
    gain[2 * n : 3 * n] = weights
    best = minimise(
        -free.reduce(gain),
        A_ub=-rows,
        b_ub=np.maximum(layout.slack[i, j], 0.0),
        bounds=np.stack([lowest, highest], axis=1),
    )
    return None if best is None else symmetrised(shifted(layout, free.expand(best)))


def step_box(
    layout: TipLayout, free: FreeVariables, reach: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the least and greatest value of each free number: a box, cut by the sheet."""
    n = layout.tree.n_tips
    lead = free.lead
    down = (layout.low - layout.points).reshape(-1)
    up = (layout.high - layout.points).reshape(-1)
    low, high = np.full(len(lead), -reach), np.full(len(lead), reach)
    tips = lead < 2 * n
    low[tips] = np.minimum(np.maximum(low[tips], down[lead[tips]]), 0.0)
    high[tips] = np.maximum(np.minimum(high[tips], up[lead[tips]]), 0.0)
    return low, high


def _to_first_contact(layout: TipLayout) -> TipLayout:
    n = layout.tree.n_tips
    for tip, image in enumerate(layout.mirror.tolist()):
        if image < tip:
            continue
        slack = layout.slack[tip].copy()
        slack[tip] = np.inf
        if image != tip:
            slack[image] /= 2
        change = np.zeros(2 * n + len(layout.lengths))
        change[[2 * n + tip, 2 * n + image]] = max(0.0, float(slack.min()))
        layout = shifted(layout, change)
    return layout
