"""FOLD files against the field rules of the FOLD specification 1.2 (edemaine/fold, doc/spec.md)."""

from __future__ import annotations

import collections
import json
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely.affinity import affine_transform

from packer import Sheet
from packer.errors import PackerError
from packer.files import fold_json
from packer.files.fold_json import fold_text, read_base, read_fold
from packer.files.text import MOST_BYTES
from packer.folded.form import fold
from packer.folded.layers import flat_base
from tests.folded.textbook import bird, fish, frog, river, waterbomb

BASES = {"fish": fish, "bird": bird, "river": river, "waterbomb": waterbomb}


@pytest.fixture(scope="module", params=BASES, name="base")
def _base(request):
    return flat_base(replace(BASES[request.param](), title="a base"))


@pytest.fixture(name="record")
def _record(base):
    return json.loads(fold_text(base))


def test_keys_are_those_of_the_specification_or_carry_a_colon(record):
    known = {
        "file_spec", "file_creator", "file_title", "file_classes", "file_frames",
        "frame_title", "frame_description", "frame_classes", "frame_attributes", "frame_unit",
        "frame_parent", "frame_inherit", "vertices_coords", "edges_vertices",
        "edges_assignment", "edges_foldAngle", "edges_length", "edges_faces", "faces_vertices",
        "faces_edges", "faceOrders",
    }  # fmt: skip
    for frame in (record, *record["file_frames"]):
        assert all(key in known or ":" in key for key in frame)
    assert record["file_spec"] == 1.2
    assert record["frame_classes"] == ["creasePattern"]
    assert record["frame_unit"] in {"unit", "in", "pt", "m", "cm", "mm", "um", "nm"}


def test_arrays_are_parallel(record):
    for kind in ("vertices", "edges", "faces"):
        sizes = {len(value) for key, value in record.items() if key.startswith(f"{kind}_")}
        assert len(sizes) == 1


def test_fold_angles_agree_with_assignments(record):
    angle = {"M": -180, "V": 180, "F": 0, "U": 0, "B": 0}
    for letter, degrees in zip(
        record["edges_assignment"], record["edges_foldAngle"], strict=True
    ):
        assert degrees == angle[letter]


def test_border_edges_have_one_face_and_no_others(record):
    for letter, faces in zip(record["edges_assignment"], record["edges_faces"], strict=True):
        assert len(faces) == 2
        assert (letter == "B") == (None in faces)


def test_faces_are_counter_clockwise_and_the_sheet_is_a_disc(record):
    points = np.array(record["vertices_coords"])
    total = 0.0
    for loop in record["faces_vertices"]:
        x, y = points[loop].T
        area = 0.5 * float(x @ np.roll(y, -1) - y @ np.roll(x, -1))
        assert area > 0
        total += area
    assert total == pytest.approx(1)
    sizes = [len(record[k]) for k in ("vertices_coords", "edges_vertices", "faces_vertices")]
    assert sizes[0] - sizes[1] + sizes[2] == 1


def test_faces_edges_join_their_vertices_and_lie_on_the_left(record):
    for face, (loop, edges) in enumerate(
        zip(record["faces_vertices"], record["faces_edges"], strict=True)
    ):
        for k, edge in enumerate(edges):
            a, b = loop[k], loop[(k + 1) % len(loop)]
            u, v = record["edges_vertices"][edge]
            assert {a, b} == {u, v}
            assert record["edges_faces"][edge][0 if (a, b) == (u, v) else 1] == face


def test_the_folded_frame_keeps_every_length(record):
    frame = record["file_frames"][0]
    assert frame["frame_classes"] == ["foldedForm"]
    assert frame["frame_parent"] == 0
    assert frame["frame_inherit"] is True
    folded = np.array(frame["vertices_coords"])
    for (a, b), length in zip(record["edges_vertices"], record["edges_length"], strict=True):
        assert np.hypot(*(folded[a] - folded[b])) == pytest.approx(length, abs=1e-9)


def test_face_orders_say_on_which_side_of_a_neighbour_a_face_lies(record):
    """Across a valley each face lies on the side its neighbour's normal points to, M opposite."""
    orders = {(f, g): s for f, g, s in record["file_frames"][0]["faceOrders"]}
    assert all(s in (-1, 1) for s in orders.values())
    for letter, (left, right) in zip(
        record["edges_assignment"], record["edges_faces"], strict=True
    ):
        if letter in "MV":
            pair = (left, right) if (left, right) in orders else (right, left)
            assert orders[pair] == (1 if letter == "V" else -1)


