"""The figure file: read as documented, written so that it reads back equal."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given

from packer.errors import FigureError, ReadError
from packer.files.figure_toml import figure_text, parse_figure, read_figure
from packer.model.figure import Figure, Flap, River
from packer.model.problem import pose
from packer.model.sheet import Sheet
from tests.conftest import SAMPLES
from tests.strategies import figures

DOCUMENTED = """
name = "Shore crab"
symmetry = "book"                     # "none" (default), "book", "diagonal"

[sheet]                               # optional; the command line can override it
width = 1
height = 1
unit = "mm"                           # optional; without it the sheet is a ratio

[flaps]                               # one line a flap: it hangs on a joint
claw  = { joint = "shoulder", length = 1.8, pair = true, place = "edge" }
leg_1 = { joint = "shoulder", length = 1.6, pair = true }
eye   = { joint = "front", length = 0.3, pair = true }
tail  = { joint = "rear", length = 0.4, place = "axis" }

[rivers]                              # one line a river: it joins two joints
front_shell = { joints = ["front", "shoulder"], length = 0.3 }
rear_shell  = { joints = ["shoulder", "rear"], length = 0.6 }
"""


def test_the_documented_file_is_read():
    assert parse_figure(DOCUMENTED) == Figure(
        "Shore crab",
        (
            Flap("claw", "shoulder", 1.8, pair=True, place=("edge",)),
            Flap("leg_1", "shoulder", 1.6, pair=True),
            Flap("eye", "front", 0.3, pair=True),
            Flap("tail", "rear", 0.4, place=("axis",)),
        ),
        (
            River("front_shell", ("front", "shoulder"), 0.3),
            River("rear_shell", ("shoulder", "rear"), 0.6),
        ),
        "book",
        Sheet(1, 1, "mm"),
    )


@pytest.mark.parametrize(
    ("written", "place"),
    [
        ('"corner"', ("corner",)),
        ("[0.5, 1]", ((0.5, 1.0),)),
        ('["top left", "edge"]', ("top left", "edge")),
        ('[[0, 0], "middle"]', ((0.0, 0.0), "middle")),
        ("[[0.25, 1]]", ((0.25, 1.0),)),
    ],
)
def test_a_place_is_a_name_a_point_or_a_list_of_them(written, place):
    text = f'[flaps]\na = {{ joint = "j", length = 1, place = {written} }}\n'
    figure = parse_figure(text + 'b = { joint = "j", length = 1, flex = 0.1 }\n')
    assert figure.flaps[0].place == place
    assert parse_figure(figure_text(figure), figure.name) == figure


def test_a_figure_without_a_name_takes_that_of_its_file(tmp_path):
    file = tmp_path / "limpet.toml"
    file.write_text('[flaps]\na = { joint = "j", length = 1, pair = true }\n')
    assert read_figure(file).name == "limpet"
    assert read_figure(str(file)).symmetry == "none"


def test_a_byte_order_mark_is_passed_over(tmp_path):
    file = tmp_path / "limpet.toml"
    file.write_bytes(b"\xef\xbb\xbf" + DOCUMENTED.encode())
    assert read_figure(file).name == "Shore crab"


def test_wrong_files_are_caught_as_builtin_errors_too(tmp_path):
    with pytest.raises(OSError, match="no such file"):
        read_figure(tmp_path / "none.toml")
    with pytest.raises(ValueError, match="missing"):
        parse_figure("[sheet]\nwidth = 1\nheight = 1\n")
    with pytest.raises(ReadError, match="line 1: a name is missing"):
        parse_figure("[")
    with pytest.raises(FigureError) as caught:
        parse_figure('[flaps]\na = { joint = "j" }\n')
    assert (caught.value.entry, caught.value.source) == ("flaps.a", "")


@given(figures(wild_names=True, places=True, flex=True))
def test_a_written_figure_reads_back_equal(figure):
    text = figure_text(figure)
    text.encode("utf-8")
    assert parse_figure(text) == figure


@given(figures(wild_names=True))
def test_a_written_figure_has_one_line_a_part(figure):
    parts = tomllib.loads(figure_text(figure))
    assert list(parts["flaps"]) == [flap.name for flap in figure.flaps]
    lines = [line for line in figure_text(figure).split("\n") if " = { " in line]
    assert len(lines) == len(figure.flaps) + len(figure.rivers)


@pytest.mark.parametrize("path", sorted(SAMPLES.glob("*.toml")), ids=lambda p: p.stem)
def test_every_sample_is_a_figure_that_can_be_packed(path):
    figure = read_figure(path)
    assert pose(figure).tree.n_tips >= 5
    assert parse_figure(figure_text(figure)) == figure


def test_the_samples_run_from_simple_to_very_complex():
    sizes = sorted(pose(read_figure(path)).tree.n_tips for path in SAMPLES.glob("*.toml"))
    assert len(sizes) >= 10
    assert (sizes[0], sizes[-1]) == (5, 80)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            "[flaps]\nflügel = { joint = 'j', length = 1 }\n",
            (
                'line 2: a name with letters beyond a to z stands in quotes; write "flügel" in place of '
                "flügel"
            ),
        ),
        ("name = Crab\n", 'line 1: the quotes are missing; write "Crab" in place of Crab'),
        (
            '[flaps]\na = { joint = "j", length = 1, place = ["edge", corner] }\n',
            'line 2: the quotes are missing; write "corner" in place of corner',
        ),
        (
            '[flaps]\nleg_1 = { joint = "j", length = 1 }\n\nleg_1 = { joint = "j", length = 2 }\n',
            "leg_1 stands twice, lines 2 and 4; give each part its own name",
        ),
        ("[flaps]\n\n[flaps]\n", "the table [flaps] stands twice, lines 1 and 3"),
        ('[flaps]\na = { joint = "j", length = 1,5 }\n', "line 2: 1,5 is no number; write 1.5"),
        ("whole_rivers = True\n", "line 1: write true in place of True"),
        ("name = \u201dx\u201d\n", "line 1: these are printer's quotes; write straight ones"),
        ('[flaps]\na = { joint = "j", length = 1\n', "line 2: the braces are not closed"),
    ],
)
def test_what_is_no_toml_is_told_with_its_line_and_the_remedy(text, said):
    with pytest.raises(ReadError) as caught:
        parse_figure(text)
    assert caught.value.message.startswith(said)


@pytest.mark.parametrize(
    ("word", "meant"), [("sides", "edge"), ("center", "middle"), ("centre", "middle")]
)
def test_another_word_for_a_place_suggests_the_one_meant(word, meant):
    with pytest.raises(FigureError, match=f'did you mean "{meant}"'):
        parse_figure(f'[flaps]\na = {{ joint = "j", length = 1, place = "{word}" }}\n')
