"""A draft as plain keys and values, and back: what the project folder keeps of a drawing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from packer.errors import FigureError
from packer.files.figure_record import sheet_of, sheet_record
from packer.files.json_values import as_finite, as_list, as_object, as_point, as_positive, shown
from packer.files.packing_json import symmetry_of
from packer.model.figure import Flap
from packer.table.draft import Draft, DraftNode, DraftPart, ReferencePicture
from packer.table.figure_layout import PLAIN

if TYPE_CHECKING:
    from packer.model.figure import Place


def draft_record(draft: Draft) -> dict[str, Any]:
    """Return a draft as keys and values; `draft_of` gives an equal one back."""
    record: dict[str, Any] = {
        "name": draft.name,
        "symmetry": draft.symmetry,
        "sheet": None if draft.sheet is None else sheet_record(draft.sheet),
        "whole_rivers": draft.whole_rivers,
        "unit": draft.unit,
        "nodes": [[node.number, *node.at, node.name] for node in draft.nodes],
        "parts": [_part_record(part) for part in draft.parts],
        "picture": None,
    }
    if draft.picture is not None:
        seen = draft.picture
        record["picture"] = {
            "name": seen.name,
            "at": list(seen.at),
            "scale": seen.scale,
            "turn": seen.turn,
            "strength": seen.strength,
        }
    return record


def _part_record(part: DraftPart) -> dict[str, Any]:
    return {
        "name": part.name,
        "ends": [part.near, part.far],
        "bends": [list(bend) for bend in part.bends],
        "asked": part.asked,
        "pair": part.pair,
        "place": [list(place) if isinstance(place, tuple) else place for place in part.place],
        "flex": part.flex,
        "finer": dict(part.finer),
    }


def draft_of(value: object) -> Draft:
    """Make a draft of its record.

    Raises
    ------
    PackerError
        At the first entry that is missing or wrong.
    """
    record = as_object(value, "draft")
    try:
        nodes = tuple(_node(row) for row in as_list(record["nodes"], "draft.nodes"))
        known = {node.number for node in nodes}
        parts = tuple(_part(row, known) for row in as_list(record["parts"], "draft.parts"))
        return Draft(
            str(record["name"]),
            symmetry_of(record["symmetry"]),
            None if record["sheet"] is None else sheet_of(_sided(record["sheet"])),
            record["whole_rivers"] is True,
            nodes,
            parts,
            as_positive(record["unit"], "draft.unit"),
            None if record["picture"] is None else _reference(record["picture"]),
        )
    except KeyError as missing:
        raise FigureError(f"{missing.args[0]} is missing", "draft") from None


def _sided(value: object) -> dict[str, Any]:
    return {key: side for key, side in as_object(value, "draft.sheet").items() if side}


def _node(value: object) -> DraftNode:
    row = as_list(value, "draft.nodes")
    if len(row) != 4 or not isinstance(row[0], int) or not isinstance(row[3], str):
        raise FigureError(f"{shown(value)} is no joint", "draft.nodes")
    return DraftNode(row[0], as_point(row[1:3], "draft.nodes"), row[3])


def _part(value: object, known: set[int]) -> DraftPart:
    record = as_object(value, "draft.parts")
    entry = f"draft.parts.{record['name']}"
    ends = as_list(record["ends"], entry)
    if len(ends) != 2 or ends[0] == ends[1] or not all(_is_one_of(end, known) for end in ends):
        raise FigureError("its ends are no joints of the drawing", entry)
    near, far = ends
    place: tuple[Place, ...] = tuple(
        tuple(p) if isinstance(p, list) else p for p in as_list(record["place"], entry)
    )
    asked = None if record["asked"] is None else as_positive(record["asked"], entry)
    # a flap knows what may stand in a line of a figure
    finer: dict[str, Any] = {
        str(key): tuple(value) if isinstance(value, list) else value
        for key, value in as_object(record["finer"], entry).items()
    }
    if not finer.keys() <= PLAIN.keys():
        raise FigureError(f"known are {', '.join(PLAIN)}", f"{entry}.finer")
    checked = Flap(str(record["name"]), "joint", 1.0, False, place, record["flex"], **finer)
    return DraftPart(
        checked.name,
        near,
        far,
        tuple(as_point(bend, entry) for bend in as_list(record["bends"], entry)),
        asked,
        record["pair"] is True,
        checked.place,
        checked.flex,
        tuple(finer.items()),
    )


def _is_one_of(value: object, known: set[int]) -> bool:
    return isinstance(value, int) and value in known


def _reference(value: object) -> ReferencePicture:
    record = as_object(value, "draft.picture")
    return ReferencePicture(
        str(record["name"]),
        as_point(record["at"], "draft.picture.at"),
        as_positive(record["scale"], "draft.picture.scale"),
        as_finite(record["turn"], "draft.picture.turn"),
        as_finite(record["strength"], "draft.picture.strength"),
    )
