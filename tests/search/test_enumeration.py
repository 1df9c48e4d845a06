"""A pool of packings: each holds, none is too small, a seed repeats itself."""

from __future__ import annotations

import json
from itertools import islice

import numpy as np

from packer.files.packing_json import packing_text
from packer.model.problem import pose
from packer.search.enumeration import pool
from packer.search.options import SearchOptions
from packer.search.pack import pack
from packer.search.result.packing_distance import oriented_like
from packer.search.stopping import MaxStarts
from tests.recomputed import check_record
from tests.strategies import random_figure

LOOKS = 12
MODEL = pack(
    pose(random_figure(np.random.default_rng(3), 7)), options=SearchOptions(stop=MaxStarts(1))
)


def drawn(least=0.0, seed=0):
    return [packing for packing in islice(pool(MODEL, least, seed), LOOKS) if packing]


def test_members_hold_and_differ():
    """Recomputed from the files as written, with nothing of packer."""
    found = drawn()
    assert len({packing.scale for packing in found}) == len(found) > 3
    for packing in found:
        check_record(json.loads(packing_text(packing)))


def test_a_seed_repeats_itself_and_small_ones_are_left_out():
    scales = [packing.scale for packing in drawn()]
    assert [packing.scale for packing in drawn()] == scales
    least = float(np.median(scales))
    assert all(packing.scale >= least for packing in drawn(least))


def test_members_lie_as_the_model_does():
    for packing in drawn():
        assert oriented_like(packing, MODEL) == packing
