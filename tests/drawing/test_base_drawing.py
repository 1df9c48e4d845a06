"""The base in the hand, fanned out as the designer drew the stick figure."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from packer.drawing.base_drawing import base_drawing
from packer.drawing.marks.strokes import Label
from packer.folded.layers import flat_base
from tests.folded.textbook import fish


@pytest.mark.parametrize("turn", [0.0, np.pi / 2, np.pi])
def test_a_base_is_fanned_out_in_the_directions_of_the_pose(turn):
    """The first flap of the fish base is turned; the others stand opposite, a little apart."""
    pattern = fish()
    flaps = len(pattern.tree.flaps)
    ways = np.array([turn, *(turn + np.pi + np.linspace(-0.5, 0.5, flaps - 1))])
    posed = replace(pattern, tree=replace(pattern.tree, directions=ways))
    groups = dict(base_drawing(flat_base(posed)).groups)
    (fanned,) = [marks for title, marks in groups.items() if title.startswith("fanned")]
    names = {mark.text: mark.at for mark in fanned if isinstance(mark, Label)}
    at = np.array([names[name] for name in pattern.tree.flaps])
    away = at[0] - at[1:].mean(axis=0)
    towards = np.array([np.sin(turn), np.cos(turn)])
    assert away @ towards > 0.7 * np.hypot(*away)
