"""The crease pattern in the record of a FOLD file, every value of it checked."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, cast

import numpy as np

from packer.creases.pattern import CreasePattern
from packer.errors import PackingError
from packer.files.json_values import (
    REWRITE,
    as_between,
    as_list,
    as_object,
    as_point,
    as_text,
    as_whole,
    check_keys,
)
from packer.model.sheet import Sheet
from packer.model.tree import Tree
from packer.units import SAME_POINT

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.creases.pattern import Fold, Role

_REQUIRED = (
    "vertices_coords", "edges_vertices", "edges_assignment", "faces_vertices", "frame_unit",
    "packer:sheet", "packer:roles", "packer:heights", "packer:places", "packer:tips",
    "packer:fillers", "packer:parts", "packer:splitRivers", "packer:tree",
)  # fmt: skip
_TREE = ("flaps", "rivers", "joints", "ends", "lengths", "twin")


def pattern_of(record: dict[str, Any]) -> CreasePattern:
    """Make a crease pattern of the record of a FOLD file that packer has written.

    Raises
    ------
    PackingError, SheetError
        Where an entry is missing, of the wrong kind, or points at what is not there.
    PatternError
        Where the entries together are no crease pattern.
    """
    check_keys(record, _REQUIRED, remedy=REWRITE)
    unit = as_text(record["frame_unit"], "frame_unit")
    width, height = as_point(record["packer:sheet"], "packer:sheet", REWRITE)
    sheet = Sheet(width, height, "" if unit == "unit" else unit)
    tree, lengths = _tree_of(as_object(record["packer:tree"], "packer:tree"), sheet)
    points = _points(record["vertices_coords"], "vertices_coords")
    v = len(points)
    return CreasePattern(
        sheet=sheet,
        points=points,
        edges=_pairs(record["edges_vertices"], "edges_vertices", v),
        # the pattern refuses unknown roles and folds
        roles=cast("tuple[Role, ...]", _texts(record["packer:roles"], "packer:roles")),
        folds=cast("tuple[Fold, ...]", _texts(record["edges_assignment"], "edges_assignment")),
        faces=_faces(record["faces_vertices"], v),
        heights=_numbers(
            record["packer:heights"], "packer:heights", -sheet.diagonal, sheet.diagonal
        ),
        tree_points=_tree_points(record["packer:places"], tree, sheet),
        tree=tree,
        lengths=lengths,
        tips={
            name: as_whole(vertex, f"packer:tips.{name}", 0, v - 1)
            for name, vertex in as_object(record["packer:tips"], "packer:tips").items()
        },
        fillers=_texts(record["packer:fillers"], "packer:fillers"),
        part_of={
            name: as_text(part, f"packer:parts.{name}")
            for name, part in as_object(record["packer:parts"], "packer:parts").items()
        },
        split_rivers=_texts(record["packer:splitRivers"], "packer:splitRivers"),
        title=as_text(record.get("file_title", ""), "file_title"),
    )


def _tree_of(record: dict[str, Any], sheet: Sheet) -> tuple[Tree, NDArray[np.float64]]:
    check_keys(record, _TREE, "packer:tree", REWRITE)
    flaps, rivers, joints = (_texts(record[key], f"packer:tree.{key}") for key in _TREE[:3])
    edges, nodes = len(flaps) + len(rivers), len(flaps) + len(joints)
    least = SAME_POINT * SAME_POINT * sheet.diagonal  # a filler may be all but nothing
    lengths = _numbers(
        record["lengths"], "packer:tree.lengths", least, len(flaps) * sheet.diagonal
    )
    ends = _pairs(record["ends"], "packer:tree.ends", nodes)
    twin = np.array(
        [
            as_whole(k, "packer:tree.twin", 0, edges - 1)
            for k in as_list(record["twin"], "packer:tree.twin")
        ],
        dtype=np.intp,
    )
    if len(lengths) != edges or len(ends) != edges or len(twin) != edges:
        raise PackingError(
            f"lengths, ends and twin are not of {edges} parts{REWRITE}", "packer:tree"
        )
    if (twin[twin] != np.arange(edges)).any():
        raise PackingError(f"a twin's twin is not itself{REWRITE}", "packer:tree.twin")
    if (ends[: len(flaps), 0] != np.arange(len(flaps))).any() or not _is_tree(ends, nodes):
        raise PackingError(f"the ends of the parts make no tree{REWRITE}", "packer:tree.ends")
    none: tuple[tuple[str, ...], ...] = ((),) * len(flaps)
    directions = _directions(record.get("directions", []), edges)
    flex = np.zeros(edges)
    return Tree(flaps, rivers, joints, ends, lengths, flex, twin, none, directions), lengths


def _directions(value: object, edges: int) -> NDArray[np.float64]:
    """Return the directions of the parts in radians, NaN for null; empty where there are none."""
    name = "packer:tree.directions"
    written = as_list(value, name)
    if written and len(written) != edges:
        raise PackingError(f"directions are not of {edges} parts{REWRITE}", name)
    turn = 4 * np.pi
    return np.array(
        [np.nan if v is None else as_between(v, name, -turn, turn) for v in written]
    )


def _is_tree(ends: NDArray[np.intp], nodes: int) -> bool:
    """Whether edges join all nodes without a cycle, by merging the sets of joined ones."""
    head = list(range(nodes))

    def top(node: int) -> int:
        while head[node] != node:
            head[node] = head[head[node]]
            node = head[node]
        return node

    for a, b in ends.tolist():
        if top(a) == top(b):
            return False
        head[top(a)] = top(b)
    return len(ends) == nodes - 1


def _tree_points(value: object, tree: Tree, sheet: Sheet) -> tuple[tuple[int, float], ...]:
    tree_points = []
    for row in as_list(value, "packer:places"):
        pair = as_list(row, "packer:places")
        if len(pair) != 2:
            raise PackingError(f"a place is no [part, distance]{REWRITE}", "packer:places")
        edge = as_whole(pair[0], "packer:places", 0, len(tree.names) - 1)
        most = len(tree.flaps) * sheet.diagonal
        tree_points.append((edge, as_between(pair[1], "packer:places", -most, most)))
    return tuple(tree_points)


def _faces(value: object, vertices: int) -> tuple[tuple[int, ...], ...]:
    faces = []
    for row in as_list(value, "faces_vertices"):
        loop = [
            as_whole(k, "faces_vertices", 0, vertices - 1)
            for k in as_list(row, "faces_vertices")
        ]
        if len(loop) < 3:
            raise PackingError(f"a face has fewer than 3 corners{REWRITE}", "faces_vertices")
        faces.append(tuple(loop))
    if not faces:
        raise PackingError(f"there is no face{REWRITE}", "faces_vertices")
    return tuple(faces)


def _points(value: object, entry: str) -> NDArray[np.float64]:
    rows = [as_point(row, entry, REWRITE) for row in as_list(value, entry)]
    return np.array(rows, dtype=float).reshape(-1, 2)


def _pairs(value: object, entry: str, count: int) -> NDArray[np.intp]:
    """Rows of two different numbers below `count`."""
    rows = []
    for row in as_list(value, entry):
        pair = [as_whole(k, entry, 0, count - 1) for k in as_list(row, entry)]
        if len(pair) != 2 or pair[0] == pair[1]:
            raise PackingError(f"{pair} are not two ends{REWRITE}", entry)
        rows.append(pair)
    return np.array(rows, dtype=np.intp).reshape(-1, 2)


def _numbers(value: object, entry: str, least: float, most: float) -> NDArray[np.float64]:
    return np.array([as_between(x, entry, least, most) for x in as_list(value, entry)])


def _texts(value: object, entry: str) -> tuple[str, ...]:
    return tuple(as_text(text, entry) for text in as_list(value, entry))
