"""From real lengths to whole ones: the front, its knees and the choice."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from packer.deadline import NEVER
from packer.drawing.marks.labels import label_box
from packer.drawing.marks.strokes import Disc, Label
from packer.drawing.plates.grid_plate import grid_plate
from packer.errors import FigureError, OptionError
from packer.files.figure_toml import figure_text, parse_figure, read_figure
from packer.grid.board import board_of
from packer.grid.cp_sat import decide
from packer.grid.grid_creases import grid_creases
from packer.grid.grid_params import DEFAULT
from packer.grid.grid_problem import GridRequest
from packer.grid.longest_lengths import BoardQuestions, longest_lengths
from packer.grid.pack_grid import pack_grid
from packer.grid.proposals import (
    BY_HAND,
    STILL_ALIKE,
    UNSEEN,
    chosen,
    fits,
    proposal,
    proposals,
)
from packer.grid.rounding import WORST_SHOWN, balanced, knees, rounded, roundings, whole
from packer.model.figure import Figure, Flap, River
from packer.model.parts import MOST_CELLS
from packer.model.problem import pose
from packer.model.tree import tree_of
from packer.search.options import SearchOptions
from packer.search.stopping import MaxEffort
from tests.benchmarks.large_figures import chain
from tests.conftest import HANDY, SAMPLES
from tests.grid.whole import star, whole_figure

LENGTHS = (1, 0.55, 0.33, 2.1, 1.7, 0.8, 1.3, 0.62, 0.9)


@pytest.fixture
def tree():
    return tree_of(star(*LENGTHS))


def worst(lengths, scale):
    """Plain reference: for each length the whole number nearest as a ratio, tried one by one."""
    found = 0.0
    for length in lengths:
        asked = length * scale
        near = [k for k in (math.floor(asked), math.floor(asked) + 1) if k >= 1]
        found = max(found, min(max(k / asked, asked / k) for k in near))
    return found - 1


def test_each_length_takes_the_nearest_ratio():
    lengths = np.array([0.2, 1.0, 1.414, 1.415, 2.449, 2.45, 9.0])
    assert whole(lengths).tolist() == [1, 1, 1, 2, 2, 3, 9]


def test_the_front_trades_size_for_error(tree):
    front = roundings(tree)
    assert all(a.unit > b.unit and a.error > b.error for a, b in itertools.pairwise(front))
    for rounding in front:
        again = rounded(tree, rounding.unit)
        assert again.lengths == rounding.lengths
        assert again.error == pytest.approx(rounding.error)
        assert rounding.error == pytest.approx(worst(LENGTHS, 1 / rounding.unit))


def test_no_scale_beats_the_front(tree):
    front = roundings(tree)
    scales = np.geomspace(0.2, 1 / front[-1].unit, 8000).tolist()
    errors = [worst(LENGTHS, scale) for scale in scales]
    for rounding in front:
        coarser = [e for s, e in zip(scales, errors, strict=True) if s <= 1 / rounding.unit]
        assert min(coarser) >= rounding.error - 1e-9
    assert min(errors) >= front[-1].error - 1e-9


def test_whole_lengths_end_the_front_without_error():
    front = roundings(tree_of(star(1, 2, 3, 5)))
    assert front[-1].error == pytest.approx(0, abs=1e-9)
    assert front[-1].unit == pytest.approx(1)


def test_knees_are_few_and_of_the_front(tree):
    front = roundings(tree)
    assert set(knees(front)) <= set(front)
    assert len(knees(front, 3)) == 3


@pytest.mark.parametrize("path", HANDY, ids=lambda p: p.stem)
def test_the_choice_is_the_best_bargain(path):
    """Plain reference: of all grids filled by hand and alike cells x (error + 5 %), else the coarsest."""
    problem = pose(read_figure(path))
    taken = chosen(problem)
    front = ((max(proposal(problem, r).least), r.error, r) for r in roundings(problem.tree))
    rows = list(itertools.takewhile(lambda row: row[0] <= 96, front))
    alike = [row for row in rows if row[1] <= 0.25]
    hand = [row for row in alike if row[0] <= 48 and fits(problem, row[2], 48)]
    usual = [row for row in hand if row[0] >= 16] or hand
    if usual:
        costs = [cells * (error + 0.05) for cells, error, _ in usual]
        assert taken == usual[costs.index(min(costs))][2]
    elif alike:
        assert taken == alike[0][2]
    else:
        assert taken == next(r for _, error, r in rows if error <= 0.5)


@pytest.mark.parametrize("name", ["goby", "heron", "octopus", "sea_horse"])
def test_a_grid_taken_by_default_is_folded_by_hand(name):
    """As promised: 48 cells at most, no length a quarter wrong."""
    packing = pack_grid(
        read_figure(SAMPLES / f"{name}.toml"), options=SearchOptions(stop=MaxEffort(2))
    )
    assert max(packing.cells) <= 48
    assert max(map(abs, packing.errors.values())) <= 0.25


def test_a_larger_grid_is_taken_only_where_no_other_serves():
    """Every rounding of the shore crab within 25 % is proven to need more than 48 cells."""
    problem = pose(read_figure(SAMPLES / "shore_crab.toml"))
    alike = [r for r in roundings(problem.tree) if r.error <= 0.25]
    assert chosen(problem) == alike[0]
    assert (
        max(
            pack_grid(
                problem,
                grid=GridRequest(unit=alike[0].unit),
                options=SearchOptions(stop=MaxEffort(2)),
            ).bound.cells
        )
        > 48
    )
    assert all(max(proposal(problem, r).least) > 48 for r in alike[1:])


def test_the_choice_is_shown_among_the_proposals():
    problem = pose(read_figure(SAMPLES / "shore_crab.toml"))
    taken = rounded(problem.tree, 0.123)
    offered = proposals(problem, taken)
    assert taken in [p.rounding for p in offered]
    assert [p.rounding.unit for p in offered] == sorted(
        (p.rounding.unit for p in offered), reverse=True
    )


def test_a_figure_of_whole_lengths_keeps_them_on_a_small_grid():
    figure = star(3, 4, 5, 3, 4)
    assert chosen(pose(figure)).error == pytest.approx(0, abs=1e-9)


def test_an_error_that_no_grid_keeps_is_refused():
    lengths = [1, math.pi, math.e, 7.7182, 5.1234]
    with pytest.raises(
        OptionError, match=r"no grid keeps every length within 0\.0%.*allow 0\."
    ):
        chosen(pose(star(*lengths)), error=1e-6)


def test_a_unit_outside_the_error_asked_is_refused():
    with pytest.raises(OptionError, match=r"makes a length .* wrong, and 1\.0% is allowed"):
        chosen(pose(star(*LENGTHS)), unit=0.4, error=0.01)


@pytest.mark.parametrize("unit", [0, -1, math.nan, math.inf])
def test_a_unit_is_a_length(tree, unit):
    with pytest.raises(OptionError, match="is no length"):
        rounded(tree, unit)


def test_a_unit_beyond_folding_is_refused(tree):
    with pytest.raises(OptionError, match=f"{MOST_CELLS} is the most"):
        rounded(tree, 0.001)


def test_an_error_is_a_fraction():
    with pytest.raises(OptionError, match="is no error"):
        chosen(pose(whole_figure(1, 5)), error=-0.1)


def toed():
    """A bird whose short toes round badly: where 37 % is coarse, the next line has far less."""
    return Figure(
        "bird",
        (
            Flap("wing", "back", 9.0, pair=True),
            Flap("toe", "foot", 0.55, pair=True),
            Flap("spur", "foot", 0.4),
            Flap("beak", "back", 2.3),
        ),
        (River("leg", ("back", "foot"), 3.0),),
    )


def test_the_unit_taken_is_a_bargain_even_on_a_finer_grid():
    """No other unit that is shown has fewer cells x (error + what nobody sees)."""
    problem = pose(toed())
    taken = chosen(problem)
    front = roundings(problem.tree)

    def price(r):
        return max(proposal(problem, r).least) * (r.error + UNSEEN)

    rivals = [
        r for r in front
        if r.error <= WORST_SHOWN and max(proposal(problem, r).least) <= BY_HAND[1]
    ]  # fmt: skip
    assert taken.error <= STILL_ALIKE or price(taken) <= min(map(price, rivals)) * (1 + 1e-9)


def test_cells_set_by_hand_are_kept():
    figure = replace(toed(), flaps=(*toed().flaps[:1], replace(toed().flaps[1], cells=3),
                                    *toed().flaps[2:]))  # fmt: skip
    packing = pack_grid(pose(figure), options=SearchOptions(stop=MaxEffort(2)))
    lengths = dict(zip(packing.tree.names, packing.rounded, strict=True))
    assert lengths["toe.left"] == lengths["toe.right"] == 3
    assert packing.violations() == []
    assert parse_figure(figure_text(figure)) == figure
    # the others are rounded as well as if the toe were not there
    free = [abs(math.log1p(e)) for n, e in packing.errors.items() if not n.startswith("toe")]
    assert math.expm1(max(free)) == pytest.approx(rounded(packing.tree, packing.unit).error)


def test_a_larger_grid_improves_the_lengths():
    """More cells are used for lengths nearer to those asked, not left over."""
    problem = pose(toed())
    least = pack_grid(problem, options=SearchOptions(stop=MaxEffort(2)))
    more = tuple(2 * n for n in least.cells)
    larger = pack_grid(
        problem, grid=GridRequest(cells=more), options=SearchOptions(stop=MaxEffort(2))
    )
    assert larger.cells == more
    assert larger.violations() == []
    assert sum(larger.lengths) > 1.5 * sum(least.lengths)
    assert larger.least_scale >= least.least_scale * (1 - 1e-9)


@pytest.mark.parametrize("sample", ["goby", "heron"])
def test_lengths_on_a_larger_grid_are_never_worse(sample):
    """The shortest part for its length, by the definition of the ratio; some grids give more."""
    problem = pose(read_figure(SAMPLES / f"{sample}.toml"))
    least = []
    for cells in range(20, 34, 2):
        questions = BoardQuestions(problem, (cells, cells), 0, NEVER, None, DEFAULT, 4.0)
        filling, _ = longest_lengths(questions)
        taken = np.array(filling.lengths.lengths)
        board = board_of(problem, taken.tolist(), (cells, cells), filling.upright)
        assert board.violations(filling.places) == []
        least.append(float((taken / problem.tree.lengths).min()))
    assert least == sorted(least)
    assert least[-1] > 1.3 * least[0]


def test_the_longest_lengths_are_those_that_trying_all_finds():
    """A plain slow twin: every whole lengths of a star of four, decided one by one."""
    star = Figure(
        "star", tuple(Flap(n, "j", w) for n, w in zip("abcd", (1, 1.3, 2, 2.6), strict=True))
    )
    problem = pose(star)
    for cells in (5, 6, 7):
        questions = BoardQuestions(problem, (cells, cells), 0, NEVER, None, DEFAULT, 30.0)
        filling, ended = longest_lengths(questions)
        assert ended == "proven"
        best = 0.0
        for lengths in itertools.product(range(1, 6), repeat=4):
            rounding = balanced(problem.tree, lengths)
            ratio = float((np.array(lengths) / problem.tree.lengths).min())
            if rounding.error <= STILL_ALIKE and ratio > best * (1 + 1e-9):
                board = board_of(problem, lengths, (cells, cells))
                if decide(board, 10.0).places is not None:
                    best = ratio
        taken = np.array(filling.lengths.lengths) / problem.tree.lengths
        assert taken.min() == pytest.approx(best)


def test_no_part_is_left_that_could_grow_where_the_tips_are():
    problem = pose(toed())
    tree, cells = problem.tree, (20, 20)
    questions = BoardQuestions(problem, cells, 0, NEVER, None, DEFAULT, 4.0)
    filling, _ = longest_lengths(questions)
    taken = np.array(filling.lengths.lengths)
    most = (taken / tree.lengths).max()
    assert (taken[tree.twin] == taken).all()
    for part in range(len(taken)):
        longer = taken.copy()
        longer[[part, tree.twin[part]]] += 1
        if (longer / tree.lengths).max() <= most * (1 + 1e-9):
            board = board_of(problem, longer.tolist(), cells, filling.upright)
            assert board.violations(filling.places)


@pytest.mark.parametrize("cells", [-1, 1.5, True, "3", 161])
def test_wrong_cells_are_told(cells):
    with pytest.raises(FigureError, match="is not a number of cells"):
        Flap("toe", "foot", 1.0, cells=cells)


def test_labels_of_the_plot_of_errors_do_not_touch():
    problem = pose(toed())
    packing = pack_grid(problem, options=SearchOptions(stop=MaxEffort(1)))
    offered = proposals(problem, rounded(problem.tree, packing.unit))
    plate = grid_plate(packing, grid_creases(packing), offered)
    labels = [m for m in dict(plate.groups)["units"] if isinstance(m, Label)]
    boxes = [shapely.Polygon(label_box(m)) for m in labels]
    assert shapely.union_all(boxes).area == pytest.approx(sum(b.area for b in boxes), rel=1e-6)
    (filled,) = [m for m in dict(plate.groups)["units"] if getattr(m, "kind", "") == "tip"]
    assert filled.centre in {
        m.centre for m in dict(plate.groups)["units"] if isinstance(m, Disc)
    }


def test_a_tree_of_more_parts_than_cells_is_refused():
    """Of 300 rivers one after another none is half a cell on a grid with 160 along them all."""
    with pytest.raises(FigureError, match="far below the cell of a grid of 160"):
        roundings(tree_of(parse_figure(chain(300), "chain")))
