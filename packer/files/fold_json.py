"""Crease patterns as FOLD files, the open interchange standard (FOLD specification 1.2).

The first frame is the crease pattern, the second the folded form with its layer order. Keys with
``packer:`` in front hold what the standard has no words for: roles, heights, the tree.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import shapely

from packer.creases.pattern import CreasePattern
from packer.errors import PackerError, ReadError
from packer.files.text import read_text
from packer.model.sheet import Sheet
from packer.model.tree import Tree
from packer.units import LAYER_ROOM
from packer.version import __version__

if TYPE_CHECKING:
    from pathlib import Path

    from packer.folded.layers import FlatBase

FOLD_ANGLE: Final = {"M": -180, "V": 180, "B": 0, "F": 0, "U": 0}
"""Degrees, valley above zero."""


def fold_text(base: FlatBase, command: str = "") -> str:
    """Return a folded pattern as the text of a FOLD file.

    Lengths and coordinates are in the sheet's unit, which ``frame_unit`` names. Of the keys of
    our own, ``packer:tips`` gives the vertex of each flap's tip, ``packer:lengths`` the length
    built of each flap and river, in sheet units, and ``packer:layerOrder`` says in words
    whether a valid layer order was found. ``packer:command`` is the line of a shell that made
    it, if any.
    """
    record = {**_file_keys(base), **_pattern_keys(base), **_own_keys(base)}
    if command:
        record["packer:command"] = command
    record["file_frames"] = [_folded_frame(base)]
    rows = (f"{_json(key)}: {_json(value)}" for key, value in record.items())
    return "{\n" + ",\n".join(rows) + "\n}\n"


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def _file_keys(base: FlatBase) -> dict[str, Any]:
    return {
        "file_spec": 1.2,
        "file_creator": f"packer {__version__}",
        "file_title": base.pattern.title,
        "file_classes": ["singleModel"],
        "frame_title": "crease pattern",
        "frame_description": base.status,
        "frame_classes": ["creasePattern"],
        "frame_attributes": ["2D", "manifold", "orientable", "noCuts", "noJoins"],
        "frame_unit": base.pattern.sheet.unit or "unit",
    }


def _pattern_keys(base: FlatBase) -> dict[str, Any]:
    pattern = base.pattern
    edge_at = {}
    for k, (a, b) in enumerate(pattern.edges.tolist()):
        edge_at[a, b] = edge_at[b, a] = k
    ends = pattern.points[pattern.edges]
    return {
        "vertices_coords": pattern.points.tolist(),
        "edges_vertices": pattern.edges.tolist(),
        "edges_assignment": list(pattern.folds),
        "edges_foldAngle": [FOLD_ANGLE[fold] for fold in pattern.folds],
        "edges_length": np.hypot(*(ends[:, 0] - ends[:, 1]).T).tolist(),
        "edges_faces": [
            [None if f < 0 else f for f in sides] for sides in pattern.edge_faces.tolist()
        ],
        "faces_vertices": [list(loop) for loop in pattern.faces],
        "faces_edges": [
            [edge_at[a, b] for a, b in zip(loop, (*loop[1:], loop[0]), strict=True)]
            for loop in pattern.faces
        ],
    }


def _own_keys(base: FlatBase) -> dict[str, Any]:
    pattern, tree = base.pattern, base.pattern.tree
    return {
        "packer:tips": {name: int(vertex) for name, vertex in pattern.tips.items()},
        "packer:lengths": pattern.built,
        "packer:layerOrder": base.status,
        "packer:sheet": [pattern.sheet.width, pattern.sheet.height],
        "packer:roles": list(pattern.roles),
        "packer:heights": pattern.heights.tolist(),
        "packer:places": [list(place) for place in pattern.tree_points],
        "packer:fillers": list(pattern.fillers),
        "packer:parts": dict(pattern.part_of),
        "packer:splitRivers": list(pattern.split_rivers),
        "packer:tree": {
            "flaps": list(tree.flaps),
            "rivers": list(tree.rivers),
            "joints": list(tree.joints),
            "ends": tree.ends.tolist(),
            "lengths": pattern.lengths.tolist(),
            "twin": tree.twin.tolist(),
        },
    }


def _folded_frame(base: FlatBase) -> dict[str, Any]:
    frame: dict[str, Any] = {
        "frame_title": "folded form",
        "frame_classes": ["foldedForm"],
        "frame_attributes": ["2D", "manifold", "orientable", "noCuts", "noJoins"],
        "frame_parent": 0,
        "frame_inherit": True,
        "vertices_coords": base.form.positions.tolist(),
    }
    if base.order is not None:
        frame["faceOrders"] = _face_orders(base)
    return frame


def _face_orders(base: FlatBase) -> list[list[int]]:
    """Return [f, g, s] of overlapping faces: s = 1 where f lies on the side g's front shows."""
    assert base.order is not None
    above = base.order.of_faces()
    outlines = shapely.polygons(
        [shapely.LinearRing(base.form.positions[list(loop)]) for loop in base.pattern.faces]
    )
    room = LAYER_ROOM * base.pattern.sheet.diagonal
    inner = shapely.buffer(outlines, -room, join_style="mitre")
    f, g = shapely.STRtree(inner).query(inner, predicate="intersects")
    once = (f < g) & (above[f, g] != 0)
    f, g = f[once], g[once]
    sides = np.where(base.form.flipped[g], -1, 1) * above[f, g]
    rows = np.column_stack([f, g, sides])
    return [[int(x) for x in row] for row in rows[np.lexsort((g, f))]]


