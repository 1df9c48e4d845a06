"""Every bound holds for packings found without it, on small figures with wishes of every kind.

Thousands more: ``python -m tests.benchmarks.bounds``.
"""

from __future__ import annotations

import pytest

from tests.benchmarks.bounds import broken, problem_of

STRIPS = (20, 45, 51, 103, 106, 108)
"""Seeds with twins whose place fixes their x: a strip laid on a wrong coordinate fails all of them."""
SEEDS = (*range(12), *STRIPS)


@pytest.mark.parametrize("seed", SEEDS)
def test_no_packing_exceeds_a_bound_or_is_excluded(seed):
    wrong, _ = broken(seed, boxes=1000, starts=2)
    assert wrong == []


def test_the_figures_are_of_every_kind():
    problems = [problem_of(seed) for seed in SEEDS]
    assert {p.symmetry for p in problems} == {"none", "book", "diagonal"}
    ranges = [r for p in problems for options in p.ranges for r in options]
    assert any(r.margin for r in ranges)
    assert any(r.is_point for r in ranges)
    assert any(len(options) > 1 for p in problems for options in p.ranges)
    assert any((p.tree.flex > 0).any() for p in problems)
    assert any(not p.sheet.is_square for p in problems)
