"""The packing file: complete, checked when read, and equal after a round trip."""

from __future__ import annotations

import json
import math

import pytest
from hypothesis import assume, given, settings

from packer.errors import PackerError, PackingError, ReadError
from packer.files.packing_json import packing_record, packing_text, parse_packing, read_packing
from packer.model.packing import Packing
from packer.model.problem import pose
from tests.recomputed import check_record
from tests.strategies import packings, random_figure, scattered

KEYS = {
    "format", "version", "figure", "sheet", "symmetry", "scale", "tips", "lengths", "active",
    "loose", "kinds", "costs", "efficiency", "search",
}  # fmt: skip


@pytest.fixture(scope="module")
def packing():
    return scattered(pose(random_figure(3, 6, symmetry="book", pairs=True)), 5)


@settings(max_examples=80)
@given(packings())
def test_a_written_packing_reads_back_equal(packing):
    assume(packing.scale > 0)
    again = parse_packing(packing_text(packing))
    assert again == packing
    assert again.scale == packing.scale
    assert packing_text(again) == packing_text(packing)


@given(packings(max_flaps=10))
def test_everything_claimed_holds_from_the_file_alone(packing):
    assume(packing.scale > 0)
    record = json.loads(packing_text(packing))
    assert record.keys() >= KEYS
    check_record(record)
    assume(record["active"])  # else a flap in the middle decides by its distance to an edge
    with pytest.raises(AssertionError):
        check_record({**record, "scale": record["scale"] * (1 + 1e-6)})


def test_the_keys_are_those_documented(packing):
    record = packing_record(packing)
    assert list(record) == [
        "format", "version", "figure", "sheet", "symmetry", "scale", "tips", "lengths",
        "active", "loose", "slack", "kinds", "costs", "efficiency", "stress",
        "split_rivers", "upper_bound", "bound_rule", "headroom", "search",
    ]  # fmt: skip
    assert record["format"] == "packer.packing"
    assert record["version"] == 1
    assert set(record["sheet"]) == {"width", "height", "unit"}
    assert set(record["search"]) == {"seed", "starts", "hits", "seconds", "stopped"}
    assert list(record["tips"]) == list(packing.tree.flaps)
    assert list(record["lengths"]) == list(packing.tree.names)
    assert set(record["kinds"].values()) <= {"corner", "edge", "middle"}
    paper = json.loads(packing_text(packing))["paper"]
    assert list(paper) == list(packing.tree.names)
    # regions of different edges touch at most
    assert record["efficiency"] == pytest.approx(sum(paper.values()), rel=1e-9)


def test_a_file_is_read_from_the_disk(packing, tmp_path):
    file = tmp_path / "x.packing.json"
    file.write_text(packing_text(packing), encoding="utf-8")
    assert read_packing(file) == packing
    assert read_packing(str(file)) == packing


def changed(packing, **keys):
    """The packing's record with some keys replaced; "a.b" reaches inside, ... removes."""
    record = json.loads(packing_text(packing))
    for path, value in keys.items():
        *above, last = path.split("__")
        table = record
        for key in above:
            table = table[key]
        if value is ...:
            del table[last]
        else:
            table[last] = value
    return json.dumps(record)


