"""Folded paper as it lies: the names below it stay within its width."""

from __future__ import annotations

import itertools

import pytest

from packer.drawing.marks.strokes import Label
from packer.drawing.state_drawing import LEAST_NAME_MM, NAME_MM, state_drawing
from packer.folded.layers import flat_base
from tests.creases.molecules import test_classic_bases as bases

HIGH = 90.0


@pytest.mark.parametrize(("wide", "most"), [(100.0, NAME_MM), (9.0, 2.0), (3.0, 0.0)])
def test_names_get_smaller_or_are_left_out_where_there_is_no_room(wide, most):
    base = flat_base(bases.base(*bases.BIRD))
    names = base.pattern.tree.flaps
    drawing = state_drawing(base.pattern, base.form, base.order, (wide, HIGH), names=names)
    labels = [mark for mark in drawing.marks if isinstance(mark, Label)]
    assert len(labels) == (len(names) if most else 0)
    assert all(LEAST_NAME_MM <= label.size <= most for label in labels)
    assert drawing.width <= wide + 1e-9
    assert drawing.height <= HIGH + 1e-9
    along = sorted(label.at[0] for label in labels)
    for one, other in itertools.pairwise(along):
        assert other - one >= labels[0].size
    for label in labels:
        assert -label.size <= label.at[0] <= drawing.width + label.size
