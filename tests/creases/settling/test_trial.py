"""One trial: slack closed within the limits, candidates that hold, an ascent that ascends."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from packer.creases.completion.convex_partition import triangulation
from packer.creases.constraints.linear_program import minimise, shadow_prices
from packer.creases.settling.close_slack import GrowthLimits, close_slack
from packer.creases.settling.feature_ascent import feature_ascent, limiting_part
from packer.creases.settling.settle import _length_bounds
from packer.creases.settling.settling_params import DEFAULT
from packer.creases.settling.trial import candidate_of, candidates_of, random_trial, run_trial
from packer.creases.smallest_feature import smallest_feature
from packer.creases.tip_layout import layout_of
from packer.deadline import Deadline, OutOfTime
from packer.folded.checks import findings
from packer.folded.form import fold
from packer.model.problem import pose
from packer.units import ACTIVE_GAP
from tests.strategies import random_figure, scattered

GIVE = 0.05
TO_ROUNDING = 1e-12


def made(seed):
    """A random packing, and the layout that one trial makes of it."""
    symmetry = ["none", "book", "diagonal"][seed % 3]
    figure = random_figure(np.random.default_rng(seed), 3, symmetry=symmetry, pairs=True)
    packing = scattered(pose(figure), seed)
    rng = np.random.default_rng(seed)
    trial = random_trial(rng, 1 - GIVE, DEFAULT.trial)
    return packing, trial, run_trial(packing, trial, rng, DEFAULT)


@pytest.fixture(scope="module", params=range(3), name="trial_made")
def _trial_made(request):
    return made(request.param)


@pytest.fixture(scope="module", name="candidates")
def _candidates(trial_made):
    packing, _, layout = trial_made
    bounds = _length_bounds(packing, GIVE, DEFAULT)
    return bounds, list(candidates_of(layout, bounds, DEFAULT.trial))


def test_a_trial_draws_within_its_constants():
    rng = np.random.default_rng(1)
    drawn = [random_trial(rng, 0.95, DEFAULT.trial) for _ in range(200)]
    assert all(0.95 <= trial.scale <= DEFAULT.trial.largest_scale for trial in drawn)
    assert len({trial.scale for trial in drawn}) == len(drawn)
    assert {trial.border for trial in drawn} == set(DEFAULT.trial.borders)
    assert {trial.growth.flaps for trial in drawn} == set(DEFAULT.trial.flap_growths)
    assert random_trial(rng, 1.0, DEFAULT.trial).scale == 1.0


def test_a_trial_keeps_every_inequality_and_the_symmetry(trial_made):
    """Recomputed: no path is too short, no part shorter than the scale drawn, twins are twins."""
    packing, trial, layout = trial_made
    assert layout.slack.min() > -1e-9
    n = packing.tree.n_tips
    asked = np.array(packing.lengths[:n]) * packing.scale * trial.scale
    assert (layout.lengths[:n] >= asked - 1e-9).all()
    assert layout.reflect(layout.points[layout.mirror]) == pytest.approx(layout.points)


def test_closing_slack_makes_more_sides_active():
    packing, trial, layout = made(4)
    start = layout_of(packing, trial.scale)
    limits = GrowthLimits(flaps=1.0, rivers=0.2, cost=0.03, half_weight=0.007)
    with_corners = replace(layout, lengths=layout.lengths.copy())
    after = close_slack(with_corners, layout.lengths, limits, DEFAULT.slack)

    def loose(one):
        sides = triangulation(one, ACTIVE_GAP)
        return sum(one.slack[side] > 1e-9 for side in sides) / len(sides)

    assert start.slack.min() > -1e-9
    assert loose(after) <= loose(layout)
    assert (after.lengths >= layout.lengths - 1e-9).all()


def test_out_of_time_is_raised_where_the_deadline_is_over():
    packing, trial, _ = made(0)
    with pytest.raises(OutOfTime):
        run_trial(packing, trial, np.random.default_rng(0), DEFAULT, Deadline.after(-1.0))


def test_candidates_fold_and_keep_the_bounds(candidates):
    """Every check of the folded form, and the lengths recomputed from the pattern."""
    bounds, made_here = candidates
    assert made_here
    for candidate in made_here:
        assert findings(candidate.pattern, fold(candidate.pattern)) == []
        assert candidate.feature == smallest_feature(candidate.pattern)
        for name, least in bounds.shortest.items():
            assert candidate.pattern.built[name] >= least * (1 - 1e-9)


def test_an_ascent_enlarges_the_smallest_feature_each_time(candidates):
    bounds, made_here = candidates
    steps = list(feature_ascent(made_here[0], bounds, DEFAULT.ascent))
    sizes = [step.feature.size for step in steps]
    gains = [after / before for before, after in itertools.pairwise(sizes)]
    assert all(gain > DEFAULT.ascent.least_gain for gain in gains)
    for step in steps[1:]:
        assert findings(step.pattern, fold(step.pattern)) == []
        assert not bounds.violated(step.layout).any()
    assert limiting_part(steps[-1], bounds, DEFAULT.ascent) in {None, *bounds.shortest}


def test_an_ascent_that_cannot_reach_the_best_known_is_given_up(candidates):
    bounds, made_here = candidates
    all_steps = list(feature_ascent(made_here[0], bounds, DEFAULT.ascent))
    few = list(feature_ascent(made_here[0], bounds, DEFAULT.ascent, to_beat=1e9))
    assert len(few) == 1
    assert few[0].feature.size == all_steps[0].feature.size


def test_a_layout_that_breaks_a_rule_is_no_candidate(candidates):
    bounds, made_here = candidates
    layout, polygons = made_here[0].layout, made_here[0].polygons
    off = layout.points.copy()
    off[0] += 2.0
    for wrong in (
        replace(layout, points=off),
        replace(layout, points=off * np.nan),
        replace(layout, lengths=layout.lengths * 0),
        replace(layout, lengths=layout.lengths * 1.1),
        replace(layout, lengths=layout.lengths * 0.5),
    ):
        assert candidate_of(wrong, polygons, bounds) is None


def test_shadow_prices_are_the_change_of_the_optimum():
    """min -x - y, x + 2 y <= 4, 3 x + y <= 6: solved by hand, prices -2/5 and -1/5."""
    rows, least = np.array([[1.0, 2.0], [3.0, 1.0]]), np.array([4.0, 6.0])
    program = {"A_ub": rows, "b_ub": least, "bounds": [(0, None)] * 2}
    objective = np.array([-1.0, -1.0])
    assert minimise(objective, **program) == pytest.approx([1.6, 1.2])
    assert shadow_prices(objective, **program) == pytest.approx([-0.4, -0.2])
    impossible = {**program, "b_ub": np.array([-1.0, 6.0])}
    assert minimise(objective, **impossible) is None
    assert shadow_prices(objective, **impossible) is None
