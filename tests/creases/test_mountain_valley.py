"""Mountain and valley from layers, against the definition."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from packer.creases.mountain_valley import assigned
from tests.folded import textbook


@pytest.fixture(scope="module", name="pattern")
def _pattern():
    return textbook.frog()


def test_a_crease_is_a_valley_where_the_fronts_face_each_other(pattern):
    """By definition: a valley brings the two fronts together.

    With the left face front up, the right face lies on its front where it lies above; with the
    left face turned over, its front looks down, so the right face lies on it where it lies below.
    """
    count = len(pattern.edges)
    inner = np.array([role != "border" for role in pattern.roles])
    for back, above in itertools.product((False, True), repeat=2):
        folds = assigned(pattern, inner, np.full(count, back), np.full(count, above))
        front_to_front = above if not back else not above
        expected = "V" if front_to_front else "M"
        assert set(np.array(folds)[inner]) == {expected}
        assert set(np.array(folds)[~inner]) == {"B"}


def test_what_is_not_folded_is_flat(pattern):
    count = len(pattern.edges)
    none = np.zeros(count, dtype=bool)
    folds = assigned(pattern, none, none, none)
    assert set(folds) == {"B", "F"}
