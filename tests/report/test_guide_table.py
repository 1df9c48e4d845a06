"""The fold guide in short, for a guide whose numbers are given."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

from packer.landmarks.guide_brief import GuideBrief
from packer.model.sheet import Sheet
from packer.report.guide_table import EXACT_MM, guide_rows, guide_section, is_of
from tests.folded.textbook import windmill

BRIEF = GuideBrief(
    size=(1.0, 1.5), mm=200.0, places={}, creases=("Fold the sheet in half.",), steps=1,
    off=0.25, error=0.5, unmarked=(), levels=1, precreased=2, measured=0, collapse=3, stages=2,
    together=4, before=5, pleats={},
)  # fmt: skip


def test_the_sheet_is_told_in_millimetres():
    assert guide_section(BRIEF).numbers.caption.endswith("for a sheet of 200 x 300 mm")


def test_a_mark_is_exact_below_a_millionth_of_a_millimetre():
    told = [
        dict(guide_rows(replace(BRIEF, off=off)))["marks off their tips"]
        for off in (0.25, 2 * EXACT_MM, EXACT_MM / 2)
    ]
    assert told == ["at most 0.25 mm", "at most 2e-06 mm", "exact"]


def test_a_guide_is_of_the_creases_whose_tips_and_sides_it_has():
    """A sheet in other units is the same sheet; one of another ratio is not."""
    pattern = windmill()
    places = {name: tuple(pattern.points[vertex]) for name, vertex in pattern.tips.items()}
    size = (pattern.sheet.width, pattern.sheet.height)
    own = replace(BRIEF, size=size, places=places)
    assert is_of(own, pattern)
    assert is_of(replace(own, size=(2 * size[0], 2 * size[1])), pattern)
    wide = SimpleNamespace(sheet=Sheet(2, 1), tips={})
    assert is_of(replace(BRIEF, size=(1.0, 0.5)), wide)
    assert not is_of(replace(own, size=(size[0], 1.5 * size[1])), pattern)
    assert not is_of(replace(own, places=dict(list(places.items())[1:])), pattern)
    name, (x, y) = next(iter(places.items()))
    moved = (x, y + 0.01 * pattern.sheet.diagonal)
    assert not is_of(replace(own, places=places | {name: moved}), pattern)
