"""Layer orders of box-pleated patterns: against a slow twin, mutations, and in samples."""

from __future__ import annotations

import itertools
from random import Random

import numpy as np
import pytest

from packer.folded.checks import findings
from packer.folded.layers import flat_base
from packer.folded.ordering import judge
from packer.folded.ordering.construct import joints_outwards
from packer.folded.ordering.crossings import Crossings
from packer.folded.ordering.grid_construct import Rounds, constructed_on_grid
from packer.folded.ordering.grid_images import images_of
from packer.folded.ordering.grid_mirrored_tour import MirroredTourGrowth
from packer.folded.ordering.grid_rings import SPACE, GridRings
from packer.folded.ordering.grid_tour import GridTour, grown, starts, tops_nest
from packer.folded.ordering.judge import judged, lines_of, nested_pairs
from packer.folded.ordering.mirror import mirror_of, unlike_images
from packer.folded.ordering.mirrored import MirroredSearch
from packer.folded.ordering.mirrored_layers import MirroredLayers
from packer.grid.grid_creases import grid_creases
from packer.model.figure import Figure, Flap, River
from tests.folded.slow_order import faults, overlapping
from tests.grid.whole import filled, star, whole_figure


@pytest.fixture(scope="module", name="patterns")
def _patterns():
    """Random figures with rivers on whole cells; the first has closed strips, the last a wide one."""
    figures = [filled(whole_figure(seed, flaps, 3), seed) for seed, flaps in ((1, 5), (5, 8))]
    figures.append(filled(star(2, 3, 2, 2, 1), 2, slope=2))
    return [grid_creases(packing) for packing in figures]


def broken(crossings, rank):
    """All pairs asked one by one: taco-tortillas and taco-tacos that an order breaks."""
    return sum(len(rows) for rows in crossings.faults(rank))


def test_the_slow_twin_finds_no_fault(patterns):
    for pattern in patterns:
        base = flat_base(pattern)
        assert base.order is not None
        assert not findings(base.pattern, base.form)
        assert faults(base.pattern, base.form, base.order.of_faces) == 0


def test_creases_unlike_their_mirror_image_are_counted_on_a_grid():
    """A random figure in book symmetry; counted anew by the places of creases alone."""
    pattern = grid_creases(filled(whole_figure(3, 6, 3, "book"), 3))
    base = flat_base(pattern)
    ends = np.round(pattern.points[pattern.edges], 6)
    fold_at = {
        frozenset(map(tuple, pair)): fold
        for pair, fold in zip(ends.tolist(), base.pattern.folds, strict=True)
    }
    width = pattern.sheet.width
    unlike = sum(
        fold != fold_at[frozenset((round(width - x, 6), y) for x, y in pair)]
        for pair, fold in fold_at.items()
    )
    assert base.mirrored.unlike == unlike
    assert base.mirrored.boxed
    # one way after the other, nothing looked at but what lies above, it is more
    rings = GridRings(pattern, base.form.root)
    order = next(t for s in starts(rings) if not (t := grown(rings, s)).left).order()
    assert len(unlike_images(rings, np.argsort(order), mirror_of(pattern))) > unlike


def test_a_place_tells_how_many_layers_lie_below_what_is_hung_there():
    """Each ring with nothing hung on it is taken out and looked for where it was."""
    pattern = grid_creases(filled(whole_figure(3, 6, 3, "book"), 3))
    rings = GridRings(pattern, flat_base(pattern).form.root)
    seen = 0
    for start in starts(rings)[:12]:
        tour = grown(rings, start)
        order, bearing = tour.order(), {ring for ring, _, _ in tour.hung}
        for key, (ring, *others) in tour.hung.items():
            if ring not in bearing and not others:
                rest = {k: there for k, there in tour.hung.items() if k != key}
                cuts = {k: cut for k, cut in tour.cuts.items() if k != ring}
                below = GridTour(rings, tour.start, cuts, rest).places([key])[key]
                own = set(rings.all[ring].place)
                assert set(order[below : below + len(own)]) == own
                seen += 1
    assert seen >= 12


def test_creases_unlike_are_foreseen_of_a_ring_that_is_hung():
    """What each ring is said to add is, over all, what the whole order has."""
    pattern = grid_creases(filled(whole_figure(3, 6, 3, "book"), 3))
    mirror = mirror_of(pattern)
    told = []
    for root in joints_outwards(pattern):
        rings = GridRings(pattern, root)
        images = images_of(rings, mirror)
        if images is None:
            continue
        for start in starts(rings, images)[:3]:
            growth = Foreseen(GridTour(rings, start[0]), images, 1.0, None)
            if not growth.from_cut(start[1]).left:
                rank = np.argsort(growth.tour.order())
                assert growth.unlike == len(unlike_images(rings, rank, mirror)) / 2
                told.append(growth.unlike)
    assert max(told) > 0