WRONG = {
    "format": (
        {"format": "other"},
        ReadError,
        'format: "other", and "packer.packing" is wanted',
    ),
    "no format": ({"format": ...}, ReadError, "format: no format is given"),
    "version": ({"version": 2}, ReadError, "version: version 2 is not 1; write it again"),
    "version true": ({"version": True}, ReadError, "version: version true is not 1"),
    "no tips": ({"tips": ...}, PackingError, '"tips" is missing; pack the figure again'),
    "tips a list": ({"tips": [1]}, PackingError, "tips: [1] is no object"),
    "a tip too few": ({"tips__f0": ...}, PackingError, 'tips: "f0" is missing'),
    "a tip too many": ({"tips__f99": [0, 0]}, PackingError, 'tips: "f99" is no part of the'),
    "a tip no point": ({"tips__f0": [1]}, PackingError, "tips.f0: [1] is no point [x, y]"),
    "a tip of text": ({"tips__f0": ["0", 1]}, PackingError, 'tips.f0: "0" is no finite number'),
    "a tip NaN": (
        {"tips__f0": [math.nan, 1]},
        PackingError,
        "tips.f0: NaN is no finite number",
    ),
    "a tip moved": ({"tips__f0": [9, 9]}, PackingError, "; pack the figure again"),
    "a length zero": ({"lengths__f0": 0}, PackingError, "lengths.f0: 0 is not above zero"),
    "a length infinite": ({"lengths__f0": math.inf}, PackingError, "Infinity is no finite"),
    "a scale too large": ({"scale": 99}, PackingError, "scale: it says 99, and the tips give"),
    "a scale of text": ({"scale": "1"}, PackingError, 'scale: "1" is no finite number'),
    "a figure no object": ({"figure": 3}, PackingError, "figure: 3 is no object"),
    "a figure's length": (
        {"figure__flaps__f0__length": -1},
        PackerError,
        "figure.flaps.f0.length: a length of -1 is no part; write a number above zero",
    ),
    "a figure's key": ({"figure__x": 1}, PackerError, 'figure: unknown key "x"'),
    "a sheet's side": (
        {"sheet__width": 0},
        PackerError,
        "sheet.width: a side of 0 is no sheet",
    ),
    "a symmetry": ({"symmetry": "x"}, PackerError, 'symmetry: unknown symmetry "x"'),
    "a symmetry no text": ({"symmetry": 1}, PackingError, "symmetry: 1 is no symmetry"),
    "a multiplier": ({"stress": [["f0", "f9", 1]]}, PackingError, 'stress: "f9" is no flap of'),
    "a multiplier's form": (
        {"stress": [1]},
        PackingError,
        "stress: 1 is no [flap, flap, number]",
    ),
    "slack": ({"slack": {"x": 1}}, PackingError, 'slack: "x" is no flap of the figure'),
    "a split river": ({"split_rivers": ["x"]}, PackingError, 'split_rivers: "x" is no river'),
    "a bound": ({"upper_bound": -1}, PackingError, "upper_bound: -1 is not above zero"),
    "a bound below the scale": ({"upper_bound": 1e-6}, PackingError, "above the bound"),
    "a bound without a rule": ({"bound_rule": ...}, PackingError, '"bound_rule" does not name'),
    "a seed": ({"search__seed": 1.5}, PackingError, "search.seed: 1.5 is no whole number"),
    "no hits": ({"search__hits": ...}, PackingError, 'search: "hits" is missing'),
    "why it stopped": ({"search__stopped": 1}, PackingError, "search.stopped: 1 is no text"),
}


@pytest.mark.parametrize("kind", WRONG)
def test_a_wrong_entry_is_named(kind, tmp_path):
    packing = scattered(pose(random_figure(3, 6)), 5)
    keys, error, said = WRONG[kind]
    file = tmp_path / "x.packing.json"
    file.write_text(changed(packing, **keys), encoding="utf-8")
    with pytest.raises(error) as caught:
        read_packing(file)
    assert said in str(caught.value)
    assert str(caught.value).startswith(str(file))
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "not JSON"),
        ("{", "not JSON"),
        ("[1]", 'not a "packer.packing" file'),
        ("[" * 100_000, "nested far too deep"),
        ('{"format": "packer.packing"}', "version nothing is not 1"),
    ],
)
def test_what_is_no_packing_is_refused(text, said):
    with pytest.raises(ReadError, match=said):
        parse_packing(text)


def test_lengths_that_flex_are_kept():
    problem = pose(random_figure(3, 4))
    lengths = tuple(length * 1.05 for length in problem.tree.lengths.tolist())
    packing = Packing(problem, scattered(problem, 1).tips, lengths)
    again = parse_packing(packing_text(packing))
    assert again.lengths == lengths
    assert again == packing
