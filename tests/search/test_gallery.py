"""Galleries: really different packings, each a full result, the same for the same seed."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from packer.deadline import Deadline
from packer.errors import OptionError
from packer.model.figure import Figure, Flap, River
from packer.model.problem import pose
from packer.search.gallery import chosen, further_starts, gallery
from packer.search.gallery_params import DEFAULT, GalleryParams
from packer.search.memetic.run import SearchGoal
from packer.search.options import SearchOptions
from packer.search.pack import pack
from packer.search.result.packing_distance import difference
from packer.search.stopping import MaxStarts, TimeLimit
from tests.conftest import Ticks
from tests.strategies import random_figure

BRIEF = GalleryParams(starts_each=1)
"""One start for each further packing, in place of some."""


@pytest.fixture(scope="module")
def shown():
    figure = random_figure(5, 6)
    return gallery(
        figure, 3, options=SearchOptions(seed=2, stop=MaxStarts(1), workers=1), params=BRIEF
    ), pack(figure, options=SearchOptions(seed=2, stop=MaxStarts(1), workers=1))


def test_a_gallery_holds_the_best_first(shown):
    packings, best = shown
    assert len(packings) == 3
    assert packings[0].scale >= best.scale * (1 - 1e-9)
    scales = [packing.scale for packing in packings]
    assert scales == sorted(scales, reverse=True)
    assert scales[-1] >= scales[0] * (1 - DEFAULT.worst)


def test_packings_of_a_gallery_are_really_different(shown):
    for one, other in combinations(shown[0], 2):
        assert difference(one, other) >= DEFAULT.different


def test_packings_of_a_gallery_lie_as_the_first_does(shown):
    """No turn of the sheet, by hand, brings their tips nearer to its tips."""
    first = shown[0][0]
    for packing in shown[0][1:]:
        x, y = packing.points.T
        turned = [
            np.column_stack(way)
            for a, b in ((x, y), (y, x))
            for way in ((a, b), (1 - a, b), (a, 1 - b), (1 - a, 1 - b))
        ]
        away = [((points - first.points) ** 2).sum() for points in turned]
        assert np.argmin(away) == 0


def test_each_packing_of_a_gallery_is_a_full_result(shown):
    for packing in shown[0]:
        assert packing.violations() == []
        assert packing.stress
        assert packing.bound is not None
        assert {name for name, _ in _slack(packing)} == set(packing.loose)


def _slack(packing):
    return [(packing.tree.flaps[tip], more) for tip, more in packing.slack]


def test_the_same_seed_shows_the_same_gallery():
    figure = random_figure(3, 4)
    one, other = (
        gallery(
            figure, 2, options=SearchOptions(stop=MaxStarts(1), workers=workers), params=BRIEF
        )
        for workers in (1, 2)
    )
    assert [packing.tips for packing in one] == [packing.tips for packing in other]


def test_a_figure_with_one_packing_shows_one():
    # two flaps lie on the diagonal, and the other diagonal is the same packing turned
    flaps = (Flap("a", "x", 1), Flap("b", "y", 2))
    problem = pose(Figure("two", flaps, (River("r", ("x", "y"), 1),)))
    options = SearchOptions(stop=MaxStarts(1), workers=1)
    assert len(gallery(problem, 4, options=options, params=BRIEF)) == 1


def test_one_packing_has_all_the_time_and_several_share_it(monkeypatch):
    figure = random_figure(1, 20)
    clock = Ticks(0.1)
    monkeypatch.setattr("packer.deadline.monotonic", clock)
    (one,) = gallery(figure, 1, options=SearchOptions(stop=TimeLimit(4.0), workers=1))
    assert one.search.stopped == "time"
    assert 3.0 < one.search.seconds <= clock.now < 6.0
    began = clock.now
    several = gallery(figure, 3, options=SearchOptions(stop=TimeLimit(4.0), workers=1))
    assert clock.now - began < 6.0
    assert several[0].violations() == []


def test_each_packing_tells_by_how_many_starts_it_was_found(shown):
    packings, best = shown
    others = [packing.search for packing in packings if packing.tips != best.tips]
    assert others
    for record in others:
        assert (record.starts, record.stopped) == (3 * BRIEF.starts_each, "starts")
        assert 1 <= record.hits <= record.starts


def test_starts_that_time_cut_short_are_not_counted():
    goals = (SearchGoal(pose(random_figure(3, 5))),)
    none = further_starts(goals, 4, SearchOptions(workers=1), Deadline.after(0))
    assert none.optima == ()
    assert (none.record.starts, none.record.stopped) == (0, "time")


def test_a_gallery_reports_until_its_end():
    seen = []
    options = SearchOptions(stop=MaxStarts(1), workers=1, progress=seen.append)
    packings = gallery(random_figure(3, 4), 2, options=options, params=BRIEF)
    assert seen[-1].starts == 1 + 2 * BRIEF.starts_each
    assert seen[-1].scale == pytest.approx(packings[0].scale, rel=1e-9)
    assert [now.seconds for now in seen] == sorted(now.seconds for now in seen)


def test_no_gallery_of_none():
    with pytest.raises(OptionError, match="0 packings are no gallery; write 1 or more"):
        gallery(random_figure(1, 3), 0)


def test_choosing_ends_with_its_time():
    """Each further packing is solved to its last digits; of a hundred flaps they took minutes together."""
    problem = pose(random_figure(2, 7, joints=2))
    best = pack(problem, options=SearchOptions(stop=MaxStarts(1), workers=1))
    goal = SearchGoal(problem)
    options = SearchOptions(stop=MaxStarts(1), workers=1)
    further = further_starts((goal, goal), 2, options, Deadline.after())
    assert any(further.optima)
    assert chosen(best, further, 3, False, Deadline.after(0.0)) == (best,)