def test_beside_the_mirror_line_no_layer_is_held_like_its_image():
    """Seen from a hand some hinge is folded whose image is not, so that layers have no images."""
    flaps = (
        Flap("tail", "rear", 1.0, place=("axis",)),
        Flap("thumb", "hand", 1.0, pair=True),
        Flap("finger", "hand", 1.0, pair=True),
    )
    arm = River("arm", ("rear", "hand"), 1.0, pair=True)
    pattern = grid_creases(filled(Figure("hands", flaps, (arm,), symmetry="book"), 1))
    mirror = mirror_of(pattern)
    seen = [GridRings(pattern, root) for root in joints_outwards(pattern)]
    beside = [rings for rings in seen if images_of(rings, mirror) is None]
    assert len(beside) == 2
    for rings in beside:
        rank = np.arange(len(rings.polygon_of))
        layers = MirroredLayers(rings, mirror)
        search = MirroredSearch(layers)
        assert not layers.own_image
        assert search.alike_near(rank.tolist()).impossible
        assert search.own_image_conditions is None


class Foreseen(MirroredTourGrowth):
    """Counts what each ring that is hung is said to add."""

    unlike = 0

    def hung(self, move):
        order, places = self.tour.order(), self.tour.places([(move.ring, move.k, move.where)])
        rank = np.full(len(self.rings.polygon_of), np.nan)
        rank[order] = np.arange(len(order))
        adds = self.adds(move, rank, places)
        done = super().hung(move)
        self.unlike += adds * done
        return done


def test_the_image_of_a_ring_is_walked_the_other_way_round():
    """Between the images of two neighbours lies the image of the place between them."""
    pattern = grid_creases(filled(whole_figure(3, 6, 3, "book"), 3))
    rings, mirror = GridRings(pattern, flat_base(pattern).form.root), mirror_of(pattern)
    images, of_layer = images_of(rings, mirror), mirror.of_sets(rings.layer_of)
    for k, ring in enumerate(rings.all):
        there = rings.all[images.ring[k]].layers
        for at, layer in enumerate(ring.layers):
            if layer != SPACE:
                assert there[images.place(k, at) - 1] == of_layer[layer]


def test_layers_exchanged_are_noticed_by_judge_and_twin_alike(patterns):
    """Any two layers that overlap, of the first pattern: 1 to 9 places apart in the order."""
    base = flat_base(patterns[0])
    layers = base.order.layers
    at = np.argsort(base.order.rank)
    crossings = Crossings(
        base.pattern, base.form, layers.layer_of, layers.creases, layers.flipped
    )
    random, seen, noticed = Random(1), 0, 0
    for _ in range(12):
        low = random.randrange(len(at) - 9)
        a, b = at[low], at[low + random.randrange(1, 9)]
        if overlapping(layers)[a, b]:
            rank = base.order.rank.copy()
            rank[[a, b]] = rank[[b, a]]
            twin = faults(base.pattern, base.form, rank[layers.layer_of]) > 0
            assert (judged(crossings, rank).faults > 0) == twin == (broken(crossings, rank) > 0)
            seen, noticed = seen + 1, noticed + twin
    assert seen >= 4
    assert noticed > 0.5 * seen


def test_a_fold_turned_over_is_noticed(patterns):
    """The folds follow from the order: another letter is another order, or none."""
    base = flat_base(patterns[1])
    folds = list(base.pattern.folds)
    k = next(k for k, fold in enumerate(folds) if fold == "M")
    folds[k] = "V"
    assert findings(base.pattern.with_folds(folds), base.form)


def test_what_bits_say_of_crossings_is_what_the_outlines_say(patterns):
    """Every crease across a strip against every ring, by whole numbers and by shapely."""
    for pattern in patterns:
        rings = GridRings(pattern, pattern.tree.n_tips)
        roles = np.array(pattern.roles)[rings.creases[:, 0]]
        row_of = {
            frozenset(sides): row
            for row, (_, *sides) in enumerate(rings.creases.tolist())
            if roles[row] not in {"axial", "between"}
        }
        for ring in rings.all:
            for first, second, bits, _, _ in ring.spans:
                row = row_of[frozenset((ring.layers[first], ring.layers[second]))]
                for other in rings.all:
                    layers = np.array([x for x in other.layers if x != SPACE])
                    layers = layers[~np.isin(layers, rings.creases[row, 1:])]
                    crossed = rings.crossings.across(np.full(len(layers), row), layers).any()
                    if other is not ring:
                        assert bool(bits & other.covered) == crossed


