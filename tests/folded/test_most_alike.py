"""Creases made like their images around one after the other, against a general solver and a plain referee."""

from __future__ import annotations

import numpy as np
import pytest

from packer.deadline import Deadline
from packer.files.fold_json import read_fold
from packer.folded.form import fold
from packer.folded.layers import flat_base
from packer.folded.ordering import (
    construct,
    grid_construct,
    growing,
    most_alike,
    neighbourhoods,
)
from packer.folded.ordering.construct import constructed, joints_outwards
from packer.folded.ordering.grid_images import images_of
from packer.folded.ordering.grid_rings import GridRings
from packer.folded.ordering.grid_tour import grown, starts
from packer.folded.ordering.growing import GrowingSearch
from packer.folded.ordering.known_order import KnownOrder
from packer.folded.ordering.mirror import mirror_of
from packer.folded.ordering.mirrored_layers import MirroredLayers
from packer.folded.ordering.neighbourhoods import FreeLayersSearch
from packer.grid.grid_creases import grid_creases
from tests.folded.by_cp_sat import conditions, overlaps, says_valley
from tests.folded.slow_order import faults
from tests.folded.test_ordering import PATTERNS
from tests.grid.whole import filled, whole_figure

GRIDS = ((3, 2, 18), (4, 2, 3), (4, 2, 8), (4, 2, 9), (5, 2, 7))
"""Flaps, rivers and seed of random figures on grids; of the third some creases cannot be alike."""

HARD = (4, 2, 8)


def on_grid(figure):
    """A mirrored box-pleated pattern and an order grown without a thought of its images."""
    flaps, rivers, seed = figure
    pattern = grid_creases(filled(whole_figure(seed, flaps, rivers, "book"), seed))
    mirror = mirror_of(pattern)
    for root in joints_outwards(pattern):
        rings = GridRings(pattern, root)
        if rings.whole and images_of(rings, mirror) is not None:
            for start in starts(rings):
                tour = grown(rings, start)
                if not tour.left:
                    return MirroredLayers(rings, mirror), np.argsort(tour.order())
    raise AssertionError("no tour takes in all rings")


def off_grid():
    """Random figure 175, of which two pairs of creases cannot be alike."""
    pattern = read_fold(PATTERNS / "mirrored_175.fold")
    made = constructed(pattern)
    return MirroredLayers(made.molecules, mirror_of(pattern)), made.rank


def through(layers, rank, radii):
    """What is known after neighbourhoods of so many creases."""
    known = KnownOrder(layers, rank)
    search = FreeLayersSearch(known, Deadline.after())
    before = known.unlike
    for radius in radii:
        search.through(radius, 100)
        assert (known.unlike <= before).all()  # what is alike stays so
        assert (known.refuted <= known.unlike).all()
        before = known.unlike
    return known


def everywhere(layers, rank):
    known = KnownOrder(layers, rank)
    FreeLayersSearch(known, Deadline.after()).everywhere(10_000)
    return known


def all_at_once(layers, rank):
    pytest.importorskip("pysolvers")
    known = KnownOrder(layers, rank)
    GrowingSearch(known, 1_000_000, Deadline.after(), lambda _: None).run()
    return known


