"""What of a drawing is read: strokes that can be seen, in one frame; all else is passed over."""

from __future__ import annotations

import numpy as np
import pytest

from packer.errors import ReadError
from packer.sketch.css import MM_PER_PX
from packer.sketch.svg_reader import parse_sketch, read_sketch

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:e="urn:some-editor"'


def sketch(body, head=""):
    return parse_sketch(f"{HEAD} {head}>{body}</svg>".encode())


def strokes(body, head=""):
    return [s.points.round(6).tolist() for s in sketch(body, head).strokes]


LINE = '<line x1="1" y1="2" x2="3" y2="5"/>'
SEEN = '<g stroke="black" fill="none">{}</g>'


@pytest.mark.parametrize(
    ("shape", "points"),
    [
        (LINE, [[1, 2], [3, 5]]),
        ('<line x2="4"/>', [[0, 0], [4, 0]]),
        ('<polyline points="0,0 1,1,2 0"/>', [[0, 0], [1, 1], [2, 0]]),
        ('<path d="M0 0h3v4"/>', [[0, 0], [3, 0], [3, 4]]),
        ('<polygon points="0,0 1,0 1,1"/>', [[0, 0], [1, 0], [1, 1], [0, 0]]),
        ('<rect width="2" height="1"/>', [[0, 0], [2, 0], [2, 1], [0, 1], [0, 0]]),
        ('<line x1="1in" x2="2.54cm" y2="96"/>', [[96, 0], [96, 96]]),
    ],
)
def test_shapes_are_strokes(shape, points):
    assert strokes(SEEN.format(shape)) == [points]


def test_groups_transforms_and_view_boxes_nest():
    body = (
        '<g stroke="red" transform="translate(10 0)"><g transform="rotate(90)">'
        '<svg x="1" y="1" width="10" height="10" viewBox="0 0 100 100">'
        '<path transform="scale(2)" d="M0 0L50 0"/></svg></g></g>'
    )
    # in the inner view 0..100 is 10 units; (0, 0) -> (1, 1) -> turned (-1, 1) -> moved (9, 1)
    assert strokes(body) == [[[9, 1], [9, 11]]]
    twice = sketch(body, 'width="200" height="200" viewBox="0 0 100 100"')
    assert twice.strokes[0].points == pytest.approx(np.array([[18, 2], [18, 22]]))
    assert twice.own_units(twice.strokes[0].points[0]) == pytest.approx((9, 1))


def test_a_drawing_without_a_size_is_as_large_as_a_page_makes_it():
    """300 x 150 pixels: CSS 2.2, 10.3.2 and 10.6.2, replaced elements without a size of their own."""
    inner = (
        '<svg width="50%" height="50%" viewBox="0 0 3 3" preserveAspectRatio="none">{}</svg>'
    )
    assert strokes(inner.format(SEEN.format('<path d="M0 0L3 3"/>'))) == [[[0, 0], [150, 75]]]


@pytest.mark.parametrize(
    "hidden",
    [
        '<g display="none">{}</g>',
        '<g style="display: none !important">{}</g>',
        '<g visibility="hidden">{}</g>',
        '<g opacity="0">{}</g>',
        '<g opacity="0.5"><g style="opacity:0%">{}</g></g>',
        '<g stroke="none">{}</g>',
        '<g stroke-width="0">{}</g>',
        '<g class="off">{}</g>',
        '<g id="notes">{}</g>',
        "<defs>{}</defs>",
        "<symbol>{}</symbol>",
        "<clipPath>{}</clipPath>",
    ],
)
def test_what_cannot_be_seen_is_passed_over(hidden):
    css = "<style>/* x */ .off, g.never {stroke: none} #notes{visibility:collapse}</style>"
    body = css + SEEN.format(hidden.format(LINE) + '<path d="M0 0L9 9"/>')
    assert strokes(body) == [[[0, 0], [9, 9]]]


def test_style_sheets_yield_to_style_attributes_and_win_over_presentation():
    # CSS 2.1, section 6.4: attribute < element < class < id < style attribute
    css = "<style>line{stroke:none} .s{stroke:blue} #x{stroke:none}</style>"
    body = css + "".join(
        f'<line stroke="red" {more} x2="{k}"/>'
        for k, more in enumerate(
            ["", 'class="a s"', 'class="s" id="x"', 'id="x" style="stroke:#000"'], 1
        )
    )
    assert [line[1][0] for line in strokes(body)] == [2, 4]


def test_fills_pictures_texts_and_dots_are_passed_over():
    found = sketch(
        '<image href="photo.jpg" width="99" height="99"/><path fill="black" d="M0 0h1v1z"/>'
        '<rect width="9" height="9"/>'
        + SEEN.format('<text x="1" y="2">claw</text><line x1="4" x2="4"/>' + LINE)
    )
    assert len(found.strokes) == 1
    assert found.passed == {"pictures": 1, "fills": 2}
    assert [caption.text for caption in found.captions] == ["claw"]


def test_copies_are_drawn_where_they_are_used():
    body = (
        '<defs><line id="leg" stroke="red" x2="5"/><symbol id="all"><use href="#leg"/></symbol>'
        '</defs><use href="#leg" x="1" y="1"/>'
        '<use xmlns:xlink="http://www.w3.org/1999/xlink" xlink:href="#all" transform="scale(2)"/>'
        '<use href="#nothing"/><use href="other.svg#leg"/>'
    )
    assert strokes(body) == [[[1, 1], [6, 1]], [[0, 0], [10, 0]]]


