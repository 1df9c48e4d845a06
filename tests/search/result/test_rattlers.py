"""Loose flaps: found where the published packings have free circles, moved without loss."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from packer.bounds.point_spread import proven_spreads
from packer.deadline import Deadline
from packer.local_solver.interior_point import polish
from packer.local_solver.nonlinear_program import compile_program
from packer.model.figure import Figure, Flap
from packer.model.packing import Packing, scale_of
from packer.model.problem import pose
from packer.search.options import SearchOptions
from packer.search.pack import pack
from packer.search.result.kkt_certificate import certify
from packer.search.result.rattlers import place_loose
from packer.search.stopping import MaxStarts
from tests.strategies import problems


def star(*lengths, **places):
    flaps = [
        Flap(f"f{k}", "hub", length, place=places.get(f"f{k}", ()))
        for k, length in enumerate(lengths)
    ]
    return pose(Figure("star", tuple(flaps)))


def with_stress(packing):
    stress = certify(packing.problem, packing.points, packing.lengths)
    return replace(packing, stress=stress)


@pytest.mark.parametrize("n", [5, 7, 8, 10, 11])
def test_free_circles_are_those_of_the_published_packings(n):
    # circles in a square that touch nothing: one at n = 7, two at 11, none else
    # below 13 (table csq of packomania.com, E. Specht, column "loose")
    free = {7: 1, 11: 2}.get(n, 0)
    packing = with_stress(
        pack(star(*[1] * n), options=SearchOptions(seed=1, stop=MaxStarts(2), workers=1))
    )
    assert packing.scale == pytest.approx(proven_spreads()[n] / 2)
    assert len(packing.loose) == free
    moved = place_loose(packing)
    assert moved.scale >= packing.scale
    assert [tip for tip, _ in moved.slack] == [
        k for k, name in enumerate(packing.tree.flaps) if name in packing.loose
    ]


def grows(packing):
    """The packing's own scale with every loose flap longer by its slack."""
    lengths = np.array(packing.lengths)
    for tip, more in packing.slack:
        lengths[tip] += more
    return scale_of(packing.points, packing.tree.distances_with(lengths))


@settings(max_examples=15)
@given(problems(max_flaps=9), st.integers(0, 10**6))
def test_loose_flaps_may_all_be_longer_at_once(problem, seed):
    program = compile_program(problem, (0,) * problem.tree.n_tips)
    rng = np.random.default_rng(seed)
    z = program.lower + (program.upper - program.lower) * rng.random(program.n_z)
    end = polish(program, z, np.zeros(0))
    packing = Packing(problem, tuple(map(tuple, program.tips(end.z).tolist())))
    assume(packing.scale > 0)
    packing = with_stress(packing)
    assume(packing.stress)
    moved = place_loose(packing)
    assert moved.scale >= packing.scale
    assert moved.violations() == []
    assert grows(moved) >= moved.scale * (1 - 1e-12)
    assert len(moved.split_rivers) <= len(packing.split_rivers) or not packing.split_rivers
    held = [k for k, name in enumerate(packing.tree.flaps) if name not in packing.loose]
    assert [moved.tips[k] for k in held] == [packing.tips[k] for k in held]
    if problem.symmetry != "none":
        slack = dict(moved.slack)
        assert all(slack[int(problem.mirror[k])] == pytest.approx(v) for k, v in slack.items())


def test_a_lone_loose_flap_reaches_the_roomiest_place():
    # two flaps on the diagonal; the third may fill a free corner: at distance 1 from both,
    # 1 = (root 2 / 2) (1 + x)
    packing = with_stress(Packing(star(1, 1, 0.1), ((0, 0), (1, 1), (0.12, 0.88))))
    moved = place_loose(packing)
    assert moved.tips[2] == pytest.approx((0, 1), abs=1e-6)
    assert moved.slack[0][1] == pytest.approx(2**0.5 - 1 - 0.1, abs=1e-6)


def test_a_loose_flap_stays_where_it_may_lie():
    problem = star(1, 1, 0.1, f2=("bottom",))
    packing = with_stress(Packing(problem, ((0, 0), (1, 1), (0.85, 0))))
    moved = place_loose(packing)
    assert moved.tips[2] == pytest.approx((1, 0), abs=1e-6)


def test_a_loose_flap_keeps_its_disc_on_the_sheet():
    problem = star(1, 1, 0.1, f2=("middle",))
    packing = with_stress(Packing(problem, ((0, 0), (1, 1), (0.12, 0.88))))
    moved = place_loose(packing)
    ((tip, more),) = moved.slack
    x, y = moved.tips[tip]
    radius = moved.scale * (0.1 + more)
    assert min(x, y, 1 - x, 1 - y) >= radius * (1 - 1e-9)
    assert radius > 0.1


def test_without_stress_nothing_is_moved():
    packing = Packing(star(1, 1, 1), ((0, 0), (1, 0.9), (0.3, 0.6)))
    assert place_loose(packing) is packing


def test_when_time_is_over_loose_flaps_stay_where_they_are_and_their_slack_is_told():
    packing = with_stress(Packing(star(1, 1, 0.1), ((0, 0), (1, 1), (0.12, 0.88))))
    kept = place_loose(packing, Deadline.after(0.0))
    assert kept.tips == packing.tips
    # its disc grows where it is until it meets those of the other two, both as far
    assert kept.slack[0][1] == pytest.approx(np.hypot(0.12, 0.88) / kept.scale - 1 - 0.1)


@pytest.mark.parametrize("first", [1, 3])
def test_rows_left_out_at_first_change_no_linear_program(first, monkeypatch):
    # forty flaps on a grid with room about each; two touch, the others are loose
    rng = np.random.default_rng(3)
    places = [(x / 7, y / 5) for x in range(7) for y in range(6)]
    tips = np.array(places) + rng.uniform(-0.02, 0.02, (42, 2))
    packing = Packing(star(*[1] * 42), tuple(map(tuple, np.clip(tips, 0, 1).tolist())))
    i, j = packing.active[0]
    names = list(packing.tree.flaps)
    packing = replace(packing, stress=((names.index(i), names.index(j), 1.0),))
    monkeypatch.setattr("packer.search.result.rattlers.TIGHTEST", 42)
    whole = place_loose(packing)
    monkeypatch.setattr("packer.search.result.rattlers.TIGHTEST", first)
    lean = place_loose(packing)
    assert grows(lean) >= lean.scale * (1 - 1e-12)
    assert sum(more for _, more in lean.slack) > 0
    assert lean.points == pytest.approx(whole.points, abs=1e-6)