def test_own_keys_name_tips_and_lengths(base, record):
    pattern = base.pattern
    for name, vertex in record["packer:tips"].items():
        assert record["vertices_coords"][vertex] == pattern.points[pattern.tips[name]].tolist()
    assert record["packer:lengths"] == pattern.built
    assert record["packer:layerOrder"] == "valid layer order"


def test_reading_back_gives_the_same_pattern(base, tmp_path):
    path = tmp_path / "base.fold"
    path.write_text(fold_text(base), encoding="utf-8")
    read, pattern = read_fold(path), base.pattern
    for name in ("points", "edges", "heights", "lengths"):
        np.testing.assert_array_equal(getattr(read, name), getattr(pattern, name))
    for name in ("sheet", "roles", "folds", "faces", "tree_points", "fillers", "split_rivers"):
        assert getattr(read, name) == getattr(pattern, name)
    assert dict(read.tips) == dict(pattern.tips)
    assert read.tree.names == pattern.tree.names
    assert fold(read).root == base.form.root


def test_directions_of_the_stick_figure_are_kept(tmp_path):
    pattern = fish()
    ways = np.linspace(0.0, 3.0, len(pattern.tree.names))
    ways[1] = np.nan
    posed = replace(pattern, tree=replace(pattern.tree, directions=ways))
    path = tmp_path / "base.fold"
    path.write_text(fold_text(flat_base(posed)), encoding="utf-8")
    np.testing.assert_array_equal(read_fold(path).tree.directions, ways)
    assert json.loads(path.read_text())["packer:tree"]["directions"][1] is None


def test_a_pattern_of_many_layers_is_read_back_without_orders_of_its_faces(
    base, tmp_path, monkeypatch
):
    monkeypatch.setattr(fold_json, "MOST_FACE_ORDERS", 3)
    path = tmp_path / "x.fold"
    # larger than other files may be: a shore crab's on a grid of 36 cells takes 24 MB
    path.write_text(fold_text(base) + " " * (MOST_BYTES + 1))
    assert "faceOrders" not in path.read_text()
    assert read_base(path).order.of_faces.tolist() == base.order.of_faces.tolist()


def test_a_sheet_with_a_unit_is_written_in_it(tmp_path):
    pattern = replace(waterbomb(), sheet=Sheet(1, 1, "cm"))
    path = tmp_path / "base.fold"
    path.write_text(fold_text(flat_base(pattern)), encoding="utf-8")
    assert json.loads(path.read_text(encoding="utf-8"))["frame_unit"] == "cm"
    assert read_fold(path).sheet == Sheet(1, 1, "cm")


def test_names_of_any_kind_survive(tmp_path):
    pattern = fish()
    odd = 'a"<script>\u202e\n\u03b1'
    tree = replace(pattern.tree, flaps=(odd, *pattern.tree.flaps[1:]))
    tips = {odd: pattern.tips["a"], **{k: v for k, v in pattern.tips.items() if k != "a"}}
    named = replace(pattern, tree=tree, tips=tips, part_of={})
    path = tmp_path / "base.fold"
    path.write_text(fold_text(flat_base(named)), encoding="utf-8")
    assert read_fold(path).tips[odd] == pattern.tips["a"]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{", "not JSON"),
        ("[]", "no FOLD file"),
        ('{"file_spec": 1.2}', "missing"),
        ("[" * 100_000, "not JSON|nested"),
    ],
)
def test_wrong_files_get_one_sentence(tmp_path, text, words):
    path = tmp_path / "wrong.fold"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(PackerError, match=words) as caught:
        read_fold(path)
    assert "wrong.fold" in str(caught.value)


def test_values_of_the_wrong_kind_are_refused(record, tmp_path):
    path = tmp_path / "wrong.fold"
    for key in record:
        if key.startswith(("file_", "frame_t", "frame_d", "frame_c", "frame_a")):
            continue
        if key in {"edges_foldAngle", "edges_length", "edges_faces", "faces_edges"}:
            continue  # follows from the rest
        if key in {"packer:lengths", "packer:layerOrder"}:
            continue  # for other readers
        path.write_text(json.dumps({**record, key: 7}), encoding="utf-8")
        with pytest.raises(PackerError, match=r"wrong\.fold"):
            read_fold(path)