def test_copies_of_copies_end():
    with pytest.raises(ReadError, match="too deep"):
        sketch('<g id="a" stroke="red"><use href="#a"/></g>')
    bomb = "".join(
        f'<g id="g{k + 1}">' + f'<use href="#g{k}"/>' * 10 + "</g>" for k in range(12)
    )
    with pytest.raises(ReadError, match="more than"):
        sketch(f'<defs><line id="g0" stroke="red" x2="1"/>{bomb}</defs><use href="#g12"/>')


@pytest.mark.parametrize(
    ("element", "name"),
    [
        ('<line id="left_claw" x2="1"/>', "left claw"),
        ('<line e:label="claw" id="path12" x2="1"/>', "claw"),
        ('<line aria-label="claw" x2="1"/>', "claw"),
        ('<line id="leg_x0020_2" x2="1"/>', "leg 2"),
        ('<line id="claw" x2="1"><title>Big  claw</title></line>', "Big claw"),
        ('<g id="claw"><line id="line3" x2="1"/></g>', "claw"),
        ('<g e:label="Layer 1"><line id="svg_7" x2="1"/></g>', ""),
        ('<line id="path1234-5-8" x2="1"/>', ""),
        ('<path id="claw" d="M0 0h1M5 5h1"/>', ""),  # two strokes: which of them?
    ],
)
def test_names_are_those_that_somebody_chose(element, name):
    assert sketch(SEEN.format(element)).strokes[0].name == name


def test_the_middle_of_a_caption_follows_its_anchor():
    body = SEEN.format(LINE) + "".join(
        f'<text x="50" y="50" font-size="10" text-anchor="{anchor}">abcd</text>'
        for anchor in ("start", "middle", "end")
    )
    xs = [caption.at[0] for caption in sketch(body).captions]
    assert xs[0] > xs[1] == 50 > xs[2]
    two = SEEN.format(LINE) + '<text><tspan x="1" y="9">a</tspan><tspan x="8">b</tspan></text>'
    assert [c.text for c in sketch(two).captions] == ["a", "b"]


@pytest.mark.parametrize(
    ("head", "mm"),
    [
        ("", MM_PER_PX),
        ('viewBox="0 0 10 10"', None),
        ('viewBox="0 0 10 10" width="100%" height="100%"', None),
        ('viewBox="0 0 100 50" width="200mm"', 2.0),
        ('viewBox="0 0 100 50" width="20cm" height="100mm"', 2.0),
        ('viewBox="0 0 100 50" height="1in"', 25.4 / 50),
    ],
)
def test_true_millimetres_come_from_the_drawings_own_size(head, mm):
    found = sketch(SEEN.format('<line x2="1"/>'), head)
    length = found.strokes[0].points[1, 0] - found.strokes[0].points[0, 0]
    assert (found.mm and found.mm * length) == (mm and pytest.approx(mm))


@pytest.mark.parametrize(
    ("source", "said"),
    [
        (b"", "no SVG"),
        (b"hello", "no SVG"),
        (b"\x89PNG\r\n", "no SVG"),
        (b"<html/>", "but <html>"),
        (b'<?xml version="1.0" encoding="no-such"?><svg/>', "no SVG"),
        (b"<svg><g></svg>", "no SVG"),
        (b"<svg/>", "no visible stroke"),
        (b'<svg><path fill="red" d="M0 0h1v1z"/></svg>', r"passed over: 1 fill\)"),
        (b'<svg><path stroke="red" d="M0 0Lx"/></svg>', "<path>: .*number"),
        (
            b'<svg><g id="claw" stroke="red" transform="spin(3)"/></svg>',
            "<g> claw: .*transform",
        ),
        (b'<svg viewBox="0 0 0 1"><line stroke="red" x2="1"/></svg>', "viewBox"),
        (b'<svg><line stroke="red" x2="1 foot"/></svg>', "no length"),
    ],
)
def test_what_cannot_be_read_is_told_in_one_sentence(source, said):
    with pytest.raises(ReadError, match=said) as caught:
        parse_sketch(source)
    assert "\n" not in str(caught.value)


def test_a_missing_file_is_told(tmp_path):
    with pytest.raises(ReadError, match=r"crab\.svg: no such file"):
        read_sketch(tmp_path / "crab.svg")


def test_entities_that_grow_without_bounds_are_refused():
    # the "billion laughs" document; expat limits how far entities may grow since version 2.4.1
    lines = "".join(f'<!ENTITY a{k + 1} "{f"&a{k};" * 10}">' for k in range(10))
    bomb = f'<!DOCTYPE svg [<!ENTITY a0 "haha">{lines}]><svg><text>&a10;</text></svg>'
    with pytest.raises(ReadError, match="no SVG"):
        parse_sketch(bomb.encode())


def test_outside_files_are_not_read(tmp_path):
    secret = tmp_path / "secret.txt"
    secret.write_text("secret")
    source = (
        f'<!DOCTYPE svg [<!ENTITY x SYSTEM "file://{secret}">]>'
        '<svg><line stroke="red" x2="1"/><text>&x;</text></svg>'
    )
    with pytest.raises(ReadError, match="no SVG"):
        parse_sketch(source.encode())


def test_deep_groups_need_no_recursion():
    deep = "<g>" * 400 + '<line stroke="red" x2="1"/>' + "</g>" * 400
    assert len(sketch(deep).strokes) == 1
