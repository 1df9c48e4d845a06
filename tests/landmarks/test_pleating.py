"""Pleats in the fold guide: recomputed from the written files, drawn and told in words."""

from __future__ import annotations

import json
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
import shapely

from packer.creases.completion.complete import crease_pattern
from packer.drawing import pleat_drawing
from packer.drawing.guide_panels import panels
from packer.drawing.plates.guide_pages import guide_pages
from packer.errors import PatternError
from packer.files.fold_json import fold_text
from packer.files.guide_json import guide_text
from packer.folded.form import fold
from packer.folded.layers import flat_base
from packer.folded.pleats import pleat_creases, pleated_cells, pleated_parts
from packer.grid.grid_creases import grid_creases
from packer.grid.grid_problem import GridRequest
from packer.grid.pack_grid import pack_grid
from packer.landmarks.fold_guide import fold_guide
from packer.landmarks.pleating import alike, pleated_base
from packer.model.figure import Figure, Flap, River
from packer.report.guide_page import guide_html
from packer.search.options import SearchOptions
from packer.search.pack import pack
from packer.search.stopping import MaxEffort, MaxStarts
from tests.landmarks.recomputed_guide import faults

DEPTHS = {"body": 0.05, "tail": 0.08, "claw": 0.06}


@pytest.fixture(scope="module")
def pleated():
    """A base whose body, tail and paired claws are pleated, and its pleats."""
    figure = Figure(
        "prawn",
        (
            Flap("claw", "head", 1.0, pair=True, pleats=1, depth=DEPTHS["claw"]),
            Flap("spear", "head", 0.7),
            Flap("leg", "hip", 0.8, pair=True),
            Flap("tail", "hip", 1.0, pleats=3, depth=DEPTHS["tail"]),
        ),
        (River("body", ("hip", "head"), 0.6, pleats=2, depth=DEPTHS["body"]),),
        "book",
    )
    packing = pack(figure, options=SearchOptions(stop=MaxStarts(1), workers=1), proof=0)
    base = flat_base(crease_pattern(packing))
    return base, pleat_creases(base.pattern, base.form, pleated_parts(packing))


@pytest.fixture(scope="module")
def guide(pleated):
    base, pleats = pleated
    return fold_guide(base, 350.0, 5.0, pleats=pleats)


def test_a_guide_with_pleats_holds_and_a_wrong_one_is_found_out(pleated, guide):
    base, pleats = pleated
    record, written = json.loads(guide_text(guide)), json.loads(fold_text(base, pleats))
    assert faults(record, written) == []
    assert sum(len(one["lines"]) for part in record["pleats"] for one in part["folds"]) == len(
        pleats
    )
    first = record["pleats"][1]["folds"][0]["lines"][0]
    for path, value in [
        (("pleats", 0, "folds", 0, "seen"), "V"),
        (("pleats", 0, "folds", 1, "along"), 0.7),
        (
            ("pleats", 1, "folds", 0, "lines", 0, "side"),
            {"front": "back"}.get(first["side"], "front"),
        ),
        (("pleats", 1, "folds", 0, "lines", 0, "fold"), {"M": "V"}.get(first["fold"], "M")),
        (("pleats", 1, "folds", 0, "lines", 0, "ends"), [[0.1, 0.1], [0.1, 0.2]]),
    ]:
        wrong = json.loads(json.dumps(record))
        entry = wrong
        for key in path[:-1]:
            entry = entry[key]
        entry[path[-1]] = value
        assert faults(wrong, written) != []


def test_folds_lie_where_the_figure_asks(guide):
    """A pleat at m of the finished length turns at m + half its depth, after what is gone before."""
    asked = {"body": (0.6, 2), "tail": (1.0, 3), "claw": (1.0, 1)}
    starts = {"body": "hip", "tail": "hip", "claw": "head"}
    assert [name for name, _ in alike(guide.pleats)].count("claw") == 1
    assert len(guide.pleats) == 4
    for name, parts in alike(guide.pleats):
        length, count = asked[name]
        depth = DEPTHS[name]
        turns = [
            length * k / (count + 1) + 2 * depth * (k - 1) + depth / 2
            for k in range(1, count + 1)
        ]
        expected = np.array([at for turn in turns for at in (turn, turn + depth)])
        for part in parts:
            built = guide.pattern.built[part.name]
            along = [fold.along / built * (length + 2 * count * depth) for fold in part.folds]
            assert along == pytest.approx(expected, abs=1e-6)
            assert part.start == starts[name]


