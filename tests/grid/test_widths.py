"""Wide tips on a grid: lines of cells with rectangles around them."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from packer.errors import FigureError
from packer.files.grid_json import grid_text, parse_grid
from packer.folded.checks import findings
from packer.folded.form import fold
from packer.grid import cp_sat
from packer.grid import milp as own_milp
from packer.grid.area_bound import overfull
from packer.grid.bands import bands
from packer.grid.board import board_of
from packer.grid.contours import contours
from packer.grid.greedy import greedy
from packer.grid.grid_creases import grid_creases
from packer.grid.grid_problem import GridRequest
from packer.grid.pack_grid import pack_grid
from packer.grid.relations import coordinates
from packer.model.figure import Figure, Flap
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.search.options import SearchOptions
from packer.search.pack import pack
from packer.search.stopping import MaxEffort
from tests.grid.whole import star, whole_figure

QUICK = SearchOptions(stop=MaxEffort(5))


def wide(figure, widths):
    """The figure with widths for its first flaps."""
    flaps = tuple(
        replace(flap, width=w)
        for flap, w in zip(
            figure.flaps, (*widths, *[0] * (len(figure.flaps) - len(widths))), strict=True
        )
    )
    return replace(figure, flaps=flaps)


def lines_at(board, tip, size):
    """Every line (x0, x1, y0, y1) that a tip of a star without wishes may be."""
    width = int(board.widths[tip])
    for turn in (False, True) if width else (False,):
        across, up = (0, width) if turn else (width, 0)
        for x, y in product(range(size[0] + 1 - across), range(size[1] + 1 - up)):
            yield x, x + across, y, y + up


def fits_by_force(board, size):
    """Whether a board can be filled, by trying every line for every tip: a slow reference."""
    n = board.n
    choices = [list(lines_at(board, k, size)) for k in range(n)]

    def far(a, b):
        dx = max(b[0] - a[1], a[0] - b[1], 0)
        dy = max(b[2] - a[3], a[2] - b[3], 0)
        return max(dx, dy)

    def place(k, placed):
        if k == n:
            return True
        return any(
            all(far(line, placed[j]) >= board.distances[j, k] for j in range(k))
            and place(k + 1, [*placed, line])
            for line in choices[k]
        )

    return place(0, [])


SMALL = [
    (star(1, 1, 1, 1), (2,)),
    (star(1, 1, 2), (3, 1)),
    (star(1, 2, 1), (2, 2, 2)),
    (star(1, 1, 1, 1, 1), (1, 1)),
    (whole_figure(3, 4, longest=2), (2,)),
    (whole_figure(5, 4, longest=2), (1, 3)),
]


@pytest.mark.parametrize(("figure", "widths"), SMALL)
@pytest.mark.parametrize("decide", [cp_sat.decide, own_milp.decide], ids=["cp_sat", "milp"])
def test_small_boards_are_decided_as_by_trying_every_line(figure, widths, decide):
    problem = pose(wide(figure, widths))
    lengths = [int(x) for x in problem.tree.lengths]
    for side in range(2, 8):
        size = side, side + 1
        board = board_of(problem, lengths, size)
        answer = decide(board, 20.0)
        assert (answer.places is not None) == fits_by_force(board, size)
        assert answer.refuted == (answer.places is None)
        if answer.places is not None:
            assert board.turned(answer.upright).violations(answer.places) == []
            return
    pytest.fail("no board was large enough")


def least_by_model(figure, lengths, most):
    """The least square by a mixed-integer model written anew, solved by scipy's HiGHS.

    Variables: for each tip its low and high ends and one switch for its turn; for each pair four
    switches of which one must be on (big-M form, textbook).
    """
    problem = pose(figure)
    board = board_of(problem, lengths, (most, most))
    n, pairs = board.n, [(i, j) for i in range(board.n) for j in range(i)]
    columns = 3 * n + 4 * len(pairs) + 1
    rows, low = [], []

    def row(terms, least):
        line = np.zeros(columns)
        for column, factor in terms:
            line[column] += factor
        rows.append(line)
        low.append(least)

    side = columns - 1
    for k in range(n):
        w = int(board.widths[k])
        row([(side, 1), (3 * k, -1), (3 * k + 2, w)], w)  # x + w (1 - turn) <= side
        row([(side, 1), (3 * k + 1, -1), (3 * k + 2, -w)], 0)
    big = 4 * most
    for p, (i, j) in enumerate(pairs):
        d = int(board.distances[i, j])
        first = 3 * n + 4 * p
        for q, (a, b) in enumerate(((i, j), (j, i))):
            w = int(board.widths[a])
            row([(3 * b, 1), (3 * a, -1), (3 * a + 2, w), (first + q, -big)], d + w - big)
            row(
                [(3 * b + 1, 1), (3 * a + 1, -1), (3 * a + 2, -w), (first + 2 + q, -big)],
                d - big,
            )
        row([(first + q, 1) for q in range(4)], 1)
    upper = np.ones(columns)
    upper[:-1].reshape(-1)[: 3 * n] = most
    upper[2 : 3 * n : 3] = [float(w > 0) for w in board.widths]
    upper[side] = most
    cost = np.zeros(columns)
    cost[side] = 1
    answer = milp(
        cost,
        integrality=np.ones(columns),
        bounds=Bounds(np.zeros(columns), upper),
        constraints=LinearConstraint(np.array(rows), lb=np.array(low)),
    )
    assert answer.status == 0
    return round(answer.fun)


@pytest.mark.parametrize(
    ("figure", "widths"),
    [
        (star(2, 2, 1, 1, 1), (3, 2)),
        (star(1, 1, 1, 1, 1, 1), (2, 2, 2)),
        (whole_figure(11, 6, longest=3), (4,)),
        (whole_figure(12, 6, longest=3), (1, 2, 3)),
    ],
)
def test_least_grids_are_those_of_a_general_solvers_model(figure, widths):
    figure = wide(figure, widths)
    packing = pack_grid(figure, grid=GridRequest(unit=1.0), options=QUICK)
    assert packing.status == "proven least"
    assert packing.violations() == []
    lengths = [int(x) for x in packing.tree.lengths]
    assert packing.cells[0] == least_by_model(figure, lengths, packing.cells[0] + 4)


@pytest.mark.parametrize("symmetry", ["none", "book", "diagonal"])
@pytest.mark.parametrize("seed", range(4))
def test_creases_of_wide_tips_fold(seed, symmetry):
    """Every check of the folded form: closing, Kawasaki, lengths, tips at their distances."""
    figure = whole_figure(seed, 7, longest=3, symmetry=symmetry)
    paired = [k for k, flap in enumerate(figure.flaps) if flap.pair]
    chosen = paired if symmetry == "diagonal" else range(len(figure.flaps))
    widths = [1 + (k + seed) % 4 if k in list(chosen)[:3] else 0 for k in range(7)]
    packing = pack_grid(
        wide(figure, widths),
        grid=GridRequest(unit=1.0),
        options=SearchOptions(seed, MaxEffort(2)),
    )
    assert packing.violations() == []
    pattern = grid_creases(packing)
    assert findings(pattern, fold(pattern)) == []
    again = parse_grid(grid_text(packing))
    assert again == packing
    assert again.places == packing.places


@pytest.mark.parametrize("symmetry", ["none", "book", "diagonal"])
def test_a_quick_filling_keeps_all_rules(symmetry):
    rng = np.random.default_rng(5)
    for seed in range(6):
        figure = whole_figure(seed, 8, longest=3, symmetry=symmetry)
        problem = pose(
            wide(
                figure, [3 if f.pair or symmetry != "diagonal" else 0 for f in figure.flaps][:3]
            )
        )
        lengths = [int(x) for x in problem.tree.lengths]
        board = board_of(problem, lengths, (41, 41))
        turns = (rng.random(board.n) < 0.5) & [any(turn) for turn in board.turns]
        if symmetry != "none":
            twin = board.mirror
            lead = np.minimum(twin, np.arange(board.n))
            turns = turns[lead] ^ ((symmetry == "diagonal") & (twin < np.arange(board.n)))
        board = board.turned(turns.tolist())
        places = greedy(board, rng, 4)
        assert places is not None
        assert board.violations(places) == []


def test_a_tip_two_cells_too_near_is_noticed():
    packing = pack_grid(wide(star(2, 2, 2), (3,)), grid=GridRequest(unit=1.0), options=QUICK)
    x, y = packing.tips[1]
    towards = np.sign(packing.tips[0][0] - x) or 1, np.sign(packing.tips[0][1] - y) or 1
    moved = (packing.tips[0], (x + 2 * towards[0], y + 2 * towards[1]), packing.tips[2])
    assert replace(packing, tips=moved).violations()
    turned = replace(packing, upright=tuple(not up for up in packing.upright))
    assert turned.violations()


def test_a_wide_twin_is_the_mirror_image_on_a_sheet_of_any_ratio():
    """By hand, 8 cells wide and 5 high: columns 1 to 3 are mirrored to 5 to 7, upright 1 to 7."""
    flaps = (Flap("twin", "hub", 1, pair=True, width=2), Flap("tail", "hub", 1))
    problem = pose(Figure("mirrored", flaps, symmetry="book"), Sheet(8, 5))
    board = board_of(problem, (1, 1, 1), (8, 5))
    for turned, column in ((0, 5), (1, 7)):
        numbers = [1, 2, 0, 0, 0, 3, turned, 0, 0]
        found = [(x.value(numbers), y.value(numbers)) for x, y in coordinates(board)]
        assert found == [(1, 2), (column, 2), (4, 3)]


def test_the_band_of_a_wide_tip_is_a_rectangle():
    """A flap of length r with a line of w cells takes at most 2 r (2 r + w) of paper."""
    problem = pose(wide(star(2, 2), (3,)), Sheet(1.0, 1.0))
    packing = pack_grid(problem, grid=GridRequest(unit=1.0, cells=(12, 12)), options=QUICK)
    assert bands(packing)["f0"].area <= 4 * 7
    heights = contours(packing).heights
    assert (heights >= 0).all()


def test_no_width_is_todays_grid():
    """A law: the same bytes as for a figure that does not speak of widths."""
    figure = whole_figure(7, 8)
    plain = pack_grid(figure, grid=GridRequest(unit=1.0), options=QUICK)
    zero = pack_grid(wide(figure, (0, 0)), grid=GridRequest(unit=1.0), options=QUICK)
    assert zero.tips == plain.tips
    assert zero.upright == plain.upright == ()
    assert "upright" not in grid_text(plain)


def test_a_width_never_makes_the_least_grid_smaller():
    for seed in (1, 2, 3):
        figure = whole_figure(seed, 6, longest=3)
        sides = [
            pack_grid(wide(figure, (w,)), grid=GridRequest(unit=1.0), options=QUICK).cells[0]
            for w in (0, 2, 4)
        ]
        assert sides == sorted(sides)


def test_the_area_bound_counts_the_rectangle():
    """Two flaps of 2 with lines of 20 need 2 x 4 x 24 of the paper and 4 cells around it."""
    tree = pose(wide(star(2, 2), (20, 20))).tree
    assert overfull(tree, (2, 2), (9, 9), 2)
    assert not overfull(pose(star(2, 2)).tree, (2, 2), (9, 9), 2)


def test_circles_refuse_a_width_and_say_what_to_do():
    with pytest.raises(FigureError, match=r"flaps.f0.width: circles .* packer grid"):
        pack(wide(star(1, 1, 1), (2,)))


def test_a_wide_tip_on_a_diagonal_mirror_line_is_refused():
    figure = Figure(
        "ray", (Flap("a", "j", 1.0, width=2), Flap("b", "j", 1.0, pair=True)), (), "diagonal"
    )
    with pytest.raises(FigureError, match="choose book symmetry"):
        pack_grid(figure, grid=GridRequest(unit=1.0), options=QUICK)
