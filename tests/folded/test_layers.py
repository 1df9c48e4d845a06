"""Layer orders: valid by an independent cut through the stack, and by Maekawa's theorem."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import permutations, product

import numpy as np
import pytest

from packer import Sheet
from packer.creases.completion.complete import crease_pattern
from packer.folded.checks import findings
from packer.folded.form import fold
from packer.folded.layers import flat_base, joints_outwards
from packer.folded.order_search import Conditions, CpSat, Highs, NoAnswer, clauses_of
from packer.folded.overlaps import layers_of
from packer.folded.parity import Contradiction, Even, ParityClasses, reduced
from packer.folded.question import Ask, Question
from packer.search.pack import pack
from tests.folded.cutting import random_cuts
from tests.folded.textbook import bird, fish, frog, river, waterbomb
from tests.strategies import random_figure

BASES = {"fish": fish, "bird": bird, "frog": frog, "river": river, "waterbomb": waterbomb}


@pytest.fixture(scope="module", name="random_patterns")
def _random_patterns():
    """Closed packings of random figures with rivers, from short searches."""
    return [
        crease_pattern(pack(random_figure(n, n), Sheet(), workers=1, starts=1))
        for n in (4, 6, 9)
    ]


@pytest.mark.parametrize("name", BASES)
def test_textbook_bases_have_an_order(name):
    base = flat_base(BASES[name]())
    assert base.status == "valid layer order"
    assert findings(base.pattern, base.form) == []  # Maekawa among them
    assert random_cuts(base.pattern, base.form, base.order.of_faces(), 40) == 0


def test_random_patterns_have_an_order(random_patterns):
    for pattern in random_patterns:
        base = flat_base(pattern)
        assert base.status == "valid layer order"
        assert findings(base.pattern, base.form) == []
        assert random_cuts(base.pattern, base.form, base.order.of_faces(), 40) == 0


def test_cuts_notice_layers_that_are_exchanged(random_patterns):
    """The judge must be able to say no: single swaps of a valid order are found out."""
    pattern = random_patterns[1]
    base = flat_base(pattern)
    above, of = base.order.above, base.order.layers.layer_of
    pairs = np.argwhere(above > 0)
    noticed = 0
    for k in range(20):
        a, b = pairs[np.random.default_rng(k).integers(len(pairs))]
        wrong = above.copy()
        wrong[a, b] *= -1
        wrong[b, a] *= -1
        noticed += random_cuts(pattern, base.form, wrong[of[:, None], of], 40, seed=k) > 0
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
    base = flat_base(bird(), time=1e-9)
    assert base.order is None
    assert base.status == "foldable at every vertex, layer order not found"
    assert set(base.pattern.folds) == {"B", "U"}


@dataclass
class Interrupted:
    """A solver that a user ends with Ctrl-C at one of its calls."""

    at: int
    name: str = "interrupted"
    calls: int = 0

    def __call__(self, conditions, *, seconds, seed, near):
        self.calls += 1
        if self.calls == self.at:
            raise KeyboardInterrupt
        return CpSat()(conditions, seconds=seconds, seed=seed, near=near)


def test_ctrl_c_keeps_an_order_that_is_known_and_claims_none_else(random_patterns):
    """Whichever call it strikes, what comes back holds; the later, the more is known."""
    pattern = random_patterns[1]
    known = []
    for at in range(1, 8):
        base = flat_base(pattern, solver=Interrupted(at))
        assert findings(base.pattern, base.form) == []
        known.append(base.order is not None)
        if base.order is not None:
            assert random_cuts(base.pattern, base.form, base.order.of_faces(), 20) == 0
    assert not known[0]
    assert known[-1]
    assert known == sorted(known)


def test_the_same_seed_gives_the_same_order(random_patterns):
    one, other = (flat_base(random_patterns[1], seed=3) for _ in range(2))
    assert one.pattern.folds == other.pattern.folds
    assert (one.order.above == other.order.above).all()


def test_order_does_not_depend_on_where_the_figure_lies():
    """Moving the faces' numbering about leaves a valid order to be found."""
    pattern = fish()
    shuffled = replace(pattern, faces=tuple(reversed(pattern.faces)))
    assert flat_base(shuffled).status == "valid layer order"


def test_scipy_alone_finds_orders_of_small_patterns(random_patterns):
    for pattern in (fish(), waterbomb(), random_patterns[0]):
        base = flat_base(pattern, solver=Highs(), time=60)
        assert base.solver == "HiGHS"
        assert base.status == "valid layer order"
        assert random_cuts(base.pattern, base.form, base.order.of_faces(), 20) == 0


def test_roots_are_all_joints_the_centre_first():
    pattern = river()
    order = list(joints_outwards(pattern))
    assert sorted(order) == list(range(pattern.tree.n_tips, pattern.tree.n_nodes))


def test_all_layers_of_a_star_lie_over_each_other_near_the_joint():
    layers = layers_of(pattern := frog(), fold(pattern))
    assert layers.most == len(pattern.faces) == 48


# --- the equations


def test_classes_join_by_parity():
    classes = ParityClasses(4)
    assert classes.equate(0, 3)  # unknown 0 is the opposite of unknown 1
    assert classes.equate(2, 5)  # unknown 1 is the opposite of unknown 2
    assert classes.head(4) == classes.head(0)
    assert not classes.equate(0, 4)
    with pytest.raises(Contradiction):
        classes.equate(0, 5)


