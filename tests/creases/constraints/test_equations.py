"""Conditions of a layout: derivatives against differences, projection against scipy's optimiser."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import minimize

from packer.creases.constraints.active_paths import (
    lengthened,
    onto_borders,
    pairs_below,
    pairs_in_reach,
    projected,
    snapped,
)
from packer.creases.constraints.equations import equations, with_violated
from packer.creases.constraints.length_bounds import LengthBounds
from packer.creases.constraints.variables import (
    fixed_coordinates,
    free_variables,
    shifted,
    symmetrised,
)
from packer.creases.tip_layout import layout_of
from packer.model.problem import pose
from tests.strategies import random_figure, scattered

SEEDS = range(6)
TO_ROUNDING = 1e-12


def layout_for(seed, at=1.0):
    """A random layout; each seed in turn without symmetry, under book and diagonal symmetry."""
    rng = np.random.default_rng(seed)
    symmetry = ["none", "book", "diagonal"][seed % 3]
    figure = random_figure(rng, 4 + seed % 4, symmetry=symmetry, pairs=True)
    return layout_of(scattered(pose(figure), seed), at), rng


def system_for(layout, rng):
    """Some paths active, a corner straight, a part at a given length."""
    n = layout.tree.n_tips
    i, j = np.triu_indices(n, 1)
    chosen = rng.choice(len(i), size=2, replace=False)
    bounds = LengthBounds(
        dict(zip(layout.tree.names, (layout.lengths * 1.01).tolist(), strict=True)),
        dict(zip(layout.tree.names, (layout.lengths * 2).tolist(), strict=True)),
    )
    system = equations(layout, (i[chosen], j[chosen]), np.array([[0, 1, 2]]))
    return with_violated(system, layout, np.inf, bounds)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_jacobian_is_the_limit_of_differences(seed):
    """Central differences, exact to second order in the step; bends only where straight."""
    layout, rng = layout_for(seed)
    system = system_for(layout, rng)
    straight = replace(system, corners=np.empty((0, 3), dtype=np.intp))
    change = rng.normal(size=2 * layout.tree.n_tips + len(layout.lengths))
    step = 1e-6
    after, before = (straight.residual(shifted(layout, s * change)) for s in (step, -step))
    assert straight.jacobian(layout) @ change == pytest.approx(
        (after - before) / (2 * step), rel=1e-5, abs=1e-7
    )


def test_the_jacobian_of_a_straight_corner_is_the_limit_of_differences():
    """Three tips on a line: here the derivative of the bend is exact."""
    layout, rng = layout_for(0)
    points = layout.points.copy()
    points[:3] = [[0.1, 0.2], [0.3, 0.3], [0.7, 0.5]]
    layout = replace(layout, points=points)
    nothing = np.empty(0, dtype=np.intp)
    system = equations(layout, (nothing, nothing), np.array([[0, 1, 2]]))
    assert system.residual(layout) == pytest.approx([0.0], abs=TO_ROUNDING)
    change = rng.normal(size=2 * layout.tree.n_tips + len(layout.lengths))
    step = 1e-6
    after, before = (system.residual(shifted(layout, s * change)) for s in (step, -step))
    assert system.jacobian(layout) @ change == pytest.approx(
        (after - before) / (2 * step), 1e-5
    )


@pytest.mark.parametrize("seed", SEEDS)
def test_free_variables_keep_symmetry_and_borders(seed):
    """A change by free variables maps mirror images to mirror images and borders to borders."""
    layout, rng = layout_for(seed)
    free = free_variables(layout)
    change = free.expand(rng.normal(size=len(free.lead)) * 1e-3)
    moved = shifted(layout, change)
    assert moved.reflect(moved.points[moved.mirror]) == pytest.approx(moved.points)
    if layout.symmetry != "none":
        assert moved.lengths[layout.tree.twin] == pytest.approx(moved.lengths)
    fixed = fixed_coordinates(layout)
    assert moved.points[fixed] == pytest.approx(layout.points[fixed])
    rows = rng.normal(size=(3, free.size))
    values = rng.normal(size=len(free.lead))
    assert free.reduce(rows) @ values == pytest.approx(rows @ free.expand(values))
    assert free.norms == pytest.approx(
        [np.linalg.norm(free.expand(one)) for one in np.eye(len(free.lead))]
    )


@pytest.mark.parametrize("seed", SEEDS)
def test_projection_satisfies_the_equations_and_moves_little(seed):
    """No farther than a twentieth beyond the nearest solution that scipy's SLSQP finds."""
    layout, _ = layout_for(seed, 0.999)
    layout = symmetrised(layout)
    k = np.flatnonzero(layout.slack[np.triu_indices(layout.tree.n_tips, 1)] < 0.05)[:2]
    i, j = (side[k] for side in np.triu_indices(layout.tree.n_tips, 1))
    system = equations(layout, (i, j))
    exact = projected(layout, system)
    assert np.abs(system.residual(exact)).max() < TO_ROUNDING
    assert exact.slack.min() > -TO_ROUNDING
    free = free_variables(layout)

    def residual(values):
        return system.residual(shifted(layout, free.expand(values / free.norms)))

    nearest = minimize(
        lambda x: float(x @ x),
        np.zeros(len(free.lead)),
        method="SLSQP",
        constraints={"type": "eq", "fun": residual},
        options={"ftol": 1e-14},
    )
    moved = np.concatenate(
        [(exact.points - layout.points).ravel(), exact.lengths - layout.lengths]
    )
    assert nearest.success
    assert np.linalg.norm(moved) <= 1.05 * np.linalg.norm(nearest.x) + 1e-9


