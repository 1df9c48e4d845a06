"""What large figures take, in steps that are counted and never by the clock: searches that ask their deadline
before each step, and work that is done once."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from packer.cli import grid as grid_command
from packer.deadline import NEVER, Deadline
from packer.errors import PatternError
from packer.files import fold_json
from packer.files.figure_toml import parse_figure
from packer.files.fold_json import fold_text
from packer.files.grid_json import read_grid
from packer.folded import layers, overlaps
from packer.folded.form import fold
from packer.folded.layer_count import layer_count, sides_of, stretches
from packer.folded.layers import FlatBase, flat_base, ordering_deadline
from packer.folded.ordering.grid_rings import GridRing, GridRings
from packer.folded.ordering.grid_tour import starts
from packer.grid import bands as bands_module
from packer.grid import greedy as greedy_module
from packer.grid import neighbourhood_search, pack_grid, proposals
from packer.grid.bands import bands, gap_paper
from packer.grid.grid_creases import grid_creases
from packer.grid.grid_problem import GridRequest
from packer.grid.rounding import roundings
from packer.landmarks import fold_guide as fold_guide_module
from packer.landmarks.fold_guide import fold_guide
from packer.landmarks.precrease import _Order
from packer.limits import MOST_PULLED
from packer.model import regions
from packer.model.problem import pose
from packer.planning.landmark_demand import landmark_demand
from packer.report.packing_table import summary
from packer.search.options import SearchOptions
from packer.search.result import kkt_certificate
from packer.search.result.kkt_certificate import MOST_CONTACTS
from packer.search.stopping import MaxEffort
from packer.table import state
from packer.table.figure_layout import draft_of_figure
from packer.table.state import TableState, drafted
from packer.units import SAME_DIRECTION
from tests.benchmarks.large_figures import on_a_grid, star
from tests.conftest import run
from tests.folded.textbook import bird, waterbomb
from tests.grid.whole import filled, whole_figure

PAST = Deadline.after(0.0)


@pytest.fixture(scope="module", name="pattern")
def _pattern():
    return grid_creases(filled(whole_figure(1, 6, 3), 1))


def refused(*_, **__):
    raise AssertionError("begun although time was up")


def test_no_unit_is_filled_once_time_is_up(monkeypatch):
    problem = pose(whole_figure(1, 9))
    front = roundings(problem.tree)
    monkeypatch.setattr(neighbourhood_search, "greedy", refused)
    assert not proposals.fits(problem, front[0], 48, PAST)
    assert proposals.by_hand(problem, front, PAST) == {}
    taken = proposals.chosen(problem, deadline=PAST)
    assert taken in front
    assert taken.error <= proposals.STILL_ALIKE or taken == front[0]


def test_a_unit_is_filled_on_no_grid_larger_than_asked_about(monkeypatch):
    problem = pose(whole_figure(1, 9))
    sides = []
    monkeypatch.setattr(
        neighbourhood_search, "greedy", lambda board, *_: sides.append(max(board.size))
    )
    assert not proposals.fits(problem, roundings(problem.tree)[-1], 60)
    assert max(sides, default=0) <= 60


def test_a_quick_filling_counts_alike_tips_together(monkeypatch):
    """Of a star all others are as far away, so that each tip counts once what it takes from them."""
    counted = []
    cumsum = greedy_module.np.cumsum
    near = greedy_module._near
    monkeypatch.setattr(
        greedy_module, "_near", lambda *of: counted.append(of[0].n) or near(*of)
    )
    assert filled(parse_figure(star(9), "star")).violations() == []
    assert cumsum is np.cumsum
    board = filled(parse_figure(star(9), "star")).board
    open_to = {
        k: np.ones((board.size[0] + 1, board.size[1] + 1), dtype=bool) for k in range(1, 9)
    }
    taken = greedy_module._taken(board, 0, open_to)
    one = greedy_module._taken(board, 0, {1: open_to[1]})
    np.testing.assert_array_equal(taken, 8 * one)


@pytest.mark.parametrize("choosing", [True, False])
def test_ctrl_c_before_the_first_packing_keeps_a_quick_filling(monkeypatch, choosing):
    pressed = []

    def once(work):
        def done(*given, **named):
            if not pressed:
                pressed.append(1)
                raise KeyboardInterrupt
            return work(*given, **named)

        return done

    if choosing:
        monkeypatch.setattr(proposals, "fits", once(proposals.fits))
    else:
        monkeypatch.setattr(neighbourhood_search, "greedy", once(neighbourhood_search.greedy))
    packing = pack_grid.pack_grid(
        whole_figure(1, 9),
        grid=GridRequest(unit=None if choosing else 1.0),
        options=SearchOptions(stop=MaxEffort(1)),
    )
    assert pressed
    assert packing.search.stopped == "interrupted"
    assert packing.violations() == []


def test_the_layer_order_of_a_grid_has_what_is_left_of_the_time(
    packer_cli, tmp_path, monkeypatch
):
    given = []
    own = layers.flat_base
    monkeypatch.setattr(
        layers,
        "flat_base",
        lambda pattern, *, deadline: given.append(deadline) or own(pattern, deadline=deadline),
    )
    words = ("(a:2,b:3,c:2,d:4);", "--unit", "1", "--out", tmp_path, "--quiet", "--force")
    packer_cli("grid", *words, "--time", "1")
    packer_cli("grid", *words)
    assert given[0].total <= layers.LEAST_SECONDS + 1e-6
    assert given[1].total == pytest.approx(layers.SECONDS)
    assert ordering_deadline(Deadline.after(30.0)).total == pytest.approx(30.0, abs=1.0)
    assert ordering_deadline(Deadline.after(300.0)).total == pytest.approx(300.0, abs=1.0)
    assert ordering_deadline(NEVER).total == pytest.approx(layers.SECONDS)


def test_a_grid_without_an_order_says_what_to_do(packer_cli, tmp_path, monkeypatch):
    monkeypatch.setattr(grid_command.Deadline, "over", property(lambda _: True))
    ran = packer_cli("grid", "(a:2,b:3,c:2,d:4);", "--unit", "1", "--out", tmp_path)
    assert "layer order not found in 0 s; try another --seed or more --time" in ran.err
    assert read_grid(tmp_path / "tree.grid.json").violations() == []


def test_no_ring_is_looked_at_once_time_is_up(pattern, monkeypatch):
    rings = GridRings(pattern, pattern.tree.n_tips)
    assert starts(rings)
    monkeypatch.setattr(GridRing, "enclosing", refused)
    assert starts(rings, deadline=PAST) == []


def test_overlaps_of_faces_are_looked_for_only_as_far_as_they_are_written(monkeypatch):
    base = flat_base(bird())
    answers = []
    tree = fold_json.shapely.STRtree

    class Counted(tree):
        def query(self, *of, **how):
            found = super().query(*of, **how)
            answers.append(found.shape[1])
            return found

    monkeypatch.setattr(fold_json.shapely, "STRtree", Counted)
    monkeypatch.setattr(fold_json, "FACES_AT_ONCE", 2)
    monkeypatch.setattr(fold_json, "SAMPLED", 1)
    assert "faceOrders" in fold_text(base)
    whole = sum(answers)
    answers.clear()
    monkeypatch.setattr(fold_json, "MOST_FACE_ORDERS", 3)
    assert "faceOrders" not in fold_text(base)
    assert sum(answers) < whole / 2


def test_layers_are_counted_with_the_sides_of_a_part_made_once(pattern, monkeypatch):
    rolled = []
    roll = np.roll
    monkeypatch.setattr(np, "roll", lambda *of, **how: rolled.append(1) or roll(*of, **how))
    layer_count(pattern)
    assert len(rolled) == len(pattern.faces)


def test_stretches_are_those_of_each_face():
    """Plain reference: two triangles and a square, cut by hand."""
    faces = [
        np.array([(0.0, 0.0), (2.0, 0.0), (0.0, 2.0)]),
        np.array([(3.0, 0.0), (4.0, 0.0), (4.0, 1.0)]),
        np.array([(0.0, 1.0), (4.0, 1.0), (4.0, 3.0), (0.0, 3.0)]),
    ]
    assert stretches(sides_of(faces), 1.0) == [(0.0, 1.0), (1.0, 3.0)]
    assert stretches(sides_of(faces), 3.5) == [(0.0, 0.5), (1.0, 3.0)]
    assert stretches(sides_of(faces), 5.0) == []
    assert stretches(sides_of([]), 1.0) == []


def test_what_lies_under_what_is_seen_is_not_looked_at(pattern, monkeypatch):
    """The outermost layer of a cell is found without asking all others."""
    order = flat_base(pattern).order
    asked = []
    within = overlaps.shapely.contains_xy
    monkeypatch.setattr(
        overlaps.shapely,
        "contains_xy",
        lambda one, x, y: asked.append(len(x)) or within(one, x, y),
    )
    order.seen()
    few = sum(asked)
    asked.clear()
    order.seen()
    assert asked == []  # looked for once
    cells, count = order.layers.cover.shape
    assert few < sum(asked) < cells * count


def test_the_bands_of_a_grid_are_made_once(monkeypatch):
    packing = filled(whole_figure(3, 9), 3)
    made = []
    squares = bands_module._squares
    monkeypatch.setattr(bands_module, "_squares", lambda *of: made.append(1) or squares(*of))
    for _ in range(3):
        bands(packing)
        gap_paper(packing)
    assert len(made) == 2 * len(packing.tree.names)


def test_the_central_joint_of_a_packing_is_found_once(monkeypatch):
    packing = on_a_grid(parse_figure(star(7), "star"))
    asked = []
    central = regions.central_joint
    monkeypatch.setattr(regions, "central_joint", lambda *of: asked.append(1) or central(*of))
    assert {regions.centre_joint(packing) for _ in range(5)} == {7}
    assert len(asked) == 1


def side(order, face, square):
    """Plain reference: all known creases asked, in the order in which they became known."""
    base, best = order.beside.bases[face], None
    off = SAME_DIRECTION * order.pattern.sheet.diagonal
    for number, one in order.made.items():
        line = one.crease.line
        if abs(line[0] * base[1] - line[1] * base[0]) > SAME_DIRECTION:
            continue
        sign = 1.0 if line[:2] @ base[:2] > 0 else -1.0
        if one.crease.role in {"border", "axial"} and abs(line[2] - sign * base[2]) < off:
            return number
        edges = one.crease.edges
        beside = any(face in order.pattern.edge_faces[edge] for edge in edges)
        if square and one.crease.role == "gusset" and beside:
            best = number
    return best


@pytest.mark.parametrize("made", [bird, waterbomb, None])
def test_a_face_knows_the_creases_it_stands_on(made, pattern):
    class Counted(dict):
        passed = 0

        def items(self):
            self.passed += 1
            return super().items()

    pattern = flat_base(made() if made else pattern).pattern
    order = _Order(pattern, set())
    order.made = Counted(order.made)
    for _ in range(3):
        for face in range(len(pattern.faces)):
            for square in (False, True):
                before = order.made.passed
                found = order._side(face, square)
                assert order.made.passed == before  # not all known creases are gone through
                assert found == side(order, face, square)
        if not (order.follow() or order.measure(0.0)):
            break


@pytest.mark.parametrize("how", ["time", "ctrl-c"])
def test_a_guide_is_made_with_what_marks_are_found_until_then(random_base, how):
    def pressed(_):
        raise KeyboardInterrupt

    guide = fold_guide(
        random_base, 350.0, 0.5,
        **({"deadline": PAST} if how == "time" else {"progress": Once(pressed)}),
    )  # fmt: skip
    assert not guide.landmarks.complete
    assert guide.landmarks.unmarked
    assert guide.stages


class Once:
    """A listener that is called in earnest once."""

    def __init__(self, work):
        self.work = work

    def __call__(self, words):
        work, self.work = self.work, lambda _: None
        work(words)


@pytest.fixture(scope="module", name="random_base")
def _random_base():
    from packer.creases.completion.complete import crease_pattern  # noqa: PLC0415
    from packer.search.pack import pack  # noqa: PLC0415
    from packer.search.stopping import MaxStarts  # noqa: PLC0415

    figure = parse_figure(
        '[flaps]\na = { joint = "j", length = 1 }\nb = { joint = "j", length = 1.3 }\n'
        'c = { joint = "j", length = 0.7 }\nd = { joint = "j", length = 1.1 }\n'
        'e = { joint = "j", length = 0.9 }\n',
        "star",
    )
    packing = pack(figure, options=SearchOptions(stop=MaxStarts(1), workers=1))
    return flat_base(crease_pattern(packing))


def test_a_demand_for_landmarks_is_none_where_time_ends_first():
    packing = on_a_grid(parse_figure(star(7), "star"))
    assert landmark_demand(packing, 350.0, deadline=PAST) is None


def test_more_flaps_than_follow_a_hand_are_told_at_once(monkeypatch):
    many = parse_figure(star(MOST_PULLED + 1), "star")
    monkeypatch.setattr(state, "first_frame", refused)
    made = drafted(TableState(), draft_of_figure(many))
    assert made.frame is None
    assert made.sentence == (
        f"{MOST_PULLED + 1} flaps are more than the {MOST_PULLED} that can follow a hand; pack the "
        "figure with packer pack, or leave fine parts out"
    )
    assert Counter(type(part).__name__ for part in made.draft.nodes)


def test_no_certificate_is_sought_of_more_contacts_than_it_is_found_for(monkeypatch):
    """Four equal tips in a square have four contacts and a stress."""
    packing = on_a_grid(parse_figure(star(4), "star"))
    points = np.array(packing.points)
    assert kkt_certificate.certify(packing.problem, points)
    monkeypatch.setattr(kkt_certificate, "MOST_CONTACTS", 3)
    monkeypatch.setattr(kkt_certificate, "_largest_support", refused)
    assert kkt_certificate.certify(packing.problem, points) == ()


def test_a_packing_without_certificate_says_what_is_not_known():
    """1000 equal tips row by row, each one step from the next: 32 rows make 1936 contacts."""
    says = (
        f"more than {MOST_CONTACTS} contacts: what a length costs and which flaps are loose is not "
        "reckoned"
    )
    lines = summary(on_a_grid(parse_figure(star(1000), "star")))
    assert lines[2] == says
    assert not lines[1].endswith("loose")
    few = summary(on_a_grid(parse_figure(star(4), "star")))
    assert says not in few
    assert few[1].endswith("0 loose")


def test_a_guide_of_too_many_creases_is_one_sentence(monkeypatch):
    off_grid = bird()
    monkeypatch.setattr(fold_guide_module, "MOST_GUIDED", 3)
    monkeypatch.setattr(fold_guide_module, "grid_landmarks", lambda *_: None)
    monkeypatch.setattr(fold_guide_module, "precreasing", refused)
    with pytest.raises(PatternError, match="creases on no grid are more than the 3"):
        fold_guide(FlatBase(off_grid, fold(off_grid), None), 350.0, 0.5)


def test_ctrl_c_while_a_grid_is_drawn_keeps_it(monkeypatch, tmp_path):
    def pressed(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(grid_command, "_contents", pressed)
    assert run("grid", "((a:1,b:2):1,c:1,d:2);", "--quiet", "--out", tmp_path) != 0
    assert read_grid(tmp_path / "tree.grid.json").cells
