"""The report as text, as a tree of elements and in a real browser."""

from __future__ import annotations

import io
import json
import re
from html.parser import HTMLParser

import numpy as np
import pytest
from matplotlib.image import imread

from packer.creases.completion.complete import crease_pattern
from packer.drawing.writers.html import Table, lighting, table, text
from packer.files.compare_files import comparison_text
from packer.files.fold_json import fold_text
from packer.files.grid_json import grid_text
from packer.files.packing_json import packing_text
from packer.folded.form import fold
from packer.folded.layers import FlatBase
from packer.grid.pack_grid import pack_grid
from packer.model.figure import Figure, Flap, River
from packer.model.packing import Packing, SearchRecord
from packer.model.problem import pose
from packer.model.sheet import Sheet
from packer.planning.compare import compare
from packer.search.options import SearchOptions
from packer.search.stopping import MaxEffort, MaxStarts
from tests.conftest import run
from tests.drawing.browser import open_page, run_in_page

WILD = '<script>alert("x")</script>'
QUOTED = 'it\'s "quoted" & \\ ]]> </style> é'


def wild_packing():
    figure = Figure(
        f"crab {WILD}",
        (
            Flap(WILD, "hip", 1, pair=True),
            Flap(QUOTED, "hip", 0.6, pair=True),
            Flap("tail", "neck", 0.5),
            Flap("head", "neck", 0.7),
        ),
        (River("back", ("hip", "neck"), 0.3),),
    )
    tips = ((0.0, 0.0), (1.0, 0.0), (0.0, 0.7), (1.0, 0.7), (0.5, 1.0), (0.5, 0.45))
    record = SearchRecord(seed=3, starts=8, hits=2, seconds=1.5, stopped="starts")
    return Packing(pose(figure, Sheet(), "book"), tips, search=record)


@pytest.fixture(scope="module")
def report(tmp_path_factory):
    """The path of a report with everything in it, names as wild as they can be."""
    work = tmp_path_factory.mktemp("report")
    packing = wild_packing()
    (work / "crab.packing.json").write_text(packing_text(packing), encoding="utf-8")
    grid = pack_grid(packing.problem, options=SearchOptions(stop=MaxEffort(1)))
    (work / "crab.grid.json").write_text(grid_text(grid), encoding="utf-8")
    pattern = crease_pattern(packing)
    base = FlatBase(pattern, fold(pattern), None)
    (work / "crab.creases.fold").write_text(fold_text(base), encoding="utf-8")
    found = compare(
        packing.figure,
        [Sheet(1, 1), Sheet(2, 1)],
        options=SearchOptions(stop=MaxStarts(1), workers=1),
        tries=1,
        effort=1,
    )
    (work / "crab.compare.json").write_text(comparison_text(found), encoding="utf-8")
    path = work / "crab.packing.json"
    assert run("report", path, "--sheet", "350mm", "--out", work, "--quiet") == 0
    return work / "crab.report.html"


class Page(HTMLParser):
    """Elements with their attributes, and the text in them."""

    def __init__(self, source):
        super().__init__()
        self.elements, self.texts, self.open = [], [], []
        self.feed(source)

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))
        if tag not in {"meta", "br", "path", "circle"}:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        if tag not in {"path", "circle"}:
            assert self.open.pop() == tag

    def handle_data(self, data):
        self.texts.append(data)

    def all(self, tag):
        return [attributes for name, attributes in self.elements if name == tag]


def test_the_page_is_well_formed_and_has_all_its_sections(report):
    page = Page(report.read_text(encoding="utf-8"))
    assert page.open == []
    headings = {a["id"] for a in page.all("h2")}
    assert headings == {
        *("parts", "advice", "paper", "creases", "on-a-grid", "sheets-compared"),
        *("how-it-was-searched", "make-it-again"),
    }
    assert len(page.all("svg")) == 6
    ids = [a["id"] for _, a in page.elements if "id" in a]
    assert len(ids) == len(set(ids))
    for attributes in page.all("svg"):
        assert attributes["role"] == "img"
        assert set(attributes["aria-labelledby"].split()) <= set(ids)
    assert page.all("html")[0]["lang"] == "en"
    assert len(page.all("caption")) == len(page.all("table")) == 10
    assert all("scope" in a for a in page.all("th"))


def test_the_page_loads_nothing_and_runs_nothing(report):
    page = Page(report.read_text(encoding="utf-8"))
    assert page.all("script") == page.all("link") == page.all("img") == []
    for _, attributes in page.elements:
        for key, value in attributes.items():
            assert not key.startswith("on")
            assert key == "xmlns" or "://" not in (value or "")
    assert "default-src 'none'" in page.all("meta")[1]["content"]
    assert "url(" not in report.read_text(encoding="utf-8")


