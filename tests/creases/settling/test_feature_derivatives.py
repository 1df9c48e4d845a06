"""Derivatives of features, against features of patterns that are made anew."""

from __future__ import annotations

import numpy as np
import pytest

from packer.creases.constraints.active_paths import pairs_below, projected
from packer.creases.constraints.convexity import straight_corners
from packer.creases.constraints.equations import equations
from packer.creases.constraints.variables import free_variables, shifted
from packer.creases.settling.feature_ascent import _null_space
from packer.creases.settling.feature_derivatives import feature_derivatives
from packer.creases.settling.settle import _length_bounds
from packer.creases.settling.settling_params import DEFAULT
from packer.creases.settling.trial import candidate_of, candidates_of, random_trial, run_trial
from packer.model.problem import pose
from packer.units import ACTIVE_GAP
from tests.strategies import random_figure, scattered

STEP = 1e-6
"""Share of the diagonal; second-order terms are smaller by as much again."""


@pytest.mark.parametrize("seed", range(3))
def test_derivatives_are_those_of_patterns_made_anew(seed):
    """The layout is moved a step, projected onto its equations and creased again.

    The smallest feature is then what the derivatives promised, to first order.
    """
    symmetry = ["none", "book", "diagonal"][seed % 3]
    figure = random_figure(np.random.default_rng(seed), 3, symmetry=symmetry, pairs=True)
    packing = scattered(pose(figure), seed)
    rng = np.random.default_rng(seed)
    layout = run_trial(packing, random_trial(rng, 0.95, DEFAULT.trial), rng, DEFAULT)
    bounds = _length_bounds(packing, 0.5, DEFAULT)
    candidate = next(candidates_of(layout, bounds, DEFAULT.trial))
    layout = candidate.layout
    free = free_variables(layout)
    sides = pairs_below(layout, ACTIVE_GAP * layout.sheet.diagonal)
    kept = equations(layout, sides, straight_corners(layout, candidate.polygons))
    basis = _null_space(free.reduce(kept.jacobian(layout)))
    assert basis.shape[1] > 0
    changes = np.array([free.expand(column) for column in basis.T])
    sizes, rates = feature_derivatives(candidate, changes, DEFAULT.ascent)
    assert sizes[0] == pytest.approx(candidate.feature.size)
    assert (np.diff(sizes) >= 0).all()
    compared = 0
    for k, change in enumerate(changes):
        moved = projected(shifted(layout, STEP * change), kept)
        after = candidate_of(moved, candidate.polygons, bounds)
        if after is None:
            continue
        predicted = float((sizes + STEP * rates[:, k]).min())
        steepest = max(1.0, float(np.abs(rates[:, k]).max()))
        assert after.feature.size == pytest.approx(predicted, abs=1e-2 * STEP * steepest)
        compared += 1
    assert compared > 0
