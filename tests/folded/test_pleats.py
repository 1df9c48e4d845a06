"""Pleats: lines across all paper of a part, which shorten it to what was asked when folded."""

from __future__ import annotations

import json
from itertools import combinations

import numpy as np
import pytest
import shapely
from shapely.ops import polygonize, unary_union

from packer.creases.completion.complete import crease_pattern
from packer.errors import FigureError, ReadError
from packer.files.fold_json import fold_text, read_pleats
from packer.folded.form import fold
from packer.folded.layers import FlatBase
from packer.folded.pleats import pleat_creases, pleated_cells, pleated_parts, whole_folds
from packer.grid.grid_creases import grid_creases
from packer.grid.grid_problem import GridRequest
from packer.grid.pack_grid import pack_grid
from packer.grid.rounding import rounded, roundings
from packer.model.figure import Figure, Flap, River
from packer.model.pleats import pleats_of
from packer.model.problem import pose
from packer.search.options import SearchOptions
from packer.search.pack import pack
from packer.search.stopping import MaxEffort, MaxStarts

ONCE = SearchOptions(stop=MaxStarts(1), workers=1)


def prawn(river=(2, 0.05), tail=(3, 0.08)):
    """A figure with a pleated body and a pleated tail."""
    return Figure(
        "prawn",
        (
            Flap("claw", "head", 1.0, pair=True),
            Flap("spear", "head", 0.7),
            Flap("leg", "hip", 0.8, pair=True),
            Flap("tail", "hip", 1.0, pleats=tail[0], depth=tail[1]),
        ),
        (River("body", ("head", "hip"), 0.6, pleats=river[0], depth=river[1]),),
        "book",
    )


@pytest.fixture(scope="module")
def packed():
    return pack(prawn(), options=ONCE, proof=0)


def test_pleats_pack_exactly_as_a_longer_part(packed):
    """A law of the model: only lengths of paper come into a packing."""
    figure = prawn((0, 0.0), (0, 0.0))
    plain = Figure(
        figure.name,
        (*figure.flaps[:3], Flap("tail", "hip", 1.0 + 2 * 3 * 0.08)),
        (River("body", ("head", "hip"), 0.6 + 2 * 2 * 0.05),),
        "book",
    )
    assert np.allclose(pose(plain).tree.lengths, packed.tree.lengths, rtol=1e-15)
    longer = pack(plain, options=ONCE, proof=0)
    assert longer.scale == pytest.approx(packed.scale, rel=1e-12)
    assert np.allclose(longer.tips, packed.tips, atol=1e-9)


def test_no_pleats_are_the_part_itself():
    assert prawn((0, 0.0), (0, 0.0)).flaps[3].paper == 1.0
    assert pleats_of(0, 0.0, 1.0).folds == ()


def test_the_folds_of_a_pleat_are_one_depth_apart_and_take_two():
    pleats = pleats_of((0.25, 0.5), (0.1, 0.2), 4.0)
    assert pleats.taken == pytest.approx(0.6)
    # on to 1.05, back by 0.1 to 0.95 and on: a unit of the finished part lies at 1 on both layers
    assert np.allclose(pleats.folds, [(1.05, 1.15), (2.3, 2.5)])


@pytest.mark.parametrize(
    ("pleats", "depth", "told"),
    [
        (2, 0.0, "depth.*above zero"),
        (0, 0.1, "a depth without pleats"),
        (2, (0.1,), "1 depths do not fit 2"),
        (2, 3.0, "reaches over the end"),
        ((0.5, 0.5), 0.1, "rising fractions"),
        ((0.0, 0.5), 0.1, "rising fractions"),
        ((0.5, float("nan")), 0.1, "rising fractions"),
        (True, 0.1, "a number of pleats"),
        (-1, 0.1, "a number of pleats"),
        ((), 0.1, "no list of places"),
        (2, "deep", "is no depth"),
        (2, float("inf"), "above zero"),
    ],
)
def test_pleats_that_cannot_be_are_refused(pleats, depth, told):
    with pytest.raises(FigureError, match=told):
        Flap("tail", "hip", 1.0, pleats=pleats, depth=depth)


def cut_up(pattern, form, pleats):
    """The sheet cut along every crease and pleat, and what is folded between which pieces."""
    border = shapely.box(0, 0, pattern.sheet.width, pattern.sheet.height).exterior
    ends = pattern.points[pattern.edges]
    inner = [k for k, role in enumerate(pattern.roles) if role != "border"]
    creases = [shapely.LineString(ends[k]) for k in inner]
    lines = [shapely.LineString(pleat.ends) for pleat in pleats]
    exact = shapely.set_precision(unary_union([border, *creases, *lines]), 1e-9)
    pieces = list(polygonize(exact))
    folded = unary_union([c for k, c in zip(inner, creases, strict=True) if form.folded[k]])
    folded = unary_union([folded, *lines]).buffer(1e-7)
    return pieces, folded


