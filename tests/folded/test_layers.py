"""Layer orders: valid by an independent cut through the stack, and by Maekawa's theorem."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest
import shapely

from packer import Sheet
from packer.creases.completion.complete import crease_pattern
from packer.deadline import Deadline
from packer.folded import layers, overlaps
from packer.folded.checks import findings
from packer.folded.form import fold
from packer.folded.layers import flat_base
from packer.folded.ordering.construct import joints_outwards
from packer.folded.overlaps import layers_of
from packer.search.options import SearchOptions
from packer.search.pack import pack
from packer.search.stopping import MaxStarts
from tests.folded.cutting import random_cuts
from tests.folded.slow_order import overlapping
from tests.folded.textbook import bird, fish, frog, river, waterbomb
from tests.strategies import random_figure

BASES = {"fish": fish, "bird": bird, "frog": frog, "river": river, "waterbomb": waterbomb}


@pytest.fixture(scope="module", name="random_patterns")
def _random_patterns():
    """Closed packings of random figures with rivers, from short searches."""
    return [
        crease_pattern(
            pack(
                random_figure(n, n),
                Sheet(),
                options=SearchOptions(stop=MaxStarts(1), workers=1),
            )
        )
        for n in (4, 5, 7)
    ]


def above_of(base):
    """(f, f) signs: +1 where the row's face lies above the column's."""
    rank = base.order.of_faces
    return np.sign(rank[:, None] - rank)


@pytest.mark.parametrize("name", BASES)
def test_textbook_bases_have_an_order(name):
    base = flat_base(BASES[name]())
    assert base.status == "valid layer order"
    assert findings(base.pattern, base.form) == []  # Maekawa among them
    assert random_cuts(base.pattern, base.form, above_of(base), 40) == 0


def test_random_patterns_have_an_order(random_patterns):
    for pattern in random_patterns:
        base = flat_base(pattern)
        assert base.status == "valid layer order"
        assert findings(base.pattern, base.form) == []
        assert random_cuts(base.pattern, base.form, above_of(base), 40) == 0


def test_cuts_notice_layers_that_are_exchanged(random_patterns):
    """The judge must be able to say no: single swaps of a valid order are found out."""
    pattern = random_patterns[1]
    base = flat_base(pattern)
    above = above_of(base)
    of, overlap = base.order.layers.layer_of, overlapping(base.order.layers)
    pairs = np.argwhere(np.triu(overlap))
    noticed = 0
    for k in range(20):
        a, b = pairs[np.random.default_rng(k).integers(len(pairs))]
        swap = ((of[:, None] == a) & (of == b)) | ((of[:, None] == b) & (of == a))
        wrong = np.where(swap, -above, above)
        noticed += random_cuts(pattern, base.form, wrong, 40, seed=k) > 0
    assert noticed >= 14


def test_folds_follow_from_the_order():
    """A waterbomb's ridges agree, and its hinges make up Maekawa's difference of two."""
    base = flat_base(waterbomb())
    roles = np.array(base.pattern.roles)
    folds = np.array(base.pattern.folds)
    assert len(set(folds[roles == "ridge"])) == 1
    assert sorted(folds[roles == "hinge"]) in (["M"] * 3 + ["V"], ["M"] + ["V"] * 3)


def test_ridges_of_the_classic_bases_are_valleys_and_axials_mountains():
    """As in the textbook bird and frog bases: one valley axial crease at the middle tip."""
    for make in (bird, frog):
        pattern = flat_base(make()).pattern
        folds = {
            role: [f for f, r in zip(pattern.folds, pattern.roles, strict=True) if r == role]
            for role in ("ridge", "axial")
        }
        assert set(folds["ridge"]) == {"V"}
        assert folds["axial"].count("V") == 1


def test_a_flipped_fold_is_noticed(random_patterns):
    for pattern in [bird(), *random_patterns]:
        base = flat_base(pattern)
        inner = ~pattern.on_border
        for edge, letter in enumerate(base.pattern.folds):
            if letter not in "MV" or not inner[pattern.edges[edge]].any():
                continue
            folds = list(base.pattern.folds)
            folds[edge] = "M" if letter == "V" else "V"
            wrong = base.pattern.with_folds(folds)
            assert "Maekawa" in {f.check for f in findings(wrong, base.form)}


def test_a_fold_made_flat_is_noticed():
    base = flat_base(bird())
    folds = list(base.pattern.folds)
    folds[folds.index("M")] = "F"
    wrong = base.pattern.with_folds(folds)
    assert "folded or flat" in {f.check for f in findings(wrong, base.form)}


def test_without_time_nothing_is_claimed():
    base = flat_base(bird(), deadline=Deadline.after(0))
    assert base.order is None
    assert base.status == "foldable at every vertex, layer order not found"
    assert set(base.pattern.folds) == {"B", "U"}


def test_ctrl_c_claims_nothing(monkeypatch):
    def stop(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr(layers, "constructed", stop)
    base = flat_base(bird())
    assert base.order is None
    assert findings(base.pattern, base.form) == []


def test_the_same_pattern_gives_the_same_order(random_patterns):
    one, other = (flat_base(random_patterns[1]) for _ in range(2))
    assert one.pattern.folds == other.pattern.folds
    assert (one.order.rank == other.order.rank).all()


def test_order_does_not_depend_on_where_the_figure_lies():
    """Moving the faces' numbering about leaves a valid order to be found."""
    pattern = fish()
    shuffled = replace(pattern, faces=tuple(reversed(pattern.faces)))
    assert flat_base(shuffled).status == "valid layer order"


