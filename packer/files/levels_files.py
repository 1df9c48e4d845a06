"""Levels of detail as CSV for a spreadsheet and as JSON for a program and for `report`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from packer.files.json_values import as_list, json_lines, json_object
from packer.files.packing_json import packing_of, packing_record
from packer.files.table_rows import TableRow, csv_text, rows_of, rows_with_packings, seed_of
from packer.files.text import read_as
from packer.planning.landmark_demand import LandmarkDemand
from packer.planning.level_results import LeftOut, Level, Levels, left_out_row, level_row

if TYPE_CHECKING:
    from pathlib import Path

FORMAT: Final = "packer.levels"
VERSION: Final = 1

LEVELS_AGAIN: Final = "make the levels again"
"""The remedy for what no packer has written."""

KEYS: Final = {"middle_flaps": "middle", "layers": "layers_counted"}
"""The keys of a row by the attributes of a difficulty, where they are not the same."""


def levels_csv(levels: Levels) -> str:
    """Return the table with one line a level; the head names the columns of `level_row`."""
    rows = [level_row(levels, level) for level in levels.levels]
    return csv_text([{**row, "adds": ", ".join(row["adds"])} for row in rows])


def levels_text(levels: Levels) -> str:
    """Return levels as JSON, their packings included; reading it gives equal ones."""
    return json_lines(
        {
            "format": FORMAT,
            "version": VERSION,
            "figure": levels.name,
            "seed": levels.seed,
            "complete": levels.complete,
            "late": levels.late,
            "levels": [
                {
                    **level_row(levels, level),
                    "left_out": [left_out_row(level, one) for one in level.left_out],
                }
                for level in levels.levels
            ],
            "packings": [packing_record(level.packing) for level in levels.levels],
        }
    )


def read_levels(path: Path | str) -> Levels:
    """Read a file of levels.

    Raises
    ------
    ReadError
        Where the file cannot be read or holds no levels.
    PackingError, FigureError, SheetError
        Where a packing in it is wrong.
    """
    return read_as(path, "levels such as crab.levels.json", _parsed)


def _parsed(text: str) -> Levels:
    record = json_object(text, FORMAT, VERSION)
    return Levels(
        str(record.get("figure")),
        tuple(_level(*pair) for pair in rows_with_packings(record, "levels", LEVELS_AGAIN)),
        seed_of(record, LEVELS_AGAIN),
        bool(record.get("complete", True)),
        bool(record.get("late", False)),
    )


def _level(row: TableRow, packing: dict[str, Any]) -> Level:
    adds = as_list(row.values.get("adds"), "levels.adds")
    return Level(
        row.text("sheet"),
        row.whole("detail"),
        tuple(str(name) for name in adds),
        packing_of(packing),
        row.number("repeated"),
        row.folding(lambda name: KEYS.get(name, name)) if row.has("creases") else None,
        tuple(_left_out(part) for part in rows_of(row.values, "left_out")),
        row.whole("untried"),
        _landmarks(row) if row.has("landmarks") else None,
    )


def _left_out(part: TableRow) -> LeftOut:
    return LeftOut(
        part.text("part"),
        part.number("scale"),
        part.number("first_order"),
        part.whole("creases_saved") if part.has("creases_saved") else None,
    )


def _landmarks(row: TableRow) -> LandmarkDemand:
    return LandmarkDemand(
        row.whole("landmarks"),
        row.whole("landmark_creases"),
        row.number("landmark_off_mm"),
        row.number("landmark_error_mm"),
        row.number("landmark_side_mm"),
    )