def laid_flat(pieces, folded):
    """Fold pieces one after the other, each by reflection in the side it shares with another."""
    tree = shapely.STRtree(pieces)
    shared = {}
    for a, b in zip(*tree.query(pieces, predicate="intersects"), strict=True):
        side = shapely.intersection(pieces[a], pieces[b].buffer(1e-8)).length
        line = pieces[a].exterior.intersection(pieces[b].buffer(1e-8))
        if a != b and side > 1e-5:
            shared.setdefault(int(a), []).append((int(b), line))
    maps = {0: np.eye(3)}
    todo, gaps = [0], []
    while todo:
        a = todo.pop()
        for b, line in shared[a]:
            middle = shapely.line_interpolate_point(line, 0.5, normalized=True)
            low = np.array(shapely.line_interpolate_point(line, 0.1, normalized=True).coords[0])
            high = np.array(
                shapely.line_interpolate_point(line, 0.9, normalized=True).coords[0]
            )
            step = maps[a]
            if folded.contains(middle):
                step = maps[a] @ reflection(low, high)
            if b in maps:
                gaps.append(np.abs(maps[b][:2] @ [*low, 1] - step[:2] @ [*low, 1]).max())
                gaps.append(np.abs(maps[b][:2] @ [*high, 1] - step[:2] @ [*high, 1]).max())
            else:
                maps[b] = step
                todo.append(b)
    return maps, max(gaps)


def reflection(low, high):
    way = (high - low) / np.hypot(*(high - low))
    turn = 2 * np.outer(way, way) - np.eye(2)
    return np.vstack([np.column_stack([turn, low - turn @ low]), [0, 0, 1]])


def test_the_pleated_pattern_folds_flat_and_to_the_lengths_asked(packed):
    """Against a second folding, by polygons of a geometry library and nothing of ours.

    The two paths between three tips whose sum and difference give each length: all flaps of a
    uniaxial base lie along one line, so tips are as far apart there as their lengths say.
    """
    pattern = crease_pattern(packed)
    form = fold(pattern)
    pleats = pleat_creases(pattern, form, pleated_parts(packed))
    assert {pleat.part for pleat in pleats} == {"tail", "body"}
    pieces, folded = cut_up(pattern, form, pleats)
    maps, gap = laid_flat(pieces, folded)
    assert len(maps) == len(pieces)
    assert gap < 1e-4  # rounding of the sides that are shared, in sheet sides
    at = {}
    for name in ("tail", "spear", "claw.left", "leg.left"):
        tip = pattern.points[pattern.tips[name]]
        piece = next(k for k, p in enumerate(pieces) if p.distance(shapely.Point(tip)) < 1e-6)
        at[name] = maps[piece][:2] @ [*tip, 1]
    assert pattern.built["tail"] == pytest.approx(packed.scale * 1.48, rel=0.05)
    # finished lengths are those of the paper less what the pleats take, two depths each
    body = pattern.built["body"] * 0.6 / 0.8
    joints = {"tail": "hip", "leg.left": "hip", "spear": "head", "claw.left": "head"}
    root = pattern.tree.joints[form.root - pattern.tree.n_tips]
    far = {
        n: pattern.built[n] + (0.0 if joint == root else body) for n, joint in joints.items()
    }
    far["tail"] -= pattern.built["tail"] * 0.48 / 1.48
    for one, two in combinations(far, 2):
        apart = np.hypot(*(at[one] - at[two]))
        assert apart == pytest.approx(abs(far[one] - far[two]), abs=1e-4)


def test_every_crossing_of_a_pleat_with_a_crease_folds_flat(packed):
    """Maekawa and Justin: where four creases meet, mountains and valleys differ by two."""
    pattern = crease_pattern(packed)
    form = fold(pattern)
    pleats = pleat_creases(pattern, form, pleated_parts(packed))
    over = [shapely.LineString(pattern.points[e]) for e in pattern.edges[form.folded]]
    crossings = {}
    for pleat in pleats:
        for end in pleat.ends:
            hit = [k for k, c in enumerate(over) if c.distance(shapely.Point(end)) < 1e-9]
            if len(hit) == 1:
                crossings.setdefault((hit[0], *np.round(end, 7)), []).append(pleat.fold)
    inside = [folds for folds in crossings.values() if len(folds) == 2]
    assert len(inside) > 20
    # the crossed crease keeps its fold, so the two halves of the pleat must differ
    assert all(set(folds) == {"M", "V"} for folds in inside)