def test_what_becomes_too_short_joins_the_equations():
    layout, _ = layout_for(0)
    names = layout.tree.names
    longer = dict(zip(names, (1.0005 * layout.lengths).tolist(), strict=True))
    bounds = LengthBounds(longer, dict(zip(names, (2 * layout.lengths).tolist(), strict=True)))
    assert bounds.violated(layout).all()
    assert bounds.most == pytest.approx(2 * layout.lengths)
    nothing = np.empty(0, dtype=np.intp)
    exact = projected(layout, equations(layout, (nothing, nothing)), bounds)
    assert not bounds.violated(exact).any()
    assert exact.slack.min() > -TO_ROUNDING


def test_nothing_to_hold_leaves_the_system_as_it_is():
    layout, _ = layout_for(0, 0.9)
    nothing = np.empty(0, dtype=np.intp)
    system = equations(layout, (nothing, nothing))
    assert with_violated(system, layout, 0.0, None) is system


def test_equations_that_contradict_each_other_are_given_up():
    """One tip cannot be a length of 5 away from another on a sheet of side 1."""
    layout, _ = layout_for(0)
    far = replace(layout, lengths=layout.lengths * 50)
    system = equations(far, (np.array([0]), np.array([1])))
    assert projected(far, system).points == pytest.approx(far.points)


@pytest.mark.parametrize("seed", SEEDS)
def test_snapping_makes_what_is_near_active(seed):
    layout, _ = layout_for(seed, 0.9999)
    near = pairs_below(layout, 1e-3 * layout.sheet.diagonal)
    assert len(near[0]) > 0
    exact = snapped(layout, 1e-3)
    assert np.abs(exact.slack[near]).max() < TO_ROUNDING


@pytest.mark.parametrize("seed", SEEDS)
def test_pairs_in_reach_are_those_that_could_meet(seed):
    """Random changes within the reach close no other slack."""
    layout, rng = layout_for(seed)
    reach = 0.01
    i, j = pairs_in_reach(layout, reach)
    inside = set(zip(i.tolist(), j.tolist(), strict=True))
    size = 2 * layout.tree.n_tips + len(layout.lengths)
    for _ in range(20):
        moved = shifted(layout, reach * rng.choice([-1.0, 1.0], size=size))
        closed = np.argwhere(np.triu(moved.slack < 0, 1)).tolist()
        assert {tuple(pair) for pair in closed} <= inside


@pytest.mark.parametrize("seed", SEEDS)
def test_after_lengthening_no_flap_is_loose(seed):
    """No length could grow alone: each flap, or each pair of twins, has an active path."""
    layout, rng = layout_for(seed, 0.95)
    longer = lengthened(layout, rng)
    assert (longer.lengths >= layout.lengths - TO_ROUNDING).all()
    assert longer.slack.min() > -1e-9
    slack = longer.slack + np.diag(np.full(layout.tree.n_tips, np.inf))
    assert slack.min(axis=1).max() < 1e-9


def test_tips_near_a_border_are_put_onto_it():
    layout, _ = layout_for(0)
    points = np.clip(layout.points, 0.2, 0.8)
    points[0], points[1] = [1e-7, 0.5], [0.5, 1 - 1e-7]
    moved = onto_borders(replace(layout, points=points), 1e-6)
    assert moved.points[0].tolist() == [0.0, 0.5]
    assert moved.points[1].tolist() == [0.5, 1.0]
    assert moved.points[2:] == pytest.approx(points[2:], abs=0)
