"""Frames of a pull: costs against finite differences, rest against one climb, what stays."""

from dataclasses import replace
from itertools import islice, pairwise

import numpy as np
import pytest

from packer import from_here, pose, read_figure
from packer.errors import FigureError, OptionError
from packer.model.figure import Figure, Flap
from packer.model.sheet import Sheet
from packer.search.carry import carried
from packer.search.frame import exchanged, first_frame, frame_of, next_frame
from packer.search.from_here import at_rest, better_packings
from packer.search.result.kkt_certificate import certificate


@pytest.fixture(scope="module")
def crab(request):
    figure = read_figure(request.config.rootpath / "samples" / "shore_crab.toml")
    return at_rest(first_frame(pose(figure), seed=1))


def longer(figure, name, factor):
    flaps = [
        replace(f, length=f.length * (factor if f.name == name else 1)) for f in figure.flaps
    ]
    rivers = [
        replace(r, length=r.length * (factor if r.name == name else 1)) for r in figure.rivers
    ]
    return replace(figure, flaps=tuple(flaps), rivers=tuple(rivers))


def test_costs_are_the_derivative_of_the_scale_at_a_strict_optimum(crab):
    """Against central differences of the optimum (envelope theorem)."""
    judged = certificate(crab.problem, crab.points, np.array(crab.lengths))
    assert judged.strict
    frame = next_frame(crab.problem, frame_of(crab), tolerance=1e-9)
    costs = dict(zip(crab.tree.names, frame.costs, strict=True))
    step = 1e-5
    for part in (*crab.figure.flaps, *crab.figure.rivers):
        ends = [
            next_frame(
                pose(longer(crab.figure, part.name, 1 + s)), frame, tolerance=1e-11
            ).scale
            for s in (-step, step)
        ]
        slope = (ends[1] - ends[0]) / (2 * step * part.length)
        told = sum(
            cost
            for name, cost in costs.items()
            if name.removesuffix(".left").removesuffix(".right") == part.name
        )
        assert told == pytest.approx(slope, abs=2e-5 * np.abs(frame.costs).max())


def test_a_frame_tells_what_the_certificate_tells(crab):
    """At the tolerance of a pull; the certificate is a linear program of its own."""
    frame = next_frame(crab.problem, frame_of(crab))
    assert np.abs(frame.costs - [crab.costs[n] for n in crab.tree.names]).max() < (
        2.3e-2 * np.abs(frame.costs).max()
    )
    assert {crab.tree.flaps[tip] for tip in np.flatnonzero(frame.loose)} == set(crab.loose)
    names = {tuple(crab.tree.flaps[tip] for tip in pair) for pair in frame.active}
    stressed = {(crab.tree.flaps[i], crab.tree.flaps[j]) for i, j, _ in crab.stress if i != j}
    assert stressed <= names


def test_let_go_the_packing_is_one_climb_from_its_tips(crab):
    before = frame_of(crab)
    pulled = next_frame(crab.problem, before, {3: tuple(crab.points[3] + (0.03, -0.04))})
    rest = at_rest(pulled)
    climbed = carried(crab.problem, pulled.packing)
    assert rest.scale == pytest.approx(climbed.scale, rel=1e-9)
    assert rest.stress
    assert rest.violations() == []


def test_a_held_tip_and_its_twin_stay_where_they_are_held(crab):
    tip = crab.tree.flaps.index("leg_1.left")
    at = crab.points[tip] + (0.02, 0.03)
    frame = next_frame(crab.problem, frame_of(crab), {tip: tuple(at)})
    assert np.abs(frame.points[tip] - at).max() <= 1.01e-3
    image = crab.problem.reflect(frame.points[tip])
    assert np.allclose(frame.points[crab.problem.mirror[tip]], image)
    assert frame.packing.violations() == []
    assert frame.scale < crab.scale


