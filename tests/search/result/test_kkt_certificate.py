"""Multipliers against contact counts from the published tables and against balance of forces."""

from __future__ import annotations

import numpy as np
import pytest

from packer.model.figure import Figure, Flap
from packer.model.problem import pose
from packer.search.result.kkt_certificate import _centre, certificate, certify

ROOT2 = 2**0.5
CORNERS = [(0, 0), (1, 0), (0, 1), (1, 1)]


def star(*lengths, **places):
    flaps = [
        Flap(f"f{k}", "hub", length, place=places.get(f"f{k}", ()))
        for k, length in enumerate(lengths)
    ]
    return pose(Figure("star", tuple(flaps)))


def square_grid(k):
    side = np.linspace(0, 1, k)
    return np.array([(x, y) for x in side for y in side])


def force_left_over(problem, points, stress):
    """Balance written out plainly: the force on each free tip, less what an edge can take."""
    points = np.asarray(points, float)
    force = np.zeros_like(points)
    for i, j, multiplier in stress:
        if i != j:
            u = (points[i] - points[j]) / np.hypot(*(points[i] - points[j]))
            force[i] += multiplier * u
            force[j] -= multiplier * u
    sides = (problem.sheet.width, problem.sheet.height)
    for k in range(2):
        at_low = points[:, k] < 1e-9
        at_high = points[:, k] > sides[k] - 1e-9
        force[at_low, k] = np.maximum(force[at_low, k], 0)
        force[at_high, k] = np.minimum(force[at_high, k], 0)
    return float(np.abs(force).max())


@pytest.mark.parametrize("k", [2, 3, 4, 5, 6])
def test_square_grids_of_equal_flaps_are_stressed_in_every_contact(k):
    # k^2 points on a k x k grid are the best for k <= 6 and have 12, 24, 40, 60, 84 contacts,
    # sides of the square counted: table csq of packomania.com (E. Specht), columns N, contacts
    contacts = {2: 12, 3: 24, 4: 40, 5: 60, 6: 84}[k]
    problem = star(*[1] * k**2)
    points = square_grid(k)
    found = certificate(problem, points)
    on_sides = 4 * k
    assert len(found.stress) + on_sides == contacts
    assert {tip for i, j, _ in found.stress for tip in (i, j)} == set(range(k**2))
    assert found.strict
    assert found.residual < 1e-12
    assert force_left_over(problem, points, found.stress) < 1e-12


@pytest.mark.parametrize(
    ("lengths", "points"),
    [
        # flap lengths of the classic bases: tangent lengths of the triangles in their creases
        ([0.5] * 4 + [(ROOT2 - 1) / 2], [*CORNERS, (0.5, 0.5)]),
        (
            [ROOT2 / 4] * 5 + [(2 - ROOT2) / 4] * 4,
            [*CORNERS, (0.5, 0.5), (0.5, 0), (0, 0.5), (1, 0.5), (0.5, 1)],
        ),
    ],
    ids=["bird base", "frog base"],
)
def test_no_flap_of_a_classic_base_is_loose(lengths, points):
    problem = star(*lengths)
    found = certificate(problem, points)
    assert {tip for i, j, _ in found.stress for tip in (i, j)} == set(range(len(lengths)))
    d = problem.tree.distances
    assert sum(d[i, j] * value for i, j, value in found.stress) == pytest.approx(1, abs=1e-12)
    assert force_left_over(problem, points, found.stress) < 1e-12
    assert found.strict


def test_equal_flaps_get_equal_multipliers():
    stress = certify(star(*[1] * 9), square_grid(3))
    outer = {round(value, 12) for i, j, value in stress if 4 not in (i, j)}
    inner = {round(value, 12) for i, j, value in stress if 4 in (i, j)}
    assert len(outer) == len(inner) == 1


def test_three_corners_are_balanced_but_not_strict():
    # Three equal flaps in three corners satisfy the first-order conditions at 1, yet the best is
    # sqrt 6 - sqrt 2 = 1.0353 (folklore; P. G. Szabo et al., 2007)
    found = certificate(star(0.5, 0.5, 0.5), CORNERS[:3])
    assert found.residual < 1e-12
    assert found.stress
    assert not found.strict


def test_points_that_are_no_local_optimum_have_no_stress():
    found = certificate(star(0.5, 0.5, 0.5), [(0.1, 0.2), (0.8, 0.3), (0.5, 0.7)])
    assert found.stress == ()
    assert not found.strict


def test_a_flap_that_touches_nothing_is_not_stressed():
    stress = certify(star(1, 1, 0.1), [(0, 0), (1, 1), (0.1, 0.8)])
    assert [pair[:2] for pair in stress] == [(0, 1)]
    assert stress[0][2] == pytest.approx(0.5)


def test_a_disc_kept_on_the_sheet_carries_the_scale():
    # a lone long flap in the middle of a square: its disc touches all four sides at m l = 1/2
    problem = star(1, 0.1, f0=("middle",))
    found = certificate(problem, [(0.5, 0.5), (0, 0)])
    assert [pair[:2] for pair in found.stress] == [(0, 0)]
    assert found.stress[0][2] == pytest.approx(1)


@pytest.mark.parametrize("symmetry", ["book", "diagonal"])
def test_mirror_images_carry_the_same(symmetry):
    flaps = (Flap("head", "hub", 1), Flap("leg", "hub", 1, pair=True), Flap("tail", "hub", 1))
    problem = pose(Figure("cross", flaps, symmetry=symmetry))
    if symmetry == "book":
        points = [(0.5, 1), (0, 0.5), (1, 0.5), (0.5, 0)]
    else:
        points = [(1, 1), (0, 1), (1, 0), (0, 0)]
    found = certificate(problem, points)
    values = {(i, j): value for i, j, value in found.stress}
    assert set(values) == {(0, 1), (0, 2), (1, 3), (2, 3)}
    assert values[0, 1] == pytest.approx(values[0, 2], abs=1e-12)
    assert values[1, 3] == pytest.approx(values[2, 3], abs=1e-12)
    assert sum(2 * value for value in values.values()) == pytest.approx(1)
    assert found.residual < 1e-12


def test_tips_on_one_point_have_no_stress():
    assert certify(star(0.5, 0.5, 0.5), [(0, 0), (0, 0), (1, 1)]) == ()


def test_a_packing_known_to_a_billionth_still_has_its_stress():
    """Five equal flaps, proven optimum sqrt(2) / 4 (four corners and the centre), shaken by 1e-9.

    The stress of the exact packing is a statics solution: four equal forces at the centre.
    """
    star = Figure("star", tuple(Flap(name, "hub", 1.0) for name in "abcde"))
    exact = np.array([(0, 0), (1, 0), (1, 1), (0, 1), (0.5, 0.5)], float)
    shaken = exact.copy()
    shaken[4] += (1e-9, 3e-10)
    stress = certify(pose(star), shaken)
    assert sorted((i, j) for i, j, _ in stress) == [(k, 4) for k in range(4)]
    assert [value for *_, value in stress] == pytest.approx([1 / 8] * 4, rel=1e-6)


def test_multipliers_that_may_be_shared_out_in_one_way_are_centred():
    """Of y = (a, a, 1/2 - a), log(a) + log(a) + log(1/2 - a) is the largest at a = 1/3."""
    centre = _centre(np.array([[1.0, -1.0, 0.0]]), np.array([1.0, 1.0, 2.0]))
    assert centre == pytest.approx([1 / 3, 1 / 3, 1 / 6], abs=1e-9)
