"""A figure as plain keys and values: the shape that figure files and packing files share."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final, cast

from packer.errors import FigureError, PackerError, SheetError, did_you_mean
from packer.model.figure import Figure, Flap, River, check_lengths
from packer.model.sheet import Sheet

if TYPE_CHECKING:
    from collections.abc import Mapping

    from packer.model.figure import Place, Symmetry

_FIGURE: Final = ("name", "symmetry", "whole_rivers", "sheet", "flaps", "rivers", "pose")
_SHEET: Final = ("width", "height", "unit")
_FINER: Final = ("flex", "detail", "pleats", "depth", "cells")
_FLAP: Final = ("joint", "length", "pair", "place", *_FINER, "width")
_RIVER: Final = ("joints", "length", "pair", *_FINER)


def figure_of(record: Mapping[str, Any], name: str = "") -> Figure:
    """Make a figure of what a file holds.

    Parameters
    ----------
    record
        The keys of a figure file, as a TOML or JSON reader returns them.
    name
        The figure's name where the record gives none.

    Raises
    ------
    FigureError, SheetError
        At the first entry that is unknown, missing or wrong.
    """
    _check_keys(record, _FIGURE, "", FigureError)
    flaps = _table(record, "flaps", "flaps", required=True)
    rivers = _table(record, "rivers", "rivers")
    figure = Figure(
        name=_text(record.get("name", name), "name"),
        flaps=tuple(_flap(key, line) for key, line in flaps.items()),
        rivers=tuple(_river(key, line) for key, line in rivers.items()),
        symmetry=cast("Symmetry", _text(record.get("symmetry", "none"), "symmetry")),
        sheet=sheet_of(record["sheet"]) if "sheet" in record else None,
        whole_rivers=_yes_or_no(record, "whole_rivers", "whole_rivers"),
        pose=tuple(_table(record, "pose", "pose").items()),
    )
    check_lengths(figure)
    return figure


def sheet_of(record: object) -> Sheet:
    """Make a sheet of its table: both sides and perhaps a unit.

    Raises
    ------
    SheetError
        Where an entry is unknown, missing or wrong.
    """
    if not isinstance(record, dict):
        raise SheetError("a sheet is a table; write width and height in it", "sheet")
    _check_keys(record, _SHEET, "sheet", SheetError)
    for side in ("width", "height"):
        if side not in record:
            raise SheetError(f'"{side}" is missing; write both sides', "sheet")
    unit = record.get("unit", "")
    if not isinstance(unit, str):
        raise SheetError(f'{unit!r} is no unit; write a name such as "mm"', "sheet.unit")
    return Sheet(record["width"], record["height"], unit)


def record_of(figure: Figure) -> dict[str, Any]:
    """Return a figure as keys and values; `figure_of` gives an equal figure back.

    Wishes that say nothing (no pair, no place, no flex) are left out.
    """
    record: dict[str, Any] = {"name": figure.name, "symmetry": figure.symmetry}
    if figure.whole_rivers:
        record["whole_rivers"] = True
    if figure.sheet is not None:
        sides = sheet_record(figure.sheet)
        record["sheet"] = {key: value for key, value in sides.items() if value}
    record["flaps"] = {flap.name: _flap_record(flap) for flap in figure.flaps}
    if figure.rivers:
        record["rivers"] = {river.name: _river_record(river) for river in figure.rivers}
    if figure.pose:
        record["pose"] = dict(figure.pose)
    return record


def sheet_record(sheet: Sheet) -> dict[str, Any]:
    """Return a sheet as keys and values; the unit is empty where it is only a ratio."""
    return {"width": sheet.width, "height": sheet.height, "unit": sheet.unit}


# --- one line of a file


def _flap(name: str, line: object) -> Flap:
    entry = f"flaps.{name}"
    keys = _line(line, _FLAP, ("joint", "length"), entry)
    return Flap(
        name=name,
        joint=_text(keys["joint"], f"{entry}.joint"),
        length=keys["length"],
        pair=_yes_or_no(keys, "pair", f"{entry}.pair"),
        place=_places(keys["place"], f"{entry}.place") if "place" in keys else (),
        **_finer(keys),
        width=keys.get("width", 0),
    )


def _river(name: str, line: object) -> River:
    entry = f"rivers.{name}"
    keys = _line(line, _RIVER, ("joints", "length"), entry)
    joints = keys["joints"]
    if not isinstance(joints, list):
        raise FigureError(
            f'{joints!r} is no list; write two joints such as ["front", "rear"]',
            f"{entry}.joints",
        )
    return River(
        name=name,
        joints=cast("tuple[str, str]", tuple(_text(j, f"{entry}.joints") for j in joints)),
        length=keys["length"],
        pair=_yes_or_no(keys, "pair", f"{entry}.pair"),
        **_finer(keys),
    )


def _finer(keys: dict[str, Any]) -> dict[str, Any]:
    """Return the wishes that flaps and rivers share; the parts check them."""
    wishes: dict[str, Any] = {key: keys[key] for key in _FINER if key in keys}
    for key in ("pleats", "depth"):
        if isinstance(wishes.get(key), list):
            wishes[key] = tuple(wishes[key])
    return wishes


def _flap_record(flap: Flap) -> dict[str, Any]:
    record: dict[str, Any] = {"joint": flap.joint, "length": flap.length}
    if flap.pair:
        record["pair"] = True
    if flap.place:
        places = [list(p) if isinstance(p, tuple) else p for p in flap.place]
        record["place"] = places[0] if len(places) == 1 else places
    record |= _finer_record(flap)
    return {**record, "width": flap.width} if flap.width else record


def _river_record(river: River) -> dict[str, Any]:
    record: dict[str, Any] = {"joints": list(river.joints), "length": river.length}
    if river.pair:
        record["pair"] = True
    return record | _finer_record(river)


def _finer_record(part: Flap | River) -> dict[str, Any]:
    values = {
        "flex": part.flex,
        "pleats": part.pleats,
        "depth": part.depth,
        "cells": part.cells,
    }
    detail = {"detail": part.detail} if part.detail > 1 else {}
    return detail | {k: list(v) if isinstance(v, tuple) else v for k, v in values.items() if v}


# --- one value


def _line(
    line: object, known: tuple[str, ...], required: tuple[str, ...], entry: str
) -> dict[str, Any]:
    if not isinstance(line, dict):
        example = ", ".join(f"{key} = ..." for key in required)
        raise FigureError(f"{line!r} is no part; write {{ {example} }}", entry)
    _check_keys(line, known, entry, FigureError)
    for key in required:
        if key not in line:
            raise FigureError(f'"{key}" is missing; write {key} = ...', entry)
    return line


def _check_keys(
    table: Mapping[str, Any], known: tuple[str, ...], entry: str, error: type[PackerError]
) -> None:
    for key in table:
        if key not in known:
            raise error(f'unknown key "{key}"{did_you_mean(key, known)}', entry)


def _table(
    record: Mapping[str, Any], key: str, entry: str, *, required: bool = False
) -> dict[str, Any]:
    if key not in record:
        if required:
            raise FigureError(f'"{key}" is missing; write a table [{key}]', "")
        return {}
    table = record[key]
    if not isinstance(table, dict):
        raise FigureError(f"{key} is no table; write [{key}] and one line a part", entry)
    return table


def _text(value: object, entry: str) -> str:
    if not isinstance(value, str):
        raise FigureError(f"{value!r} is no text; write it in quotes", entry)
    if any("\ud800" <= character <= "\udfff" for character in value):
        raise FigureError(
            "a text holds half a character, which no file can; write it again", entry
        )
    return value


def _yes_or_no(record: Mapping[str, Any], key: str, entry: str) -> bool:
    value = record.get(key, False)
    if not isinstance(value, bool):
        raise FigureError(f"{value!r} is neither true nor false; write one of them", entry)
    return value


def _places(value: object, entry: str) -> tuple[Place, ...]:
    """One place or a list of them; a list of two numbers is one place, a point."""
    if not isinstance(value, list) or (
        len(value) == 2 and not any(isinstance(v, str | list) for v in value)
    ):
        value = [value]
    if not value:
        raise FigureError('the list is empty; write a place such as "edge"', entry)
    return tuple(cast("Place", tuple(v) if isinstance(v, list) else v) for v in value)