def grown_from_few(layers, rank):
    """As where there are too many layers to look at all from the outset."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(growing, "FEW_LAYERS", 0)
        return all_at_once(layers, rank)


def breaks_nothing(known):
    base = known.layers.base
    return (
        faults(base.pattern, fold(base.pattern, base.form.root), known.rank[base.layer_of]) == 0
    )


@pytest.mark.parametrize("figure", GRIDS)
@pytest.mark.parametrize(
    "search", [lambda *made: through(*made, (3, 6)), everywhere, all_at_once, grown_from_few]
)
def test_orders_break_nothing_and_fold_more_alike(search, figure):
    layers, rank = on_grid(figure)
    known = search(layers, rank)
    assert known.unlike.sum() < layers.unlike(rank).sum()
    assert breaks_nothing(known)


@pytest.mark.parametrize("figure", GRIDS)
def test_what_comes_at_once_with_all_layers_free_breaks_nothing(figure, monkeypatch):
    """Until two are left open: what is alike stays so, and nothing is said of what is left open."""
    monkeypatch.setattr(neighbourhoods, "MISSES", 2)
    layers, rank = on_grid(figure)
    known = KnownOrder(layers, rank)
    before = known.unlike
    search = FreeLayersSearch(known, Deadline.after())
    search.first_everywhere()
    assert (known.unlike <= before).all()
    assert known.unlike.sum() < before.sum()
    assert breaks_nothing(known)
    shown = known.refuted.copy()
    search.everywhere(10_000)
    assert not (shown & ~known.unlike).any()


SEARCHES = {
    "grid, few layers": lambda: through(*on_grid(HARD), (3, 4, 6, 8)),
    "grid, all layers": lambda: everywhere(*on_grid(HARD)),
    "grid, ever more layers": lambda: grown_from_few(*on_grid(HARD)),
    "circles, all layers": lambda: everywhere(*off_grid()),
    "circles, compiled": lambda: all_at_once(*off_grid()),
    "circles, ever more layers": lambda: grown_from_few(*off_grid()),
}


@pytest.mark.parametrize("search", SEARCHES)
def test_a_general_solver_agrees_that_creases_cannot_be_alike(search):
    """CP-SAT (OR-tools) on all pairs and triples of layers: not with all alike that are."""
    cp_model = pytest.importorskip("ortools.sat.python.cp_model")
    known = SEARCHES[search]()
    layers = known.layers
    assert not known.open.any() or "few" in search
    alike = np.flatnonzero(~known.unlike).tolist()
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    assert known.refuted.any()
    for row in np.flatnonzero(known.refuted)[:1].tolist():
        model = cp_model.CpModel()
        under = conditions(model, layers.base)
        for k in [*alike, row]:
            one, other = (
                says_valley(under, layers.base, *sides) for sides in layers.pairs[k].tolist()
            )
            model.add(one == other)
        assert solver.solve(model) == cp_model.INFEASIBLE


@pytest.mark.parametrize("figure", GRIDS)
def test_few_layers_show_of_no_crease_that_cannot_be_alike_which_then_is(figure):
    """Asked at the outset, of what a search with all layers free makes alike."""
    layers, rank = on_grid(figure)
    known = KnownOrder(layers, rank)
    search = FreeLayersSearch(known, Deadline.after())
    asked = np.flatnonzero(known.open)
    for row in asked.tolist():
        near = np.flatnonzero(known.distances(np.array([row])) <= 5)
        search._refute(near, np.array([row]), 100)
    shown = known.refuted.copy()
    search.everywhere(10_000)
    assert not (shown & ~known.unlike).any()
    assert known.unlike.sum() < len(asked)


@pytest.mark.parametrize("alone", [1, growing.CONFLICTS_ALONE])
@pytest.mark.parametrize("together", [1, growing.CONFLICTS_TOGETHER])
@pytest.mark.parametrize("few", [0, growing.FEW_OVERLAPS])
def test_growing_ends_in_an_order_in_which_no_crease_more_can_be_alike(
    few, together, alone, monkeypatch
):
    """However soon a question is left open, asked by itself, or joined with others: by the search of our own."""
    monkeypatch.setattr(growing, "FEW_OVERLAPS", few)
    monkeypatch.setattr(growing, "CONFLICTS_TOGETHER", together)
    monkeypatch.setattr(growing, "CONFLICTS_ALONE", alone)
    known = grown_from_few(*on_grid(HARD))
    assert breaks_nothing(known)
    assert not known.open.any()
    left = everywhere(known.layers, known.rank)
    assert (left.unlike == known.unlike).all()
    assert not left.open.any()


def test_overlaps_are_those_of_every_pair():
    layers, _ = on_grid(GRIDS[0])
    assert (layers.relations.overlap == overlaps(layers.base)).all()


@pytest.mark.usefixtures("either_search")
@pytest.mark.parametrize("where", ["within", "before"])
def test_ctrl_c_keeps_the_order_that_is_known(where, monkeypatch):
    """On a pattern off the grid and one on it, while folds are made like their images, or before."""

    patterns = [layers.base.pattern for layers, _ in (off_grid(), on_grid(HARD))]

    def stop(*_):
        raise KeyboardInterrupt

    if where == "within":
        monkeypatch.setattr(most_alike.GrowingSearch, "run", stop)
        monkeypatch.setattr(most_alike.FreeLayersSearch, "run", stop)
    else:
        monkeypatch.setattr(construct.MirroredSearch, "all_alike", stop)
        monkeypatch.setattr(grid_construct.MirroredRoots, "searched", stop)
    for pattern in patterns:
        base = flat_base(pattern)
        assert base.order is not None
        assert faults(base.pattern, base.form, base.order.of_faces) == 0


@pytest.mark.usefixtures("either_search")
def test_without_time_the_order_stays_as_it_is():
    layers, rank = on_grid(HARD)
    same = most_alike.most_alike(layers, rank, 1000, Deadline.after(0), lambda _: None)
    assert same.rank is rank
    assert same.shown == 0


@pytest.mark.usefixtures("either_search")
def test_a_search_that_ends_in_between_keeps_what_it_has():
    """After so few contradictions that nothing, or little, is shown."""
    layers, rank = on_grid(HARD)
    some = most_alike.most_alike(layers, rank, 1, Deadline.after(), lambda _: None)
    assert layers.valid(some.rank)
    assert layers.creases_unlike(some.rank) <= layers.creases_unlike(rank)
    assert some.shown <= layers.creases_unlike(some.rank)