def test_loose_tips_stay_where_they_were(crab):
    loose = [crab.tree.flaps.index(name) for name in crab.loose]
    assert loose
    frame = next_frame(crab.problem, frame_of(crab))
    assert np.abs(frame.points[loose] - crab.points[loose]).max() < 1e-9


def test_where_a_held_tip_leaves_no_room_the_others_stay(crab):
    tip = crab.tree.flaps.index("leg_1.left")
    at = (0.495, 0.5)  # next to its own twin, from which nothing can keep it away
    frame = next_frame(crab.problem, frame_of(crab), {tip: at}, least=0.7 * crab.scale)
    assert frame.crowded
    assert frame.scale == crab.scale
    moved = [tip, int(crab.problem.mirror[tip])]
    others = np.setdiff1d(np.arange(len(crab.points)), moved)
    assert np.allclose(frame.points[others], crab.points[others], atol=1e-12)


def test_two_tips_change_places(crab):
    one, other = (crab.tree.flaps.index(name) for name in ("leg_1.left", "leg_2.left"))
    frame = exchanged(frame_of(crab), one, other)
    assert np.array_equal(frame.points[one], crab.points[other])
    assert np.array_equal(
        frame.points[crab.problem.mirror[other]], crab.points[crab.problem.mirror[one]]
    )
    assert next_frame(crab.problem, frame).packing.violations() == []


def test_a_new_flap_begins_where_there_is_room(crab):
    figure = replace(crab.figure, flaps=(*crab.figure.flaps, Flap("tooth", "front", 0.1)))
    frame = next_frame(pose(figure), frame_of(crab))
    assert frame.packing.violations() == []
    assert frame.scale > 0.8 * crab.scale


def test_four_equal_flaps_reach_the_corners():
    """The optimum of four discs is known: corners of the square, scale one half."""
    figure = Figure("four", tuple(Flap(name, "middle", 1.0) for name in "abcd"))
    packing = at_rest(next_frame(pose(figure), first_frame(pose(figure))))
    assert packing.scale == pytest.approx(0.5, rel=1e-9)


def test_a_frame_never_changes(crab):
    frame = frame_of(crab)
    with pytest.raises(ValueError, match="read-only"):
        frame.points[0] = 0
    first, again = next_frame(crab.problem, frame), next_frame(crab.problem, frame)
    assert np.array_equal(first.points, again.points)


def test_from_here_follows_a_longer_part_and_a_wider_sheet(crab):
    assert from_here(crab).scale == pytest.approx(crab.scale, rel=1e-9)
    grown = from_here(crab, longer(crab.figure, "leg_1", 1.1))
    assert grown.scale < crab.scale
    assert grown.stress
    assert not grown.violations()
    wide = from_here(crab, sheet=Sheet(1.2, 1.0))
    assert wide.scale > crab.scale


def test_from_here_holds_a_tip_by_name(crab):
    held = from_here(crab, held={"apron": (0.5, 0.4)})
    assert held.tips[held.tree.flaps.index("apron")] == pytest.approx((0.5, 0.4), abs=1.01e-3)
    with pytest.raises(OptionError, match="did you mean"):
        from_here(crab, held={"aprons": (0.5, 0.4)})


def test_what_figure_and_sheet_refuse_is_refused_here(crab):
    apron = replace(crab.figure.flaps[-1], place=("left",))
    with pytest.raises(FigureError, match="axis"):
        from_here(crab, replace(crab.figure, flaps=(*crab.figure.flaps[:-1], apron)))


def test_better_packings_are_ever_larger_and_can_be_stopped(crab):
    begun = at_rest(first_frame(crab.problem, seed=3))
    steps = list(islice(better_packings(begun, seed=2), 12))
    larger = [packing for packing in steps if packing is not None]
    scales = [begun.scale, *(packing.scale for packing in larger)]
    assert larger
    assert all(a < b for a, b in pairwise(scales))
    assert all(not packing.violations() for packing in larger)
    again = [p for p in islice(better_packings(begun, seed=2), 4) if p is not None]
    assert [p.tips for p in again] == [p.tips for p in larger[: len(again)]]
