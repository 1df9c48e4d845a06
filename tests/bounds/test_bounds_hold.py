"""Every bound holds for packings found without it, on small figures with wishes of every kind.

Thousands more: ``python -m tests.benchmarks.bounds``.
"""

from __future__ import annotations

import pytest

from tests.benchmarks.bounds import broken, problem_of

SEEDS = range(30)


@pytest.mark.parametrize("seed", SEEDS)
def test_no_packing_exceeds_a_bound_of_its_problem(seed):
    outcome = broken(seed, boxes=3000, starts=3)
    if outcome is not None:
        assert outcome[0] == []


def test_the_figures_are_of_every_kind():
    problems = [p for p in map(problem_of, SEEDS) if p is not None]
    assert {p.symmetry for p in problems} == {"none", "book", "diagonal"}
    ranges = [r for p in problems for options in p.ranges for r in options]
    assert any(r.margin for r in ranges)
    assert any(r.is_point for r in ranges)
    assert any(len(options) > 1 for p in problems for options in p.ranges)
    assert any((p.tree.flex > 0).any() for p in problems)
    assert any(not p.sheet.is_square for p in problems)
