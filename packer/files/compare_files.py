"""Comparisons and sweeps as CSV for a spreadsheet and as JSON for a program and for `report`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from packer.errors import ReadError
from packer.files.grid_json import grid_of, grid_record
from packer.files.json_values import as_list, as_object, json_lines, json_object
from packer.files.packing_json import packing_of, packing_record
from packer.files.table_rows import csv_text, rows_with_packings, seed_of
from packer.files.text import read_as
from packer.planning.comparison import EQUALS, Comparison, Entry, row
from packer.planning.stock import Stock

if TYPE_CHECKING:
    from pathlib import Path

    from packer.planning.comparison import Sweep

COMPARISON: Final = "packer.comparison"
SWEEP: Final = "packer.sweep"
VERSION: Final = 1

COMPARE_AGAIN: Final = "compare again"
"""The remedy for what no packer has written."""


def comparison_csv(comparison: Comparison) -> str:
    """Return the table with one line a sheet; the head names the columns of `row`."""
    return csv_text([row(comparison, entry) for entry in comparison.entries])


def sweep_csv(sweep: Sweep) -> str:
    """Return the curves with one line a ratio."""
    return csv_text(sweep_rows(sweep))


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
    rows = rows_with_packings(record, "rows", COMPARE_AGAIN)
    equal = record.get("equal")
    if equal not in EQUALS:
        raise ReadError(f"{equal!r} was never held equal; {COMPARE_AGAIN}", "equal")
    grids = as_list(record.get("grids", [None] * len(rows)), "grids")
    if len(grids) != len(rows):
        raise ReadError(f"rows and grids are not alike; {COMPARE_AGAIN}", "grids")
    entries = tuple(
        Entry(
            row.text("sheet"),
            packing_of(packing),
            row.number("waste") if row.has("waste") else None,
            None if grid is None else grid_of(as_object(grid, "grids")),
            row.folding("fold_{}".format) if row.has("fold_creases") else None,
        )
        for (row, packing), grid in zip(rows, grids, strict=True)
    )
    return Comparison(
        str(record.get("figure")),
        equal,
        entries,
        seed_of(record, COMPARE_AGAIN),
        _stock(record.get("stock")),
        bool(record.get("complete", True)),
    )


def _stock(value: Any) -> Stock | None:
    if value is None:
        return None
    if not (
        isinstance(value, list)
        and len(value) == 3
        and all(isinstance(side, int | float) for side in value[1:])
    ):
        raise ReadError(f"{value!r} is no stock; {COMPARE_AGAIN}", "stock")
    return Stock(str(value[0]), *map(float, value[1:]))