@pytest.mark.parametrize("seed", range(20))
def test_reduced_equations_have_the_same_solutions(seed):
    """Against all 2^6 assignments."""
    rng = np.random.default_rng(seed)
    n = 6
    rows = [tuple(int(x) for x in rng.integers(0, 2 * n, 4)) for _ in range(4)]

    def even(values, row):
        return sum(values[x >> 1] != x & 1 for x in row) % 2 == 0

    wanted = {v for v in product((0, 1), repeat=n) if all(even(v, row) for row in rows)}
    classes = ParityClasses(n)
    try:
        left = reduced(classes, rows)
    except Contradiction:
        assert not wanted
        return
    heads = [classes.head(2 * k) for k in range(n)]
    found = {
        v
        for v in product((0, 1), repeat=n)
        if all(v[k] == (v[h >> 1] ^ (h & 1)) for k, h in enumerate(heads))
        and all(sum(v[k] for k in e.unknowns) % 2 == e.odd for e in left)
    }
    assert found == wanted


@pytest.mark.parametrize("odd", [False, True])
def test_clauses_of_an_equation_forbid_the_wrong_parity_alone(odd):
    clauses = clauses_of(Even((0, 1, 2), odd))
    for values in product((False, True), repeat=3):
        holds = all(any(values[x >> 1] != bool(x & 1) for x in clause) for clause in clauses)
        assert holds == (sum(values) % 2 == odd)


@pytest.mark.parametrize("solver", [CpSat(), Highs()])
def test_solvers_agree_with_all_assignments(solver):
    for seed in range(10):
        rng = np.random.default_rng(seed)
        cycles = tuple(
            tuple(2 * int(k) + int(rng.integers(2)) for k in rng.choice(5, 3, replace=False))
            for _ in range(12)
        )
        conditions = Conditions((Even((0, 1, 2, 3), True),), cycles)
        wanted = any(
            sum(v[:4]) % 2 == 1
            and all(len({v[x >> 1] ^ (x & 1) for x in cycle}) == 2 for cycle in cycles)
            for v in product((0, 1), repeat=5)
        )
        found = solver(conditions, seconds=10, seed=0, near={})
        assert isinstance(found, NoAnswer) != wanted


def test_a_model_carried_on_answers_as_a_new_one():
    """More cycles, wishes that come and go, then other equations: one solver against new ones."""
    rng = np.random.default_rng(4)
    kept = CpSat()
    for odd in (True, False):
        evens, cycles = (Even((0, 1, 2, 3), odd),), ()
        for count in range(6):
            picked = rng.choice(6, 3, replace=False)
            cycles += (tuple(2 * int(k) + int(rng.integers(2)) for k in picked),)
            wishes = {k: float(rng.integers(-3, 4)) for k in range(6)} if count % 2 else {}
            conditions = Conditions(evens, cycles, wishes)
            found, new = (
                solver(conditions, seconds=10, seed=0, near={}) for solver in (kept, CpSat())
            )
            assert isinstance(found, NoAnswer) == isinstance(new, NoAnswer)
            if isinstance(found, dict) and isinstance(new, dict):
                assert sum(found[k] for k in range(4)) % 2 == odd
                assert all(
                    len({found[x >> 1] ^ (x & 1) for x in cycle}) == 2 for cycle in cycles
                )
                gained = [sum(w * v[k] for k, w in wishes.items()) for v in (found, new)]
                assert gained[0] == pytest.approx(gained[1], abs=0.3)


def test_the_order_of_a_waterbomb_is_one_of_those_that_exist():
    """Its eight layers lie in one stack: of all 8! stacks, those whose creases are nested."""
    pattern = waterbomb()
    form = fold(pattern)
    layers = layers_of(pattern, form)
    question = Question(pattern, form, layers)
    answer = question.solved(CpSat(), {}, Ask(), 10)
    above = question.above(answer)
    stack = np.argsort((above > 0).sum(axis=0))
    n = len(stack)
    assert {tuple(sorted((above > 0).sum(axis=0)))} == {tuple(range(n))}
    valid = [p for p in permutations(range(n)) if crosses_nowhere(p, pattern, layers)]
    assert tuple(stack.tolist()) in valid


def crosses_nowhere(stack, pattern, layers):
    """Whether the creases of a single stack are nested on each of the lines they lie on."""
    height = {layer: k for k, layer in enumerate(stack)}
    lines = {}
    for edge, a, b in layers.creases.tolist():
        lines.setdefault(pattern.roles[edge], []).append(sorted((height[a], height[b])))
    return not any(
        p[0] < q[0] < p[1] < q[1] for arcs in lines.values() for p in arcs for q in arcs
    )


@pytest.mark.parametrize("solver", [CpSat(), Highs()], ids=lambda s: s.name)
@pytest.mark.parametrize("seconds", [0.0, -1.0])
def test_time_that_is_past_is_no_time_without_limit(solver, seconds):
    conditions = Conditions(tuple(Even((k, k + 1, k + 2), odd=True) for k in range(0, 300, 2)))
    answer = solver(conditions, seconds=seconds, seed=0, near={})
    assert answer == NoAnswer(proven=False)