def test_names_are_escaped_everywhere(report):
    source = report.read_text(encoding="utf-8")
    assert "<script" not in source
    assert source.count("</style>") == 1
    page = Page(source)
    said = "".join(page.texts)
    assert f"crab {WILD}" in said
    assert QUOTED in said
    assert {a.get("data-part") for _, a in page.elements} >= {f"{WILD}.left", f"{QUOTED}.right"}


def test_the_same_packing_gives_the_same_page(report):
    before = report.read_bytes()
    path = report.with_name("crab.packing.json")
    assert (
        run("report", path, "--sheet", "350mm", "--out", report.parent, "--force", "--quiet")
        == 0
    )
    assert report.read_bytes() == before


def test_costs_are_bars_of_their_size():
    data = Table("costs", ("part", "cost"), [("a", "2"), ("b", "1")], bars={1: [1.0, 0.5]})
    assert re.findall(r"width:([\d.]+)%", table(data)) == ["100.0", "50.0"]


def test_text_cannot_leave_its_place():
    assert text("<\"'&>\x00\u202e").startswith("&lt;&quot;&#x27;&amp;&gt;\ufffd")
    css = lighting([["</style>{}\"'\\"]])
    assert "<" not in css
    assert css.count("{") == css.count("}")


def test_the_browser_finds_no_fault(report, tmp_path):
    dom, console = open_page(report, tmp_path, "--dump-dom")
    assert console == []
    assert dom.count("<svg") == 6
    assert "<script" not in dom


def test_pointing_at_a_row_lights_its_parts_in_all_drawings(report, tmp_path):
    script = """
    const shown = () => [...document.querySelectorAll('.pair svg [data-part]')]
      .map(e => [e.dataset.part, e.ownerSVGElement.getAttribute('aria-labelledby').split('-')[0],
                 getComputedStyle(e).opacity]);
    document.head.insertAdjacentHTML('beforeend', '<style>*{transition:none !important}</style>');
    const before = shown();
    document.getElementById('part-0').focus();
    document.title = JSON.stringify({before, after: shown()});
    """
    html = report.read_text(encoding="utf-8")
    found = json.loads(
        run_in_page(html, script, tmp_path).replace("&lt;", "<").replace("&gt;", ">")
    )
    assert {row[2] for row in found["before"]} == {"1"}
    lit = {(part, drawing) for part, drawing, opacity in found["after"] if opacity == "1"}
    first = wild_packing().tree.names[0:2]
    drawings = ("figure", "packing", "creases", "folded", "grid")
    assert lit == {(name, drawing) for name in first for drawing in drawings}
    assert len(found["after"]) > len(lit)


def test_nothing_is_wider_than_a_narrow_window(report, tmp_path):
    script = "document.title = document.documentElement.scrollWidth + ' ' + innerWidth"
    html = report.read_text(encoding="utf-8")
    width, window = map(int, run_in_page(html, script, tmp_path).split())
    assert width <= window


@pytest.fixture(scope="module")
def shots(report, tmp_path_factory):
    """The page as pictures: wide, narrow and dark, as arrays of grey."""
    work = tmp_path_factory.mktemp("shots")
    found = {}
    for name, size, options in (
        ("wide", "1280,1000", []),
        ("narrow", "500,1000", []),
        ("dark", "1280,1000", ["--force-dark-mode"]),
    ):
        target = work / f"{name}.png"
        open_page(report, work, f"--window-size={size}", f"--screenshot={target}", *options)
        found[name] = imread(io.BytesIO(target.read_bytes()))[..., :3].mean(axis=2)
    return found


def test_the_page_fills_a_wide_and_a_narrow_window(shots):
    for name, columns in (("wide", 2), ("narrow", 1)):
        grey = shots[name]
        page = float(np.median(grey[:, :4]))
        cards = np.abs(grey - 1.0) < 1e-3  # drawings stand on white, the page is off-white
        assert page > 0.9
        runs = np.flatnonzero(np.diff((cards.mean(axis=0) > 0.3).astype(int)) == 1)
        wide_runs = [k for k in runs if cards[:, k + 1 : k + 200].mean() > 0.25]
        assert len(wide_runs) >= columns
        assert (grey < 0.3).mean() > 0.005  # there is ink


def test_the_page_is_dark_where_that_is_wished_and_its_drawings_stay_on_white(shots):
    grey = shots["dark"]
    assert float(np.median(grey[:, :4])) < 0.15
    assert (grey > 0.99).mean() > 0.2
    words = grey[:200, 60:700]
    assert words.max() > 0.85  # light words on dark