def test_a_ring_is_cut_only_where_its_own_creases_cross_nothing(patterns):
    for pattern in patterns:
        rings = GridRings(pattern, pattern.tree.n_tips)
        assert rings.whole
        for ring in rings.all:
            own = [x for x in ring.layers if x != SPACE]
            inside = np.isin(rings.creases[:, 1:], own).all(axis=1)
            rows = np.flatnonzero(inside)
            for cut in range(len(ring.layers)):
                turned = ring.layers[cut:] + ring.layers[:cut]
                at = np.array([x for x in turned if x != SPACE])
                clear = not len(rings.crossings.tortillas(rows, at))
                assert clear == (cut in ring.cuts)


def test_every_complete_tour_holds(patterns):
    """As the proof says: whatever the root and the place begun at, nothing crosses."""
    complete = 0
    for pattern in patterns:
        for root in range(pattern.tree.n_tips, pattern.tree.n_nodes):
            rings = GridRings(pattern, root)
            for start in starts(rings)[:6]:
                tour = grown(rings, start)
                if not tour.left:
                    rank = np.argsort(tour.order())
                    assert broken(rings.crossings, rank) == 0
                    complete += 1
    assert complete > 10


def test_tops_of_a_polygon_that_cross_are_seen(patterns):
    rings = GridRings(patterns[0], patterns[0].tree.n_tips)
    tour = next(t for s in starts(rings) if not (t := grown(rings, s)).left)
    crossed = 0
    for polygon in sorted({ring.polygon for ring in rings.all}):
        order = tour.order_within(polygon)
        assert tops_nest(rings, polygon, order)
        for a, b in itertools.combinations(range(len(order)), 2):
            other = list(order)
            other[a], other[b] = other[b], other[a]
            crossed += not tops_nest(rings, polygon, other)
    assert crossed


def test_pairs_nest_like_parentheses():
    assert nested_pairs([[0, 5], [1, 2], [3, 4], [6, 7]])
    assert not nested_pairs([[0, 2], [1, 3]])
    # a layer may end one crease and begin the next
    assert nested_pairs([[0, 1], [1, 2]])


def test_lines_hold_the_pairs_that_are_found_one_by_one(patterns):
    base = flat_base(patterns[0])
    layers = base.order.layers
    crossings = Crossings(
        base.pattern, base.form, layers.layer_of, layers.creases, layers.flipped
    )
    rows = np.arange(len(layers.creases))
    together = set()
    for line in lines_of(crossings, rows):
        for (a, s, e), (b, t, f) in itertools.combinations(
            zip(line.rows.tolist(), line.start, line.end, strict=True), 2
        ):
            if min(e, f) - max(s, t) > crossings.tolerance:
                together.add((min(a, b), max(a, b)))
    assert together == {tuple(pair) for pair in crossings.tacos.tolist()}


def test_a_large_order_is_judged_in_columns_and_says_so(patterns, monkeypatch):
    monkeypatch.setattr(judge, "MOST_FACES", 10)
    made = constructed_on_grid(patterns[0])
    assert made.judgement.faults == 0
    assert str(made.judgement) == "checked in 25% of its columns, drawn at random"
    # an order turned inside out breaks something in any quarter of the columns
    assert judged(made.rings.crossings, np.roll(made.rank, len(made.rank) // 3)).faults


def test_an_order_that_cannot_be_had_in_time_is_none(patterns):
    class Over:
        over = True

    assert constructed_on_grid(patterns[0], Over()) is None


def test_a_polygon_that_a_tour_leaves_out_is_put_in(patterns):
    """Each polygon that nothing hangs from is taken out of a whole tour, and comes back."""
    for pattern in patterns:
        rings = GridRings(pattern, constructed_on_grid(pattern).rings.form.root)
        whole = next(t for s in starts(rings) if not (t := grown(rings, s)).left)
        parents = {ring for ring, _, _ in whole.hung}
        leaves = {rings.all[k].polygon for k in whole.cuts} - {
            rings.all[k].polygon for k in parents
        }
        assert leaves
        for polygon in sorted(leaves)[:4]:
            layers = np.flatnonzero(rings.polygon_of == polygon)
            cuts = {k: at for k, at in whole.cuts.items() if rings.all[k].polygon != polygon}
            hung = {
                place: [k for k in others if k in cuts] for place, others in whole.hung.items()
            }
            tour = GridTour(rings, whole.start, cuts, hung)
            assert sorted(tour.left) == layers.tolist()
            rounds = Rounds(pattern)
            rounds.partial[0] = tour
            made = rounds.completed()
            assert made.added == 1
            assert broken(rings.crossings, made.rank) == 0
