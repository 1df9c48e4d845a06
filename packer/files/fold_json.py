"""Crease patterns as FOLD files, the open interchange standard (FOLD specification 1.2).

The first frame is the crease pattern, the second the folded form with its layer order. Keys with
``packer:`` in front hold what the standard has no words for: roles, heights, the tree.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any, Final, TypeVar

import numpy as np
import shapely

from packer.errors import PackerError, ReadError
from packer.files.fold_pattern import pattern_of
from packer.files.json_values import as_list, as_object, as_whole
from packer.files.text import read_text
from packer.folded.layers import base_of_ranks
from packer.folded.pleats import PleatCrease
from packer.units import LAYER_TOLERANCE
from packer.version import __version__

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from packer.creases.pattern import CreasePattern
    from packer.folded.layers import FlatBase

T = TypeVar("T")

FOLD_ANGLE: Final = {"M": -180, "V": 180, "B": 0, "F": 0, "U": 0}
"""Degrees, valley above zero."""


def fold_text(base: FlatBase, pleats: Sequence[PleatCrease] = (), command: str = "") -> str:
    """Return a folded pattern as the text of a FOLD file.

    Lengths and coordinates are in the sheet's unit, which ``frame_unit`` names. Of the keys of
    our own, ``packer:tips`` gives the vertex of each flap's tip, ``packer:lengths`` the length
    built of each flap and river, in sheet units, and ``packer:layerOrder`` says in words
    whether a valid layer order was found. Pleats, which are made after the flat base, are creases of
    a frame of their own, each a line by itself. ``packer:command`` is the line of a
    shell that made it, if any.
    """
    record = {**_file_keys(base), **_pattern_keys(base), **_own_keys(base)}
    if command:
        record["packer:command"] = command
    record["file_frames"] = [_folded_frame(base)]
    if pleats:
        record["file_frames"].append(_pleats_frame(pleats, record["frame_unit"]))
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
            # in the stick figure, radians clockwise from upright; null where the figure gives none
            "directions": [None if np.isnan(way) else way for way in tree.directions.tolist()],
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
        orders = _face_orders(base)
        if orders is not None:
            frame["faceOrders"] = orders
        frame["packer:faceRanks"] = base.order.of_faces.tolist()
    return frame


LARGEST_FOLD: Final = 64 * 2**20
"""Largest FOLD file read, in bytes."""

MOST_FACE_ORDERS: Final = 2_000_000
"""Pairs of overlapping faces above which "faceOrders" is left out, since they take 15 bytes each and
grow as the square of the faces: the ranks beside them say the same."""

FACES_AT_ONCE: Final = 128
"""Faces whose overlaps are looked for before the pairs are counted."""

SAMPLED: Final = 200
"""Points at which faces are counted first: those that lie over one point overlap each other."""

PLEATS: Final = "packer:pleats"
"""Class of the frame of pleats, and in it the part and the number of the pleat of each line."""


def _pleats_frame(pleats: Sequence[PleatCrease], unit: str) -> dict[str, Any]:
    return {
        "frame_title": "pleats",
        "frame_description": "lines across pleated parts, folded after the flat base",
        "frame_classes": ["graph", PLEATS],
        "frame_attributes": ["2D"],
        "frame_unit": unit,
        "vertices_coords": [list(end) for pleat in pleats for end in pleat.ends],
        "edges_vertices": [[2 * k, 2 * k + 1] for k in range(len(pleats))],
        "edges_assignment": [pleat.fold for pleat in pleats],
        "edges_foldAngle": [FOLD_ANGLE[pleat.fold] for pleat in pleats],
        PLEATS: [[pleat.part, pleat.pleat] for pleat in pleats],
    }


def read_pleats(path: Path) -> tuple[PleatCrease, ...]:
    """Read the pleats from a FOLD file that packer has written; none where it has no such frame.

    Raises
    ------
    ReadError
        Where the frame is not as packer writes it.
    """
    record = json.loads(read_text(path, "a FOLD file", LARGEST_FOLD))
    for frame in record.get("file_frames", ()):
        if PLEATS in frame.get("frame_classes", ()):
            try:
                return _pleats_of(frame)
            except (KeyError, TypeError, ValueError, IndexError) as error:
                raise ReadError(
                    f"the frame of pleats is not as packer writes it ({error}); crease again",
                    source=str(path),
                ) from None
    return ()


def _pleats_of(frame: dict[str, Any]) -> tuple[PleatCrease, ...]:
    points = [(float(x), float(y)) for x, y in frame["vertices_coords"]]
    pleats = []
    for (a, b), fold, (part, pleat) in zip(
        frame["edges_vertices"], frame["edges_assignment"], frame[PLEATS], strict=True
    ):
        if fold not in {"M", "V"}:
            raise ValueError(fold)
        pleats.append(PleatCrease(str(part), int(pleat), fold, (points[a], points[b])))
    return tuple(pleats)


def _face_orders(base: FlatBase) -> list[list[int]] | None:
    """Return [f, g, s] of overlapping faces: s = 1 where f lies on the side g's front shows.

    None where they are more than `MOST_FACE_ORDERS`; no more are looked for then.
    """
    assert base.order is not None
    rank = base.order.of_faces
    outlines = shapely.polygons(
        [shapely.LinearRing(base.form.positions[list(loop)]) for loop in base.pattern.faces]
    )
    tolerance = LAYER_TOLERANCE * base.pattern.sheet.diagonal
    inner = shapely.buffer(outlines, -tolerance, join_style="mitre")
    tree = shapely.STRtree(inner)
    points = shapely.point_on_surface(inner[:: 1 + len(inner) // SAMPLED])
    over_each_other = int(np.bincount(tree.query(points, predicate="within")[0]).max())
    if over_each_other * (over_each_other - 1) // 2 > MOST_FACE_ORDERS:
        return None
    pairs = [np.zeros((2, 0), dtype=np.intp)]
    count = 0
    for first in range(0, len(inner), FACES_AT_ONCE):
        f, g = tree.query(inner[first : first + FACES_AT_ONCE], predicate="intersects")
        f += first
        once = (f < g) & (rank[f] != rank[g])
        pairs.append(np.stack([f[once], g[once]]))
        count += int(once.sum())
        if count > MOST_FACE_ORDERS:
            return None
    f, g = np.concatenate(pairs, axis=1)
    sides = np.where(base.form.flipped[g], -1, 1) * np.where(rank[f] > rank[g], 1, -1)
    rows: list[list[int]] = np.column_stack([f, g, sides])[np.lexsort((g, f))].tolist()
    return rows


def read_fold(path: Path) -> CreasePattern:
    """Read a crease pattern from a FOLD file that packer has written.

    Raises
    ------
    ReadError
        Where the file is no FOLD file, lacks the keys of our own or holds no crease pattern.
    """
    return _read(path, pattern_of)


def read_base(path: Path) -> FlatBase:
    """Read a crease pattern with its folded form and layer order from a FOLD file of packer's.

    The order is judged anew; one that does not hold, or that the file lacks, is None.

    Raises
    ------
    ReadError
        As `read_fold`.
    """
    return _read(path, _base_of)


def _base_of(record: dict[str, Any]) -> FlatBase:
    pattern = pattern_of(record)
    frames = as_list(record.get("file_frames", []), "file_frames")
    ranks = as_object(frames[0], "file_frames").get("packer:faceRanks") if frames else None
    if ranks is None:
        return base_of_ranks(pattern, None)
    entry = "packer:faceRanks"
    whole = [as_whole(rank, entry, 0, len(pattern.faces)) for rank in as_list(ranks, entry)]
    return base_of_ranks(pattern, np.array(whole, dtype=np.intp))


def _read(path: Path, made: Callable[[dict[str, Any]], T]) -> T:
    source = str(path)
    try:
        record = json.loads(read_text(path, "a FOLD file", LARGEST_FOLD))
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
        return made(record)
    except PackerError as error:
        raise ReadError(error.message, error.entry, source) from None
