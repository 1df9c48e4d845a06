"""Stages of a collapse: flat states on the way, each with layers that pass through nothing."""

from __future__ import annotations

import numpy as np
import pytest

from packer.folded.checks import folds_flat, kawasaki_errors
from packer.folded.flat_states import Parts, flat_state
from packer.folded.halving import halved_pattern
from packer.folded.layers import flat_base
from packer.folded.regions import polygons_of
from packer.folded.stage_order import layer_order
from packer.folded.stages import stages
from packer.units import SHUTS
from tests.creases.molecules import test_classic_bases as bases
from tests.folded import textbook
from tests.folded.cutting import random_cuts

PATTERNS = {
    "bird": bases.base(*bases.BIRD),
    "frog": bases.base(*bases.FROG),
    "fish": textbook.fish(),
    "river": textbook.river(),
}


@pytest.mark.parametrize("name", PATTERNS)
def test_every_state_folds_flat_and_nothing_passes_through_a_layer(name):
    base = flat_base(PATTERNS[name])
    made = stages(base.pattern, base.order)
    for stage in made:
        assert kawasaki_errors(stage.pattern, stage.form).max() < 1e-6
        assert stage.form.gaps.max() < SHUTS * stage.pattern.sheet.diagonal
        assert stage.order is not None
        rank = stage.order.of_faces
        above = np.sign(np.subtract.outer(rank, rank))
        assert random_cuts(stage.pattern, stage.form, above, 12) == 0
    folded = [k for stage in made for k in stage.polygons]
    assert sorted(folded) == list(range(int(polygons_of(base.pattern).max()) + 1))


def test_the_lines_of_a_bird_base_are_book_folds():
    pattern = PATTERNS["bird"]
    made = halved_pattern(pattern, polygons_of(pattern))
    assert len(made.lines) == 4
    for edges in made.lines.values():
        ends = made.pattern.points[made.pattern.edges[sorted(edges)]].reshape(-1, 2)
        assert np.ptp(ends, axis=0).min() < 1e-12  # upright or level
        assert np.ptp(ends, axis=0).max() == pytest.approx(0.5, abs=1e-12)


def test_a_corner_left_open_at_an_inner_tip_does_not_fold_flat():
    # Kawasaki's theorem at the centre of the preliminary base, one of its book folds left out
    pattern = PATTERNS["bird"]
    parts = Parts.of(pattern)
    halved = frozenset(parts.halved.lines)
    form = flat_state(parts, frozenset(), halved - {min(halved)})
    assert not folds_flat(parts.halved.pattern, form)
    form = flat_state(parts, frozenset(), halved)
    assert folds_flat(parts.halved.pattern, form)
    assert layer_order(parts.halved.pattern, form) is not None