def test_roots_are_all_joints_the_centre_first():
    pattern = river()
    order = list(joints_outwards(pattern))
    assert sorted(order) == list(range(pattern.tree.n_tips, pattern.tree.n_nodes))


def test_all_layers_of_a_star_lie_over_each_other_near_the_joint():
    stack = layers_of(pattern := frog(), fold(pattern))
    assert stack.most == len(pattern.faces) == 48


def test_the_order_of_a_waterbomb_is_one_of_those_that_exist():
    """Its eight layers lie in one stack: of all 8! stacks, those whose creases are nested."""
    pattern = waterbomb()
    base = flat_base(pattern)
    stack = tuple(np.argsort(base.order.rank).tolist())
    valid = [
        p for p in permutations(range(8)) if crosses_nowhere(p, pattern, base.order.layers)
    ]
    assert stack in valid


def crosses_nowhere(stack, pattern, layers):
    """Whether the creases of a single stack are nested on each of the lines they lie on."""
    height = {layer: k for k, layer in enumerate(stack)}
    lines = {}
    for edge, a, b in layers.creases.tolist():
        lines.setdefault(pattern.roles[edge], []).append(sorted((height[a], height[b])))
    return not any(
        p[0] < q[0] < p[1] < q[1] for arcs in lines.values() for p in arcs for q in arcs
    )


@pytest.mark.parametrize(
    ("mirrored", "said"),
    [
        (layers.Mirrored(None), "not looked at, or no mirror line"),
        (layers.Mirrored(0), "left as right"),
        (
            layers.Mirrored(4, 4),
            "4 creases .*: a search of all orders with .* this joint shows that none of them",
        ),
        (
            layers.Mirrored(4, 4, aside=True),
            "4 creases .*: .* none of them .*; from the joints on the mirror line no order was",
        ),
        (layers.Mirrored(4, 2), "4 creases .*: of 2 of them a search of all orders with"),
        (layers.Mirrored(4), "4 creases .*: whether they could be like it was not decided"),
    ],
)
def test_what_is_not_mirrored_is_said_with_its_reason(mirrored, said):
    assert re.fullmatch(f"{said}.*", str(mirrored))


def test_sides_that_layers_share_are_cut_once(random_patterns, monkeypatch):
    """Lines counted: a crease is a side of both layers that meet there, a base folds many onto one."""
    pattern = random_patterns[2]
    outlines = flat_base(pattern).order.layers
    cut = []
    union = overlaps.shapely.union_all
    monkeypatch.setattr(
        overlaps.shapely,
        "union_all",
        lambda lines, **more: cut.append(lines) or union(lines, **more),
    )
    cells, cover = outlines.cells, outlines.cover
    (lines,) = cut
    sides = shapely.get_num_coordinates(shapely.boundary(outlines.regions)) - 1
    assert len(lines) < 0.6 * sides.sum()
    ends = np.round(np.sort(shapely.get_coordinates(lines).reshape(-1, 2, 2), axis=1), 6)
    assert len(np.unique(ends.reshape(-1, 4), axis=0)) == len(lines)
    # each layer is as large as its cells
    areas = cover.T @ shapely.area(cells)
    assert areas == pytest.approx(shapely.area(outlines.regions), abs=1e-6)


def test_what_is_seen_is_the_outermost_layer_of_each_cell(random_patterns):
    for pattern in [bird(), *random_patterns]:
        order = flat_base(pattern).order
        rank = order.rank
        for back in (False, True):
            seen = order.layers.seen(rank, back=back)
            areas = dict.fromkeys(seen, 0.0)
            for cell, cover in zip(order.layers.cells, order.layers.cover, strict=True):
                rows = np.flatnonzero(cover)
                areas[int(min(rows, key=lambda k: rank[k] if back else -rank[k]))] += cell.area
            assert {k: region.area for k, region in seen.items()} == pytest.approx(areas)
