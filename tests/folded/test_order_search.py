"""The exact search for a layer order of any flat-folded form: its equations and its solvers."""

from __future__ import annotations

from itertools import permutations, product

import numpy as np
import pytest

from packer.folded.form import fold
from packer.folded.order_search import Conditions, CpSat, Highs, NoAnswer, clauses_of
from packer.folded.overlaps import layers_of
from packer.folded.parity import Contradiction, Even, ParityClasses, reduced
from packer.folded.question import Ask, Question
from tests.folded.textbook import waterbomb


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


def test_a_solved_waterbomb_is_one_of_the_stacks_that_exist():
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