@pytest.fixture(scope="module")
def fold_file(packed, tmp_path_factory):
    path = tmp_path_factory.mktemp("pleats") / "prawn.creases.fold"
    pattern = crease_pattern(packed)
    form = fold(pattern)
    pleats = pleat_creases(pattern, form, pleated_parts(packed))
    path.write_text(fold_text(FlatBase(pattern, form, None), pleats))
    return path, pattern, pleats


def test_a_fold_file_holds_pleats_in_a_frame_of_their_own(fold_file):
    path, pattern, pleats = fold_file
    assert read_pleats(path) == pleats
    record = json.loads(path.read_text())
    assert len(record["edges_vertices"]) == len(pattern.edges)  # the flat base is as it was
    frame = record["file_frames"][-1]
    assert frame["frame_title"] == "pleats"
    signs = {"M": -180, "V": 180}
    assert frame["edges_foldAngle"] == [signs[f] for f in frame["edges_assignment"]]


def test_pleats_are_printed_on_request_alone(fold_file, packer_cli, tmp_path):
    path, _, pleats = fold_file
    words = ("print", path, "--sheet", "200mm", "--as", "svg", "--out")
    assert packer_cli(*words, tmp_path / "plain").code == 0
    assert packer_cli(*words, tmp_path / "all", "--show", "pleats").code == 0
    plain, drawn = (
        (tmp_path / where / "prawn.creases.print.svg").read_text() for where in ("plain", "all")
    )
    assert plain.count("pleat 1 of") == 0
    assert drawn.count("pleat 1 of tail") == sum(
        (p.part, p.pleat) == ("tail", 0) for p in pleats
    )
    assert plain.count("<path") + len(pleats) == drawn.count("<path")


def test_a_frame_that_is_not_as_written_is_refused(fold_file, tmp_path):
    record = json.loads(fold_file[0].read_text())
    record["file_frames"][-1]["edges_assignment"][0] = "F"
    path = tmp_path / "wrong.creases.fold"
    path.write_text(json.dumps(record))
    with pytest.raises(ReadError, match="crease again"):
        read_pleats(path)


def test_pleats_on_a_grid_take_whole_cells(tmp_path):
    """Every fold lies on a line of the grid, and the pattern with them folds flat."""
    packing = pack_grid(
        prawn(), grid=GridRequest(unit=0.1), options=SearchOptions(stop=MaxEffort(2))
    )
    assert packing.lengths[packing.tree.names.index("tail")] == 15
    assert packing.lengths[packing.tree.names.index("body")] == 8
    pattern = grid_creases(packing)
    form = fold(pattern)
    pleats = pleat_creases(pattern, form, pleated_cells(packing))
    in_cells = np.array([pleat.ends for pleat in pleats]) / packing.cell
    across = (np.abs(in_cells - np.round(in_cells)) < 1e-9).all(axis=1)
    assert across.any(axis=1).all()  # one coordinate stays on a whole line
    pieces, folded = cut_up(pattern, form, pleats)
    maps, gap = laid_flat(pieces, folded)
    assert len(maps) == len(pieces)
    assert gap < 1e-5


@pytest.mark.parametrize(
    ("pleats", "depth", "paper", "unit", "folds"),
    [
        (1, 0.5, 3, 1.0, ((1, 2),)),  # the least: one cell long, one cell deep
        (2, 1.0, 8, 1.0, ((2, 3), (5, 6))),  # 4 long, pleats at 4/3 and 8/3
        (1, 9.0, 7, 1.0, ((3, 5),)),  # no deeper than the part is long
        (3, 0.2, 9, 1.0, ((1, 2), (4, 5), (7, 8))),
    ],
)
def test_folds_lie_on_whole_cells_within_the_part(pleats, depth, paper, unit, folds):
    asked = pleats_of(pleats, depth, 20.0)
    assert whole_folds(asked, paper, unit) == folds
    assert all(0 < a < b <= paper for a, b in folds)


def test_a_grid_gives_every_pleat_two_cells():
    tree = pose(prawn((2, 0.001), (3, 0.001))).tree
    coarse = rounded(tree, 0.5)
    assert coarse.lengths[tree.names.index("tail")] == 7
    assert coarse.lengths[tree.names.index("body")] == 5
    assert min(r.lengths[tree.names.index("tail")] for r in roundings(tree)) >= 7
