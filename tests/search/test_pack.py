"""How a search is limited, repeated, interrupted and begun from a packing."""

from __future__ import annotations

import math
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import replace

import numpy as np
import pytest

from packer.errors import OptionError, SearchError
from packer.files.figure_toml import read_figure
from packer.model.figure import Figure, Flap, River
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.search.options import SearchOptions
from packer.search.pack import pack
from packer.search.stopping import MaxEffort, MaxStarts, NoImprovement, TimeLimit
from packer.search.warm_start import start_near
from tests.conftest import SAMPLES, Ticks
from tests.strategies import random_figure

FIGURE = random_figure(21, 5, joints=2)


def test_workers_do_not_change_the_result():
    one = pack(FIGURE, options=SearchOptions(seed=5, stop=MaxStarts(2), workers=1), proof=0.0)
    with ProcessPoolExecutor(2) as two, ThreadPoolExecutor(3) as three:
        for crew in (two, three):
            other = pack(
                FIGURE,
                options=SearchOptions(seed=5, stop=MaxStarts(2), executor=crew),
                proof=0.0,
            )
            assert other.tips == one.tips
            assert other.search.hits == one.search.hits
    assert (
        pack(
            FIGURE, options=SearchOptions(seed=5, stop=MaxStarts(2), workers=2), proof=0.0
        ).tips
        == one.tips
    )
    assert one.search.stopped == "starts"
    assert one.search.starts == 2


def test_patience_ends_in_the_order_of_the_starts():
    """Without a proof, which might end the search before its patience does."""
    patient = SearchOptions(seed=2, stop=NoImprovement(1), workers=1)
    one = pack(FIGURE, options=patient, proof=0.0)
    with ThreadPoolExecutor(4) as crew:
        other = pack(FIGURE, options=replace(patient, executor=crew), proof=0.0)
    assert other.tips == one.tips
    assert other.search.starts == one.search.starts
    assert one.search.stopped == "no improvement"


def test_time_ends_a_search_of_a_large_figure(monkeypatch):
    clock = Ticks(0.05)
    monkeypatch.setattr("packer.deadline.monotonic", clock)
    packing = pack(random_figure(1, 40), options=SearchOptions(stop=TimeLimit(2.0), workers=1))
    assert clock.now < 2.0 + 10 * clock.tick  # looked at only now and then once it is over
    assert packing.search.stopped == "time"
    assert packing.search.seconds > 0.7 * 2.0  # the proof may end before its share is used
    assert packing.violations() == []


class Interrupted:
    """A listener that presses Ctrl-C at its second report."""

    def __init__(self):
        self.reports = []

    def __call__(self, now):
        self.reports.append(now)
        if len(self.reports) == 2:
            raise KeyboardInterrupt


def test_ctrl_c_keeps_the_best_so_far():
    listener = Interrupted()
    packing = pack(random_figure(1, 40), options=SearchOptions(workers=1, progress=listener))
    assert packing.search.stopped == "interrupted"
    assert packing.violations() == []
    assert packing.scale >= listener.reports[-1].scale * (1 - 1e-9)


def test_ctrl_c_before_anything_is_found_keeps_a_start():
    """As a limit of time does: a large figure is hardly begun when somebody presses it."""

    class Pressed(Executor):
        def submit(self, *_args, **_kwargs):
            raise KeyboardInterrupt

    packing = pack(random_figure(1, 40), options=SearchOptions(executor=Pressed()))
    assert packing.search.stopped == "interrupted"
    assert packing.violations() == []


def test_progress_rises_to_the_result_below_its_bound():
    seen = []
    packing = pack(
        FIGURE, options=SearchOptions(stop=MaxStarts(2), workers=1, progress=seen.append)
    )
    scales = [now.scale for now in seen]
    assert scales == sorted(scales)
    assert scales[-1] == pytest.approx(packing.scale, rel=1e-9)
    assert all(now.scale <= now.bound * (1 + 1e-9) for now in seen)
    assert all(now.headroom >= 0 for now in seen)
    assert packing.headroom <= seen[0].bound / packing.scale - 1 + 1e-12


