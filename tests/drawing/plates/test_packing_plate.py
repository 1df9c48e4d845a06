"""Plates and PNG pictures: what stands on them, their size, the same bytes."""

import io
import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from matplotlib.image import imread

from packer.drawing.marks.strokes import Area, Disc, Drawing, Label, Path
from packer.drawing.marks.styles import PALETTE, STYLES, part_colours
from packer.drawing.plates.packing_plate import gallery_plate, packing_plate, round_length
from packer.drawing.writers.png import png_bytes
from packer.model.figure import Figure, Flap
from packer.model.tree import tree_of
from tests.drawing.desk import fish, label_boxes, preliminary
from tests.strategies import figures, packings


def words(drawing):
    return [mark.text for mark in drawing.marks if isinstance(mark, Label)]


def test_a_plate_shows_each_part_in_one_colour_twice():
    plate = packing_plate(fish())
    parts = {}
    for name, marks in plate.groups:
        for mark in marks:
            if mark.part and not isinstance(mark, Label):
                parts.setdefault(mark.part, set()).add(name.split(":")[0])
    assert parts == {name: {"figure", "packing"} for name in fish().tree.names}
    assert set(plate.colours) == set(parts)
    assert plate.colours["fin.left"] == plate.colours["fin.right"]


def test_both_bars_stand_for_one_length_of_the_figure():
    packing = fish(300)
    plate = packing_plate(packing)
    bars = [m for m in dict(plate.groups)["bars"] if isinstance(m, Path)]
    left, right = (
        max(x for x, _ in bar.points) - min(x for x, _ in bar.points) for bar in bars
    )
    text = next(word for word in words(plate) if "mm on the sheet" in word)
    length, there = (float(n) for n in re.findall(r"[\d.]+", text)[:2])
    assert there == pytest.approx(length * packing.scale, rel=1e-3)
    (frame,) = (m for m in plate.marks if m.kind == "sheet")
    drawn = max(x for x, _ in frame.points) - min(x for x, _ in frame.points)
    assert right == pytest.approx(there * drawn / 300, rel=1e-3)
    body = next(m for m in plate.marks if m.kind == "stick river")
    (x0, y0), (x1, y1) = body.points
    assert left == pytest.approx(length * np.hypot(x1 - x0, y1 - y0) / 0.5, rel=1e-9)


def test_loose_flaps_are_marked():
    plate = packing_plate(fish())
    kinds = [mark.kind for mark in dict(plate.groups)["packing: tips"]]
    assert kinds.count("loose tip") == 2
    assert any("loose flap (2)" in word for word in words(plate))


@settings(max_examples=15)
@given(packings(max_flaps=10))
def test_everything_stays_on_its_plate(packing):
    plate = packing_plate(packing)
    for box in label_boxes(plate):
        assert box.min() > -0.5
        assert box[:, 0].max() < plate.width + 0.5
        assert box[:, 1].max() < plate.height + 0.5
    for mark in plate.marks:
        points = [mark.centre] if isinstance(mark, Disc) else []
        points += mark.points if isinstance(mark, Path) else []
        points += [p for ring in mark.rings for p in ring] if isinstance(mark, Area) else []
        for x, y in points:
            assert -1e-6 <= x <= plate.width + 1e-6
            assert -1e-6 <= y <= plate.height + 1e-6


def test_a_gallery_tells_the_numbers_of_each():
    plate = gallery_plate([fish(), fish(), fish()], title="three fish")
    assert words(plate)[0] == "three fish"
    said = words(plate)
    assert sum(word.startswith("scale ") for word in said) == 3
    assert said.count("0 corner, 1 edge, 2 middle flaps") == 0
    assert said.count("2 corner, 1 edge, 2 middle flaps") == 3
    assert said.count("2 loose flaps") == 3


def test_only_a_packing_as_large_as_the_first_is_said_to_be_all_of_it():
    first = fish()
    smaller = [
        replace(first, tips=tuple((share * x, share * y) for x, y in first.tips))
        for share in (1 - 1e-12, 0.99964, 0.98)
    ]
    plate = gallery_plate([first, *smaller])
    shares = [word.split(" of the first")[0] for word in words(plate) if "of the first" in word]
    assert shares == ["100.0%", "100.0%", "99.9%", "98.0%"]