def test_the_step_is_drawn_and_told(guide):
    title, steps = panels(guide)[-1]
    assert title == "Pleats"
    assert [step.heading for step in steps[::2]] == [
        "Pleats of claw",
        "Pleats of tail",
        "Pleats of body",
    ]
    tail, sheet = next(steps[k : k + 2] for k in (0, 2, 4) if steps[k].heading.endswith("tail"))
    built = guide.pattern.built["tail"] * 350
    first = (0.25 + 0.04) / 1.48 * built
    assert f"from the joint hip: mountain {first:.1f}, valley" in tail.lines[-1]
    part = next(part for part in guide.pleats if part.name == "tail")
    backs = sum(sum(fold.backs) for fold in part.folds)
    lines = sum(len(fold.lines) for fold in part.folds)
    assert 0 < backs < lines
    assert (
        f"{backs} lines in layers that show their back: the first is a valley" in sheet.lines[2]
    )
    drawn = dict(sheet.pictures[0](150.0, 150.0).groups)["pleats"]
    assert len(drawn) == lines
    over = dict(tail.pictures[0](150.0, 150.0).groups)["pleats"]
    assert [mark.kind for mark in over] == ["pleat mountain", "pleat valley"] * 3
    assert "Pleats of tail on the open sheet" in guide_html(guide)
    plain = replace(guide, pleats=())
    assert len(guide_pages(plain, (210.0, 297.0))) < len(guide_pages(guide, (210.0, 297.0)))
    assert "Pleats" not in guide_html(plain)


def test_pleats_on_a_grid_lie_on_whole_cells():
    """As box pleaters count them: cell by cell from the joint."""
    parts = (
        Flap("claw", "j", 1.0, pair=True),
        Flap("spear", "j", 0.7),
        Flap("tail", "j", 1.0, pleats=2, depth=0.1),
    )
    packing = pack_grid(
        Figure("star", parts, symmetry="book"),
        grid=GridRequest(unit=0.1),
        options=SearchOptions(stop=MaxEffort(1)),
    )
    pattern = grid_creases(packing)
    form = fold(pattern)
    pleats = pleat_creases(pattern, form, pleated_cells(packing))
    (tail,) = pleated_base(pattern, form, pleats)
    along = np.array([one.along for one in tail.folds]) / packing.cell
    # 10 cells of 14 are left: middles at 10/3 and 20/3, so the paper turns at 3.83 and, two cells
    # gone, at 9.17, and a cell farther on; the nearest whole cells
    assert along == pytest.approx([4, 5, 9, 10], abs=1e-9)
    assert tail.start == "j"
    assert sum(len(one.lines) for one in tail.folds) == len(pleats)


def test_no_pleat_is_folded_where_paper_ends_or_turns_back():
    """Here the pleat's folds lie on lines of the grid that are creases of other layers."""
    parts = (
        Flap("claw", "j", 1.0, pair=True),
        Flap("spear", "k", 0.6),
        Flap("upper fin", "k", 0.4, pair=True),
        Flap("lower fin", "k", 0.4, pair=True),
    )
    body = River("body", ("j", "k"), 1.0, pleats=1, depth=0.2)
    packing = pack_grid(
        Figure("fish", parts, (body,), symmetry="book"),
        grid=GridRequest(unit=0.2),
        options=SearchOptions(stop=MaxEffort(1)),
    )
    pattern = grid_creases(packing)
    form = fold(pattern)
    pleats = pleat_creases(pattern, form, pleated_cells(packing))
    closed = form.folded | (pattern.edge_faces < 0).any(axis=1)
    edges = shapely.MultiLineString(pattern.points[pattern.edges[closed]].tolist())
    middles = shapely.points([np.mean(pleat.ends, axis=0) for pleat in pleats])
    assert len(pleats) > 50
    assert shapely.distance(edges, middles).min() > packing.cell / 10
    (own,) = pleated_base(pattern, form, pleats)
    assert [one.fold for one in own.folds] == ["M", "V"]


def test_pleats_of_another_pattern_are_refused(pleated):
    base, pleats = pleated
    form = fold(base.pattern)
    with pytest.raises(PatternError, match='of "fin"'):
        pleated_base(base.pattern, form, [replace(one, part="fin") for one in pleats])
    with pytest.raises(PatternError, match="in no face"):
        pleated_base(base.pattern, form, [replace(pleats[0], ends=((5.0, 5.0), (6.0, 6.0)))])
    with pytest.raises(PatternError, match="not whole"):
        pleated_base(base.pattern, form, [one for one in pleats if one.pleat])


def test_a_fold_of_the_base_is_drawn_a_share_of_the_base_beyond_it(monkeypatch):
    """By hand: a base from 2 to 4 up, and a fold across all of it."""
    drawn = []
    monkeypatch.setattr(pleat_drawing, "state_drawing", lambda *_, pleats: drawn.extend(pleats))
    form = SimpleNamespace(positions=np.array([[0.0, 2.0], [1.0, 4.0], [2.0, 3.0]]))
    guide = SimpleNamespace(
        stages=(SimpleNamespace(form=form),), pattern=None, base=SimpleNamespace(order=None)
    )
    fold_ = SimpleNamespace(fold="mountain", place=(1.0, 2.0, 4.0))
    pleat_drawing.pleats_on_base(guide, [SimpleNamespace(folds=[fold_])], (150.0, 150.0))
    ((kind, (x, low), (right, high)),) = drawn
    assert (kind, x, right) == ("mountain", 1.0, 1.0)
    assert (2 - low, high - 4) == pytest.approx((2 * pleat_drawing.OVER,) * 2)
