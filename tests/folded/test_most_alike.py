"""Creases made like their images around one after the other, against a general solver and a plain referee."""

from __future__ import annotations

import numpy as np
import pytest

from packer.deadline import Deadline
from packer.files.fold_json import read_fold
from packer.folded.form import fold
from packer.folded.layers import flat_base
from packer.folded.ordering import construct, grid_construct, most_alike
from packer.folded.ordering.construct import constructed, joints_outwards
from packer.folded.ordering.grid_images import images_of
from packer.folded.ordering.grid_rings import GridRings
from packer.folded.ordering.grid_tour import grown, starts
from packer.folded.ordering.mirror import mirror_of
from packer.folded.ordering.mirrored_layers import MirroredLayers
from packer.folded.ordering.most_alike import AlikeSearch
from packer.grid.grid_creases import grid_creases
from tests.folded.by_cp_sat import conditions, overlaps, says_valley
from tests.folded.slow_order import faults
from tests.folded.test_ordering import PATTERNS
from tests.grid.whole import filled, whole_figure

GRIDS = ((3, 2, 18), (4, 2, 3), (4, 2, 8), (4, 2, 9), (5, 2, 7))
"""Flaps, rivers and seed of random figures on grids; of the third some creases cannot be alike."""

HARD = (4, 2, 8)

pytestmark = pytest.mark.usefixtures("either_search")


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


def searched(layers, rank, radii):
    search = AlikeSearch(layers, rank, Deadline.after())
    before = search.unlike
    for radius in radii:
        search.through(radius, 100)
        assert (search.unlike <= before).all()  # what is alike stays so
        assert (search.refuted <= search.unlike).all()
        before = search.unlike
    return search


@pytest.mark.parametrize("figure", GRIDS)
def test_orders_around_which_layers_were_free_break_nothing_and_fold_more_alike(figure):
    layers, rank = on_grid(figure)
    search = searched(layers, rank, (3, 6))
    assert search.unlike.sum() < layers.unlike(rank).sum()
    base = layers.base
    of_faces = search.rank[base.layer_of]
    assert faults(base.pattern, fold(base.pattern, base.form.root), of_faces) == 0


@pytest.mark.parametrize("figure", GRIDS)
def test_what_comes_at_once_with_all_layers_free_breaks_nothing(figure, monkeypatch):
    """Until two are left open: what is alike stays so, and nothing is said of what is left open."""
    monkeypatch.setattr(most_alike, "MISSES", 2)
    layers, rank = on_grid(figure)
    search = AlikeSearch(layers, rank, Deadline.after())
    before = search.unlike
    search.first_everywhere()
    assert (search.unlike <= before).all()
    assert search.unlike.sum() < before.sum()
    base = layers.base
    of_faces = search.rank[base.layer_of]
    assert faults(base.pattern, fold(base.pattern, base.form.root), of_faces) == 0
    shown = search.refuted.copy()
    search.everywhere(10_000)
    assert not (shown & ~search.unlike).any()


@pytest.mark.parametrize(
    ("made", "radii"),
    [(lambda: on_grid(HARD), (3, 4, 6, 8)), (lambda: on_grid(HARD), ()), (off_grid, ())],
    ids=["grid, few layers", "grid, all layers", "circles, all layers"],
)
def test_a_general_solver_agrees_that_creases_cannot_be_alike(made, radii):
    """CP-SAT (OR-tools) on all pairs and triples of layers: not with all alike that are."""
    cp_model = pytest.importorskip("ortools.sat.python.cp_model")
    layers, rank = made()
    search = searched(layers, rank, radii)
    if not radii:
        search.everywhere(10_000)
        assert not search.open.any()
    alike = np.flatnonzero(~search.unlike).tolist()
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    assert search.refuted.any()
    for row in np.flatnonzero(search.refuted)[:1].tolist():
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
    search = AlikeSearch(layers, rank, Deadline.after())
    asked = np.flatnonzero(search.open)
    for row in asked.tolist():
        near = np.flatnonzero(search._distances(row) <= 5)
        search._refute(near, np.array([row]), 100)
    shown = search.refuted.copy()
    search.everywhere(10_000)
    assert not (shown & ~search.unlike).any()
    assert search.unlike.sum() < len(asked)


def test_overlaps_are_those_of_every_pair():
    layers, _ = on_grid(GRIDS[0])
    assert (layers.relations.overlap == overlaps(layers.base)).all()


@pytest.mark.parametrize("where", ["within", "before"])
def test_ctrl_c_keeps_the_order_that_is_known(where, monkeypatch):
    """On a pattern off the grid and one on it, while folds are made like their images, or before."""

    patterns = [layers.base.pattern for layers, _ in (off_grid(), on_grid(HARD))]

    def stop(*_):
        raise KeyboardInterrupt

    if where == "within":
        monkeypatch.setattr(most_alike.AlikeSearch, "_gain", stop)
    else:
        monkeypatch.setattr(construct.MirroredSearch, "all_alike", stop)
        monkeypatch.setattr(grid_construct.MirroredRoots, "searched", stop)
    for pattern in patterns:
        base = flat_base(pattern)
        assert base.order is not None
        assert faults(base.pattern, base.form, base.order.of_faces) == 0


def test_without_time_the_order_stays_as_it_is():
    layers, rank = on_grid(HARD)
    same = most_alike.most_alike(layers, rank, 1000, Deadline.after(0), lambda _: None)
    assert same.rank is rank
    assert same.shown == 0
