"""Comparisons and sweeps as CSV for a spreadsheet and as JSON for a program and for `report`."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING, Any, Final

from packer.errors import ReadError
from packer.files.grid_json import grid_of, grid_record
from packer.files.json_values import (
    as_finite,
    as_list,
    as_object,
    json_lines,
    json_object,
    shown,
)
from packer.files.packing_json import packing_of, packing_record
from packer.files.text import read_as
from packer.folded.difficulty import Difficulty
from packer.planning.comparison import EQUALS, Comparison, Entry, row
from packer.planning.ranking import FoldingDemand
from packer.planning.stock import Stock

if TYPE_CHECKING:
    from pathlib import Path

    from packer.planning.comparison import Sweep

COMPARISON: Final = "packer.comparison"
SWEEP: Final = "packer.sweep"
VERSION: Final = 1


def comparison_csv(comparison: Comparison) -> str:
    """Return the table with one line a sheet; the head names the columns of `row`."""
    return _csv([row(comparison, entry) for entry in comparison.entries])


def sweep_csv(sweep: Sweep) -> str:
    """Return the curves with one line a ratio."""
    return _csv(sweep_rows(sweep))


def sweep_rows(sweep: Sweep) -> list[dict[str, Any]]:
    """Return one plain row for each point of the curves."""
    best = sweep.best[0].scales[sweep.best[1]]
    return [
        {
            "ratio": ratio,
            "standing": curve.standing,
            "width": packing.sheet.width,
            "height": packing.sheet.height,
            "unit": packing.sheet.unit,
            "symmetry": packing.symmetry,
            "scale": packing.scale,
            "relative": packing.scale / best,
            "direct": direct,
            "headroom": packing.headroom,
        }
        for curve in sweep.curves
        for ratio, packing, direct in zip(
            curve.ratios, curve.packings, curve.direct, strict=True
        )
    ]


def _csv(rows: list[dict[str, Any]]) -> str:
    out = io.StringIO()
    writer = csv.DictWriter(out, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows({k: "" if v is None else v for k, v in line.items()} for line in rows)
    return out.getvalue()


def comparison_text(comparison: Comparison, command: str = "") -> str:
    """Return a comparison as JSON, its packings included; reading it gives an equal one."""
    stock = comparison.stock
    return json_lines(
        {
            "format": COMPARISON,
            "version": VERSION,
            **({"command": command} if command else {}),
            "figure": comparison.name,
            "equal": comparison.equal,
            "stock": [stock.name, stock.width, stock.height] if stock else None,
            "seed": comparison.seed,
            "complete": comparison.complete,
            "best": comparison.entries[comparison.best].shape,
            "rows": [row(comparison, entry) for entry in comparison.entries],
            "packings": [packing_record(entry.packing) for entry in comparison.entries],
            "grids": [entry.grid and grid_record(entry.grid) for entry in comparison.entries],
        }
    )


def sweep_text(sweep: Sweep) -> str:
    """Return a sweep as JSON, its packings included."""
    curve, k = sweep.best
    return json_lines(
        {
            "format": SWEEP,
            "version": VERSION,
            "figure": sweep.name,
            "seed": sweep.seed,
            "complete": sweep.complete,
            "best": {"ratio": curve.ratios[k], "standing": curve.standing},
            "rows": sweep_rows(sweep),
            "packings": [packing_record(p) for curve in sweep.curves for p in curve.packings],
        }
    )


def read_comparison(path: Path | str) -> Comparison:
    """Read a comparison file.

    Raises
    ------
    ReadError
        Where the file cannot be read or is no comparison.
    PackingError, FigureError, SheetError
        Where a packing in it is wrong.
    """
    return read_as(path, "a comparison such as crab.compare.json", _parsed)


def _parsed(text: str) -> Comparison:
    record = json_object(text, COMPARISON, VERSION)
    rows = [as_object(line, "rows") for line in as_list(record.get("rows"), "rows")]
    packings = as_list(record.get("packings"), "packings")
    if not rows or len(rows) != len(packings):
        raise ReadError("rows and packings are not alike; compare again", "rows")
    equal, stock = record.get("equal"), record.get("stock")
    if equal not in EQUALS:
        raise ReadError(f"{equal!r} was never held equal; compare again", "equal")
    if stock is not None and not (
        isinstance(stock, list)
        and len(stock) == 3
        and all(isinstance(s, int | float) for s in stock[1:])
    ):
        raise ReadError(f"{stock!r} is no stock; compare again", "stock")
    seed = record.get("seed", 0)
    if isinstance(seed, bool) or not isinstance(seed, int):
        raise ReadError(f"{shown(seed)} is no seed; compare again", "seed")
    grids = as_list(record.get("grids", [None] * len(rows)), "grids")
    if len(grids) != len(rows):
        raise ReadError("rows and grids are not alike; compare again", "grids")
    entries = tuple(
        Entry(
            str(line.get("sheet")),
            packing_of(as_object(packing, "packings")),
            None if line.get("waste") is None else as_finite(line["waste"], "rows.waste"),
            None if grid is None else grid_of(as_object(grid, "grids")),
            _folding(line),
        )
        for line, packing, grid in zip(rows, packings, grids, strict=True)
    )
    return Comparison(
        str(record.get("figure")),
        equal,
        entries,
        seed,
        Stock(str(stock[0]), *map(float, stock[1:])) if stock else None,
        bool(record.get("complete", True)),
    )


def _folding(line: dict[str, Any]) -> FoldingDemand | None:
    if line.get("fold_creases") is None:
        return None

    def value(key: str) -> float:
        return as_finite(line.get(f"fold_{key}"), f"rows.fold_{key}")

    return FoldingDemand(
        value("given"),
        int(value("fillers")),
        Difficulty(
            int(value("creases")),
            int(value("vertices")),
            int(value("together")),
            int(value("middle_flaps")),
            value("feature"),
            int(value("layers")),
            int(value("angles")),
        ),
    )
