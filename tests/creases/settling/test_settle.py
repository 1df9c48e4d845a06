"""Settling: what may be given is never exceeded, mirrored stays mirrored, a seed repeats itself."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial import cKDTree

from packer.creases.completion.complete import crease_pattern
from packer.creases.settling.settle import settle
from packer.creases.smallest_feature import smallest_feature
from packer.deadline import Deadline
from packer.files.packing_json import packing_text
from packer.folded.checks import findings
from packer.folded.form import fold
from packer.model.figure import Figure, Flap, River
from packer.search.options import SearchOptions
from packer.search.pack import pack
from packer.search.stopping import MaxStarts
from packer.units import HOLDS
from tests.recomputed import check_record

GIVE = 0.02
TRIES = 2


def animal(symmetry):
    """Two pairs of limbs, a head and a tail."""
    flaps = (
        Flap("head", "neck", 0.7),
        Flap("arm", "neck", 1.1, pair=True),
        Flap("leg", "hip", 1.3, pair=True),
        Flap("tail", "hip", 0.8),
    )
    return Figure("animal", flaps, (River("trunk", ("neck", "hip"), 0.6),), symmetry=symmetry)


@pytest.fixture(scope="module", params=["none", "book", "diagonal"], name="packing")
def _packing(request):
    return pack(animal(request.param), options=SearchOptions(stop=MaxStarts(1), workers=1))


@pytest.fixture(scope="module", name="settled")
def _settled(packing):
    return settle(packing, GIVE, tries=TRIES)


def test_the_pattern_folds_into_the_figure(settled):
    """Every check of the folded form: Kawasaki's theorem, reflections, the tree read back."""
    assert findings(settled.pattern, fold(settled.pattern)) == []
    assert settled.packing.violations() == []


def test_no_part_loses_more_than_may_be_given(packing, settled):
    built, asked = settled.pattern.built, np.array(packing.lengths) * packing.scale
    names = packing.tree.names
    changes = {name: built[name] / long - 1 for name, long in zip(names, asked, strict=True)}
    assert settled.changes == pytest.approx(changes)
    assert min(changes.values()) >= -GIVE - HOLDS
    assert settled.given == pytest.approx(-min(changes.values()))
    # the inequalities, recomputed from the file as written
    check_record(json.loads(packing_text(settled.packing)))


def test_what_is_mirrored_stays_mirrored(packing, settled):
    """Every vertex has its image in the pattern, and so has every crease, to 1e-9 of the side."""
    points = settled.pattern.points
    images = packing.problem.reflect(points) if packing.symmetry != "none" else points
    far, image = cKDTree(points).query(images)
    assert far.max() <= 1e-9
    edges = {tuple(sorted(edge)) for edge in settled.pattern.edges.tolist()}
    assert {tuple(sorted(image[list(edge)].tolist())) for edge in edges} == edges


def test_fillers_are_shown_as_such(packing, settled):
    """They are flaps of the tree built, and no part of the figure."""
    pattern = settled.pattern
    assert set(pattern.fillers) == set(pattern.tree.flaps) - set(packing.tree.flaps)
    assert set(pattern.part_of.values()) == set(packing.tree.names)


def test_settling_makes_features_coarser(packing, settled):
    """What it is for; and what it says of the finest spot is true of the pattern."""
    assert settled.feature == smallest_feature(settled.pattern)
    assert settled.feature.size > 2 * smallest_feature(crease_pattern(packing)).size


def test_a_seed_repeats_itself(packing, settled):
    again = settle(packing, GIVE, tries=TRIES)
    assert again.pattern.points.tolist() == settled.pattern.points.tolist()
    assert again.changes == settled.changes
    other = settle(packing, GIVE, tries=1, seed=1)
    assert other.pattern.points.tolist() != settled.pattern.points.tolist()


def test_where_it_is_too_fine_the_sentence_names_the_place(settled):
    size, (x, y) = settled.feature.size, settled.feature.at
    assert settled.advice(size) == ""
    said = settled.advice(2 * size)
    assert f"({x:.4g}, {y:.4g})" in said
    assert all(name in said for name in settled.feature.parts)
    assert f'"{settled.limiting_part}"' in said or settled.limiting_part is None


def test_time_ends_it_and_the_best_is_kept(packing):
    """No time is over before the first try; the plain completion is returned."""
    settled = settle(packing, GIVE, deadline=Deadline.after(0))
    assert settled.tries == 1
    assert findings(settled.pattern, fold(settled.pattern)) == []


def test_ctrl_c_keeps_the_best(packing, settled):
    seen = []

    def interrupt(now):
        seen.append(now.feature)
        if now.feature > 0:
            raise KeyboardInterrupt

    ended = settle(packing, GIVE, tries=TRIES, progress=interrupt)
    assert not ended.complete
    assert ended.feature.size == seen[-1]
    assert ended.feature.size <= settled.feature.size


def test_whole_rivers_come_first(packing):
    """A pool whose members claim no split rivers is drawn from; it costs features, and says so."""
    split = replace(packing, split_rivers=("trunk",))
    drawn = []

    def pool():
        while True:
            drawn.append(1)
            yield packing

    settle(split, GIVE, tries=TRIES, more=pool())
    assert len(drawn) == 1  # at the second try; from then on the pool has a whole one
