"""Levels of detail as CSV for a spreadsheet and as JSON for a program and for `report`."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING, Any, Final

from packer.errors import ReadError
from packer.files.json_values import as_finite, as_list, as_object, json_lines, json_object
from packer.files.packing_json import packing_of, packing_record
from packer.files.text import read_as
from packer.folded.difficulty import Difficulty
from packer.planning.landmark_demand import LandmarkDemand
from packer.planning.level_results import LeftOut, Level, Levels, left_out_row, level_row
from packer.planning.ranking import FoldingDemand

if TYPE_CHECKING:
    from pathlib import Path

FORMAT: Final = "packer.levels"
VERSION: Final = 1


def levels_csv(levels: Levels) -> str:
    """Return the table with one line a level; the head names the columns of `level_row`."""
    rows = [level_row(levels, level) for level in levels.levels]
    out = io.StringIO()
    writer = csv.DictWriter(out, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    for line in rows:
        cells = {k: "" if v is None else v for k, v in line.items()}
        writer.writerow({**cells, "adds": ", ".join(line["adds"])})
    return out.getvalue()


def levels_text(levels: Levels) -> str:
    """Return levels as JSON, their packings included; reading it gives equal ones."""
    return json_lines(
        {
            "format": FORMAT,
            "version": VERSION,
            "figure": levels.name,
            "seed": levels.seed,
            "complete": levels.complete,
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
    rows = [as_object(line, "levels") for line in as_list(record.get("levels"), "levels")]
    packings = as_list(record.get("packings"), "packings")
    if not rows or len(rows) != len(packings):
        raise ReadError("levels and packings are not alike; make the levels again", "levels")
    found = tuple(
        _level(line, as_object(packing, "packings"))
        for line, packing in zip(rows, packings, strict=True)
    )
    return Levels(
        str(record.get("figure")),
        found,
        int(record.get("seed", 0)),
        bool(record.get("complete", True)),
    )


def _level(line: dict[str, Any], packing: dict[str, Any]) -> Level:
    def number(key: str) -> float:
        return as_finite(line.get(key), f"levels.{key}")

    parts = [as_object(one, "left_out") for one in as_list(line.get("left_out"), "left_out")]
    return Level(
        str(line.get("sheet")),
        int(number("detail")),
        tuple(str(name) for name in as_list(line.get("adds"), "levels.adds")),
        packing_of(packing),
        number("repeated"),
        None if line.get("creases") is None else _folding(line),
        tuple(
            LeftOut(
                str(one.get("part")),
                as_finite(one.get("scale"), "left_out.scale"),
                as_finite(one.get("first_order"), "left_out.first_order"),
                None if (saved := one.get("creases_saved")) is None else int(saved),
            )
            for one in parts
        ),
        int(number("untried")),
        None if line.get("landmarks") is None else _landmarks(line),
    )


def _landmarks(line: dict[str, Any]) -> LandmarkDemand:
    def number(key: str) -> float:
        return as_finite(line.get(key), f"levels.{key}")

    return LandmarkDemand(
        int(number("landmarks")),
        int(number("landmark_creases")),
        number("landmark_off_mm"),
        number("landmark_error_mm"),
        number("landmark_side_mm"),
    )


def _folding(line: dict[str, Any]) -> FoldingDemand:
    def number(key: str) -> float:
        return as_finite(line.get(key), f"levels.{key}")

    return FoldingDemand(
        number("given"),
        int(number("fillers")),
        Difficulty(
            int(number("creases")),
            int(number("vertices")),
            int(number("together")),
            int(number("middle")),
            number("feature"),
            int(number("layers_counted")),
            int(number("angles")),
        ),
    )