def test_a_search_ends_with_the_first_start_that_a_proof_meets():
    """Of ten starts one is made, whoever works; counted, so that no clock decides."""
    figure = read_figure(SAMPLES / "goby.toml")
    with ThreadPoolExecutor(3) as threads:
        alone, together = (
            pack(figure, options=SearchOptions(stop=MaxStarts(10), **more))
            for more in ({"workers": 1}, {"executor": threads})
        )
    for packing in (alone, together):
        assert (packing.search.starts, packing.search.stopped) == (1, "proven")
        assert packing.headroom == pytest.approx(0, abs=1e-6)
    assert alone.tips == together.tips
    assert alone.bound == together.bound


def test_a_limit_holds_where_a_busy_cluster_never_answers(monkeypatch):
    """No leg comes back before the time is up, so the first leg is made here: one look is enough."""

    class Busy(Executor):
        def submit(self, *_args, **_kwargs):
            return Future()

    looks = []

    def wait_in_vain(running, **_kwargs):
        looks.append(len(running))
        assert len(looks) < 5, "the search waits for workers that never answer"

    monkeypatch.setattr("packer.search.parallel.coordinator.wait", wait_in_vain)
    monkeypatch.setattr("packer.search.parallel.background_bound.wait", wait_in_vain)
    limit = SearchOptions(stop=TimeLimit(1e-9), executor=Busy(), workers=2)
    packing = pack(FIGURE, options=limit)
    assert (packing.search.stopped, packing.violations()) == ("time", [])
    assert looks == [2, 1]  # the legs, then the proof
    alone = pack(FIGURE, options=SearchOptions(stop=TimeLimit(1e-9), workers=1))
    assert packing.tips == alone.tips


def test_a_rule_of_grids_alone_is_refused():
    with pytest.raises(OptionError, match="limit the starts or the time"):
        pack(FIGURE, options=SearchOptions(stop=MaxEffort(1)))


class Flaky(Executor):
    """Loses every third task, as a cluster does whose machines go away."""

    def __init__(self):
        self.count = 0

    def submit(self, task, *args, **kwargs):
        self.count += 1
        future = Future()
        if self.count % 3 == 0:
            future.set_exception(RuntimeError("the machine went away"))
        else:
            future.set_result(task(*args, **kwargs))
        return future


def test_lost_workers_cost_only_their_legs():
    crew = Flaky()
    packing = pack(FIGURE, options=SearchOptions(seed=5, stop=MaxStarts(3), executor=crew))
    assert crew.count > 3
    assert (
        packing.tips
        == pack(FIGURE, options=SearchOptions(seed=5, stop=MaxStarts(3), workers=1)).tips
    )


def test_the_best_is_kept_where_all_workers_are_lost():
    class Fading(Executor):
        left = 2

        def submit(self, task, *args, **_kwargs):
            future = Future()
            self.left -= 1
            if self.left < 0:
                future.set_exception(RuntimeError("the machines went away"))
            else:
                future.set_result(task(*args))
            return future

    packing = pack(random_figure(1, 40), options=SearchOptions(executor=Fading()))
    assert packing.search.stopped == "workers lost"
    assert packing.violations() == []


def test_an_executor_that_only_fails_is_said():
    class Broken(Executor):
        def submit(self, *_args, **_kwargs):
            future = Future()
            future.set_exception(RuntimeError("no machine"))
            return future

    with pytest.raises(SearchError, match="workers were lost"):
        pack(FIGURE, options=SearchOptions(executor=Broken()))


# --- warm starts


def test_a_warm_start_is_never_worse():
    good = pack(FIGURE, options=SearchOptions(stop=MaxStarts(2), workers=1))
    again = pack(
        FIGURE, options=SearchOptions(seed=9, stop=TimeLimit(0.01), workers=1), near=good
    )
    assert again.scale >= good.scale * (1 - 1e-12)