def read_fold(path: Path) -> CreasePattern:
    """Read a crease pattern from a FOLD file that packer has written.

    Raises
    ------
    ReadError
        Where the file is no FOLD file, lacks the keys of our own or holds no crease pattern.
    """
    source = str(path)
    try:
        record = json.loads(read_text(path, "a FOLD file"))
    except RecursionError:
        raise ReadError(
            "brackets are nested far too deep; name another file", source=source
        ) from None
    except ValueError as error:
        raise ReadError(f"not JSON: {error}; name a FOLD file", source=source) from None
    if not isinstance(record, dict) or "file_spec" not in record:
        raise ReadError(
            "this is no FOLD file; name one written by packer crease", source=source
        )
    try:
        return _pattern_of(record)
    except KeyError as error:
        raise ReadError(
            f"{error} is missing; name a FOLD file written by packer crease", source=source
        ) from None
    except PackerError as error:
        raise ReadError(error.message, error.entry, source) from None
    except (TypeError, ValueError, IndexError, AttributeError):
        raise ReadError(
            "a value is not of the kind it should be; write the file again with packer crease",
            source=source,
        ) from None


def _pattern_of(record: dict[str, Any]) -> CreasePattern:
    width, height = record["packer:sheet"]
    unit = record["frame_unit"]
    tree, lengths = _tree_of(record["packer:tree"])
    return CreasePattern(
        sheet=Sheet(width, height, "" if unit == "unit" else unit),
        points=np.array(record["vertices_coords"], dtype=float),
        edges=np.array(record["edges_vertices"], dtype=np.intp),
        roles=tuple(record["packer:roles"]),
        folds=tuple(record["edges_assignment"]),
        faces=tuple(tuple(map(int, loop)) for loop in record["faces_vertices"]),
        heights=np.array(record["packer:heights"], dtype=float),
        tree_points=tuple(
            (int(edge), float(offset)) for edge, offset in record["packer:places"]
        ),
        tree=tree,
        lengths=lengths,
        tips={str(name): int(vertex) for name, vertex in record["packer:tips"].items()},
        fillers=tuple(record["packer:fillers"]),
        part_of=dict(record["packer:parts"]),
        split_rivers=tuple(record["packer:splitRivers"]),
        title=str(record.get("file_title", "")),
    )


def _tree_of(record: dict[str, Any]) -> tuple[Tree, np.ndarray[Any, np.dtype[np.float64]]]:
    lengths = np.array(record["lengths"], dtype=float)
    ends = np.array(record["ends"], dtype=np.intp)
    twin = np.array(record["twin"], dtype=np.intp)
    tree = Tree(
        tuple(map(str, record["flaps"])),
        tuple(map(str, record["rivers"])),
        tuple(map(str, record["joints"])),
        ends,
        lengths,
        np.zeros(len(lengths)),
        twin,
        ((),) * len(record["flaps"]),
    )
    if ends.shape != (len(tree.names), 2) or not ((ends >= 0) & (ends < tree.n_nodes)).all():
        raise ValueError(ends)
    return tree, lengths