def test_png_is_its_size_and_the_same_twice():
    drawing = packing_plate(preliminary(200))
    data = png_bytes(drawing, dpi=100)
    assert data == png_bytes(drawing, dpi=100)
    rows, columns = imread(io.BytesIO(data)).shape[:2]
    assert columns == pytest.approx(drawing.width / 25.4 * 100, abs=1.5)
    assert rows == pytest.approx(drawing.height / 25.4 * 100, abs=1.5)


def test_png_paints_where_the_drawing_says():
    square = Area("ruler fill", (((10.0, 5.0), (30.0, 5.0), (30.0, 15.0), (10.0, 15.0)),))
    data = png_bytes(Drawing(40, 40, (("all", (square,)),), margin=0.0), dpi=254)
    dark = imread(io.BytesIO(data))[::-1, :, 0] < 0.5
    rows, columns = np.nonzero(dark)
    assert (columns.min(), columns.max()) == pytest.approx((100, 299), abs=1)
    assert (rows.min(), rows.max()) == pytest.approx((50, 149), abs=1)


@pytest.mark.parametrize("x", [20.0, 20.03, 20.06])
def test_a_disc_is_painted_where_it_is_and_not_on_whole_dots(x):
    tip = Disc("tip", (x, 20.0), 3.0)
    data = png_bytes(Drawing(40, 40, (("all", (tip,)),), margin=0.0), dpi=254)
    ink = 1.0 - imread(io.BytesIO(data))[:, :, 0]
    # ten dots to a mm, the first with its middle at 0.05 mm
    assert ink.sum(axis=0) @ (np.arange(400) + 0.5) / ink.sum() == pytest.approx(
        10 * x, abs=0.03
    )


def test_names_in_any_script_are_drawn():
    png_bytes(packing_plate(preliminary(100, names=("$x_1$", "蟹", "<b>", "a\x07b"))), dpi=40)


@given(figures(max_flaps=30))
def test_twins_share_a_colour_and_seven_kinds_take_the_palette(figure):
    tree = tree_of(figure)
    colours = part_colours(tree)
    kinds = {min(k, int(twin)) for k, twin in enumerate(tree.twin)}
    assert len(set(colours.values())) == len(kinds)
    assert all(
        colours[name] == colours[tree.names[t]]
        for name, t in zip(tree.names, tree.twin, strict=True)
    )
    if len(kinds) <= 7:
        assert set(colours.values()) <= set(PALETTE)


def luminance(colour):
    """Relative luminance of sRGB (WCAG 2.2)."""
    shares = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [s / 12.92 if s <= 0.04045 else ((s + 0.055) / 1.055) ** 2.4 for s in shares]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("kind", ["name", "note", "heading", "warning"])
def test_words_have_contrast_on_white(kind):
    """WCAG 2.2, criterion 1.4.3: at least 4.5 to 1."""
    assert 1.05 / (luminance(STYLES[kind].fill) + 0.05) >= 4.5


def test_mountain_and_valley_differ_by_dash_alone():
    """Standard diagram notation: valley dashes, mountain dashes and dots (Randlett, 1961)."""
    mountain, valley = STYLES["mountain"].dash, STYLES["valley"].dash
    assert len(mountain) == 4
    assert len(valley) == 2
    assert mountain[0] > 2 * mountain[2]


@pytest.mark.parametrize(
    ("most", "bar"), [(1, 1), (1.9, 1), (4.99, 2), (0.07, 0.05), (999, 500)]
)
def test_bars_are_round(most, bar):
    assert round_length(most) == pytest.approx(bar)


def test_a_figure_of_eighty_flaps_fits():
    figure = Figure("many", tuple(Flap(f"spine {k}", "middle", 1.0) for k in range(80)))
    assert len(set(part_colours(tree_of(figure)).values())) == 80