def test_a_nudged_length_is_packed_from_the_old_tips():
    good = pack(FIGURE, options=SearchOptions(stop=MaxStarts(2), workers=1))
    first = FIGURE.flaps[0]
    nudged = replace(
        FIGURE, flaps=(replace(first, length=first.length * 1.05), *FIGURE.flaps[1:])
    )
    again = pack(nudged, options=SearchOptions(stop=TimeLimit(0.05), workers=1), near=good)
    # keeping every tip, the scale falls by no more than the longest change of a path
    assert again.scale >= good.scale / 1.05
    assert again.scale >= start_near(pose(nudged), good, np.random.default_rng(0)).scale


def test_flaps_are_matched_by_name_and_new_ones_placed_in_room():
    good = pack(FIGURE, options=SearchOptions(stop=MaxStarts(1), workers=1))
    more = replace(
        FIGURE, flaps=(Flap("fresh", FIGURE.flaps[0].joint, 0.2), *FIGURE.flaps[::-1])
    )
    spot = start_near(pose(more), good, np.random.default_rng(0))
    assert spot.scale > 0.5 * good.scale
    packing = pack(more, options=SearchOptions(stop=TimeLimit(0.05), workers=1), near=good)
    assert set(packing.tree.flaps) == {"fresh", *good.tree.flaps}


def test_a_packing_of_other_flaps_is_no_place_to_begin():
    good = pack(FIGURE, options=SearchOptions(stop=MaxStarts(1), workers=1))
    renamed = tuple(replace(flap, name=f"new {flap.name}") for flap in FIGURE.flaps)
    other = pose(replace(FIGURE, flaps=renamed))
    assert start_near(other, good, np.random.default_rng(0)) is None
    assert pack(
        other, options=SearchOptions(stop=MaxStarts(1), workers=1), near=good
    ).scale == pytest.approx(good.scale)


def test_a_warm_start_may_change_the_symmetry():
    # two pairs and a tail, packed freely; then the twins must mirror each other
    flaps = (Flap("a", "j", 1, pair=True), Flap("b", "j", 2, pair=True), Flap("tail", "j", 1))
    free = pack(Figure("beast", flaps), options=SearchOptions(stop=MaxStarts(1), workers=1))
    mirrored = Figure("beast", flaps, symmetry="diagonal")
    warm = pack(mirrored, options=SearchOptions(stop=MaxStarts(1), workers=1), near=free)
    assert warm.violations() == []
    assert (
        warm.scale
        >= 0.99 * pack(mirrored, options=SearchOptions(stop=MaxStarts(1), workers=1)).scale
    )
    back = pack(
        Figure("beast", flaps), options=SearchOptions(stop=MaxStarts(1), workers=1), near=warm
    )
    assert back.scale >= warm.scale * (1 - 1e-12)


def test_a_flap_that_is_gone_costs_nothing():
    good = pack(FIGURE, options=SearchOptions(stop=MaxStarts(1), workers=1))
    fewer = replace(FIGURE, flaps=tuple(f for f in FIGURE.flaps if f.name != "f4"))
    again = pack(fewer, options=SearchOptions(stop=TimeLimit(0.05), workers=1), near=good)
    assert again.scale >= good.scale * (1 - 1e-12)


def test_a_packing_of_another_sheet_is_stretched():
    good = pack(FIGURE, options=SearchOptions(stop=MaxStarts(1), workers=1))
    wide = pack(
        FIGURE,
        Sheet(300, 300, "mm"),
        options=SearchOptions(stop=TimeLimit(0.05), workers=1),
        near=good,
    )
    assert wide.scale >= 300 * good.scale * (1 - 1e-12)


# --- placements, flex and whole rivers


def test_placements_are_searched():
    # four unit flaps on corners and a fifth in the middle: the corners prove scale 1/2 unless
    # the fifth flap presses, at 1 / (2 sqrt 2) for a flap of 1
    flaps = [Flap(f"c{k}", "hub", 1.0, place=("corner",)) for k in range(4)]
    figure = Figure("table", (*flaps, Flap("m", "hub", 1.0)))
    packing = pack(figure, options=SearchOptions(stop=MaxStarts(1), workers=1))
    assert packing.scale == pytest.approx(1 / (2 * math.sqrt(2)), rel=1e-9)
    assert [packing.kinds[f"c{k}"] for k in range(4)] == ["corner"] * 4


