"""FOLD files against the field rules of the FOLD specification 1.2 (edemaine/fold, doc/spec.md)."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from packer import Sheet
from packer.errors import PackerError
from packer.files.fold_json import fold_text, read_fold
from packer.folded.form import fold
from packer.folded.layers import flat_base
from tests.folded.textbook import bird, fish, river, waterbomb

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
