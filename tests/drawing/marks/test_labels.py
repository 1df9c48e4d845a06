"""The rectangle that a label is taken to cover, by hand, and how much of a line it hides."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from packer.drawing.marks.labels import label_box, lengths_within, text_width
from packer.drawing.marks.strokes import Label


@pytest.mark.parametrize(("anchor", "start"), [("start", 0.0), ("middle", -0.5), ("end", -1.0)])
@pytest.mark.parametrize("size", [1.0, 4.0])
def test_a_level_label_covers_its_line_from_its_anchor(anchor, start, size):
    box = label_box(Label("name", (10.0, 5.0), "claw", size, anchor=anchor))
    wide = text_width("claw", size)
    assert box[:, 0].min() == pytest.approx(10 + start * wide)
    assert box[:, 0].max() == pytest.approx(10 + (start + 1) * wide)
    # six tenths of the size above and below its middle: letters with ascenders and descenders
    assert box[:, 1].min() == pytest.approx(5 - 0.6 * size)
    assert box[:, 1].max() == pytest.approx(5 + 0.6 * size)


def test_width_grows_with_size_and_letters():
    assert text_width("claw", 6.0) == pytest.approx(3 * text_width("claw", 2.0))
    assert text_width("clawclaw", 2.0) == pytest.approx(2 * text_width("claw", 2.0))


def test_a_turned_label_is_turned_about_its_anchor():
    level = label_box(Label("name", (0.0, 0.0), "claw", 2.0, anchor="start"))
    upright = label_box(Label("name", (0.0, 0.0), "claw", 2.0, anchor="start", angle=90.0))
    assert upright == pytest.approx(level @ np.array([[0, 1], [-1, 0]]))


def test_as_much_of_a_line_lies_in_a_box_as_shapely_cuts_out_of_it():
    rng = np.random.default_rng(5)
    labels = [
        Label("name", (x, y), "m" * n, 3.0, angle=angle)
        for x, y, n, angle in zip(
            *rng.uniform(-5, 5, (2, 200)), rng.integers(1, 9, 200), rng.uniform(0, 360, 200),
            strict=True,
        )
    ]  # fmt: skip
    corners = np.array([label_box(label) for label in labels])
    lines = rng.uniform(-8, 8, (200, 2, 2))
    lines[:20] = corners[:20, [0, 2]]  # from corner to corner
    lines[20:40] = corners[20:40, :2] + (corners[20:40, 2:3] - corners[20:40, 1:2]) / 3
    lines[40:60] = corners[40:60, :2] + (corners[40:60, 2:3] - corners[40:60, 1:2]) * 3
    cut = shapely.intersection(shapely.polygons(corners), shapely.linestrings(lines))
    within = lengths_within(corners, lines)
    assert within == pytest.approx(shapely.length(cut), abs=1e-9)
    assert np.count_nonzero(within) > 60
    assert not within[40:60].any()