@pytest.mark.parametrize(("flex", "scale"), [(0.0, 1 / 3), (0.1, 1 / 2.9)])
def test_tips_that_are_all_fixed_are_packed(flex, scale):
    # b and c are one side apart and 3 long together; of the total of 4 flex gives a 0.1 more
    flaps = (
        Flap("a", "hub", 1, place=("bottom left",)),
        Flap("b", "hub", 2, place=("top right",)),
        Flap("c", "hub", 1, place=("top left",)),
    )
    figure = Figure("fixed", flaps).with_flex(flex)
    assert pack(
        figure, options=SearchOptions(stop=MaxStarts(1), workers=1)
    ).scale == pytest.approx(scale, rel=1e-9)


@pytest.mark.parametrize("symmetry", ["none", "book", "diagonal"])
def test_edges_are_chosen_well(symmetry):
    # a place that the best packing takes anyway costs nothing
    flaps = (Flap("a", "j", 1.0, pair=True), Flap("b", "k", 1.2, pair=True))
    figure = Figure("beast", flaps, (River("r", ("j", "k"), 0.6),), symmetry)
    free = pack(figure, options=SearchOptions(stop=MaxStarts(2), workers=1))
    assert set(free.kinds.values()) <= {"corner", "edge"}
    bound = replace(figure, flaps=tuple(replace(f, place=("edge",)) for f in flaps))
    assert pack(
        bound, options=SearchOptions(stop=MaxStarts(2), workers=1)
    ).scale == pytest.approx(free.scale, rel=1e-9)


def test_middle_flaps_keep_their_disc_on_the_sheet():
    # one disc of radius r and two points at distance 2 r in the corners: the centre is the best
    figure = Figure(
        "eye",
        (Flap("m", "hub", 1.0, place=("middle",)), *(Flap(f"f{k}", "hub", 1.0) for k in "ab")),
    )
    packing = pack(figure, options=SearchOptions(stop=MaxStarts(1), workers=1))
    x, y = packing.tips[0]
    assert min(x, y, 1 - x, 1 - y) >= packing.scale * (1 - 1e-9)


@pytest.mark.parametrize("flex", [0.02, 0.1])
def test_flex_holds_the_total_and_never_hurts(flex):
    plain = pack(FIGURE, options=SearchOptions(stop=MaxStarts(2), workers=1))
    loose = pack(
        FIGURE.with_flex(flex), options=SearchOptions(stop=MaxStarts(2), workers=1), near=plain
    )
    asked, used = loose.tree.lengths, np.array(loose.lengths)
    assert used.sum() == pytest.approx(asked.sum(), rel=1e-12)
    assert (np.abs(used / asked - 1) <= flex * (1 + 1e-9)).all()
    assert loose.scale >= plain.scale
    assert loose.violations() == []


def test_flex_of_two_flaps_has_nothing_to_gain():
    # their sum is held, and only their sum matters
    flaps = (Flap("a", "hub", 1.0, flex=0.2), Flap("b", "hub", 2.0, flex=0.2))
    packing = pack(Figure("rod", flaps), options=SearchOptions(stop=MaxStarts(1), workers=1))
    assert packing.scale == pytest.approx(math.sqrt(2) / 3, rel=1e-9)


def test_whole_rivers_are_preferred():
    figure = random_figure(4, 7, joints=3)
    free = pack(figure, options=SearchOptions(stop=MaxStarts(1), workers=1))
    whole = pack(figure, options=SearchOptions(stop=MaxStarts(1), workers=1), whole_rivers=True)
    assert len(whole.split_rivers) <= len(free.split_rivers)
    assert whole.split_rivers == ()
    assert (
        pack(
            replace(figure, whole_rivers=True),
            options=SearchOptions(stop=MaxStarts(1), workers=1),
        ).tips
        == whole.tips
    )