@pytest.mark.parametrize("make", [fish, bird, frog, waterbomb])
def test_the_file_alone_folds_to_its_folded_frame(make):
    """Read as plain JSON by the standard's field names, nothing of the package's used.

    shapely's affine maps lay face after face down; Kawasaki's and Maekawa's theorems hold at every
    inner vertex; and each face order says for a crease's two faces what its fold says: above on
    the front at a valley, below at a mountain.
    """
    record = json.loads(fold_text(flat_base(make())))
    at = np.array(record["vertices_coords"])
    frame = record["file_frames"][0]
    laid = np.array(frame["vertices_coords"])
    shapes = laid_down(record)
    moved = np.array([shapes[v] for v in range(len(at))])
    moved, laid = moved - moved.mean(axis=0), laid - laid.mean(axis=0)
    u, _, vt = np.linalg.svd(laid.T @ moved)  # the best motion or reflection onto it
    assert moved @ (u @ vt).T == pytest.approx(laid, abs=1e-9)
    orders = {(f, g): s for f, g, s in frame["faceOrders"]}
    # Two faces that a fold joins are turned against each other: each is on the same side of the other.
    orders |= {(g, f): s for (f, g), s in orders.items()}
    for (f, g), letter in zip(record["edges_faces"], record["edges_assignment"], strict=True):
        if letter in "MV":
            assert orders[f, g] == (1 if letter == "V" else -1)
    check_inner_vertices(record)


def laid_down(record):
    """Where each vertex comes to lie: faces laid down one by one by shapely's affine maps."""
    at, edges = record["vertices_coords"], record["edges_vertices"]
    around = collections.defaultdict(list)
    for k, faces in enumerate(record["edges_faces"]):
        if None not in faces and len(faces) == 2 and min(faces) >= 0:
            around[faces[0]].append((k, faces[1]))
            around[faces[1]].append((k, faces[0]))
    maps = {0: np.eye(3)}
    todo = [0]
    while todo:
        face = todo.pop()
        for k, other in around[face]:
            if other in maps:
                continue
            step = np.eye(3)
            if record["edges_assignment"][k] in "MV":
                (x, y), (u, v) = (at[vertex] for vertex in edges[k])
                turn = 2 * np.arctan2(v - y, u - x)
                c, s = np.cos(turn), np.sin(turn)
                step[:2, :2] = [[c, s], [s, -c]]
                step[:2, 2] = [x - c * x - s * y, y - s * x + c * y]
            maps[other] = maps[face] @ step
            todo.append(other)
    shapes = {}
    for face, loop in enumerate(record["faces_vertices"]):
        (a, b, x), (d, e, y) = maps[face][:2].tolist()
        ring = shapely.LinearRing([at[vertex] for vertex in loop])
        for vertex, point in zip(
            loop, affine_transform(ring, [a, b, d, e, x, y]).coords, strict=False
        ):
            assert shapes.setdefault(vertex, point) == pytest.approx(point, abs=1e-9)
    return shapes


def check_inner_vertices(record):
    """Kawasaki: alternate angles between folded creases add up to 180 degrees; Maekawa: M - V = 2."""
    at = np.array(record["vertices_coords"])
    ways = collections.defaultdict(list)
    for (a, b), letter in zip(
        record["edges_vertices"], record["edges_assignment"], strict=True
    ):
        for v, w in ((a, b), (b, a)):
            ways[v].append((np.arctan2(*(at[w] - at[v])[::-1]), letter))
    inner = [v for v, rows in ways.items() if "B" not in {letter for _, letter in rows}]
    assert inner
    for v in inner:
        rows = sorted(row for row in ways[v] if row[1] in "MV")
        if rows:
            angles = np.diff([a for a, _ in rows] + [rows[0][0] + 2 * np.pi])
            assert angles[::2].sum() == pytest.approx(np.pi, abs=1e-9)
            assert abs(sum(1 if letter == "M" else -1 for _, letter in rows)) == 2


@pytest.mark.parametrize("ends", [[0, 0], [0], [-1, 0], [0, None]])
def test_an_edge_that_does_not_join_two_vertices_is_named(record, tmp_path, ends):
    """None stands for the number of vertices: one beyond the last."""
    path = tmp_path / "wrong.fold"
    count = len(record["vertices_coords"])
    ends = [count if end is None else end for end in ends]
    edges = [ends, *record["edges_vertices"][1:]]
    path.write_text(json.dumps({**record, "edges_vertices": edges}), encoding="utf-8")
    with pytest.raises(PackerError, match="edges_vertices"):
        read_fold(path)
