"""The grid file: a grid packing with its figure and all that follows from it, as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from packer.errors import PackingError
from packer.files.figure_record import record_of, sheet_record
from packer.files.json_values import (
    REPACK,
    as_list,
    as_object,
    as_point,
    as_positive,
    as_rivers,
    by_name,
    check_keys,
    json_lines,
    json_object,
    rule_of,
    shown,
)
from packer.files.packing_json import check_scale, problem_of, search_of, search_record
from packer.files.text import read_as
from packer.grid.bands import bands
from packer.grid.contours import split_rivers
from packer.grid.grid_packing import GridBound, GridPacking

if TYPE_CHECKING:
    from pathlib import Path

    from packer.grid.board import Size
    from packer.model.tree import Tree

FORMAT: Final = "packer.grid"
VERSION: Final = 1

MOST_READ: Final = 2000
"""Cells along a side of a grid file at most: far above what is written, and still drawn."""

_REQUIRED: Final = (
    "format", "version", "figure", "sheet", "symmetry", "unit", "cells", "cell", "scale", "tips",
    "rounded", "lengths", "root", "split_rivers", "search",
)  # fmt: skip


def grid_text(packing: GridPacking, command: str = "") -> str:
    """Return a grid packing as the text of a grid file; reading it gives an equal packing.

    `command` is the line of a shell that made it, if any.
    """
    record = grid_record(packing)
    return json_lines({**record, "command": command} if command else record)


def grid_record(packing: GridPacking) -> dict[str, Any]:
    """Return a grid packing as plain keys and values.

    As a packing file, but for: `unit` (length of the figure that is one cell), `cells` (across
    and up), `cell` (side in sheet units), `rounded` lengths and `lengths` used in cells, `tips` in
    cells, `errors` of the rounding, `status`, `bound` (the smallest grid not proven too small) and
    its rule, `root`, `rivers_whole`; `paper` is the share of the grid that each part takes.
    """
    tree = packing.tree
    across, up = packing.cells
    paper = {name: region.area / (across * up) for name, region in bands(packing).items()}
    record: dict[str, Any] = {
        "format": FORMAT,
        "version": VERSION,
        "figure": record_of(packing.figure),
        "sheet": sheet_record(packing.problem.sheet),
        "symmetry": packing.symmetry,
        "unit": packing.unit,
        "cells": list(packing.cells),
        "cell": packing.cell,
        "cell_mm": packing.cell_mm,
        "scale": packing.scale,
        "least_scale": packing.least_scale,
        "tips": {name: list(tip) for name, tip in zip(tree.flaps, packing.tips, strict=True)},
        "rounded": dict(zip(tree.names, packing.rounded, strict=True)),
        "lengths": dict(zip(tree.names, packing.lengths, strict=True)),
        "errors": packing.errors,
        "kinds": packing.kinds,
        "paper": paper,
        "efficiency": sum(paper.values()),
        "root": packing.root,
        "rivers_whole": packing.rivers_whole,
        "split_rivers": list(packing.split_rivers),
        "status": packing.status,
    }
    if packing.upright:
        lines = zip(tree.flaps, packing.upright, strict=True)
        record["upright"] = [name for name, upright in lines if upright]
    if packing.bound is not None:
        record["bound"] = list(packing.bound.cells)
        record["bound_rule"] = packing.bound.rule
    record["search"] = search_record(packing.search)
    return record


def read_grid(path: Path | str) -> GridPacking:
    """Read a grid file.

    Raises
    ------
    ReadError
        Where the file cannot be read or is no grid file of a known version.
    PackingError, FigureError, SheetError
        Where an entry is wrong, or the tips break the rules of the packing.
    """
    return read_as(path, "a grid file such as crab.grid.json", parse_grid)


def parse_grid(text: str) -> GridPacking:
    """Make a grid packing of the text of a grid file.

    Raises
    ------
    ReadError, PackingError, FigureError, SheetError
        As `read_grid`.
    """
    return grid_of(json_object(text, FORMAT, VERSION))


def grid_of(record: dict[str, Any]) -> GridPacking:
    """Make a grid packing of what `grid_record` returns.

    Raises
    ------
    PackingError, FigureError, SheetError
        As `read_grid`.
    """
    check_keys(record, _REQUIRED)
    packing = _packing(record)
    wrong = packing.violations()
    if wrong:
        raise PackingError(f"{wrong[0]}{REPACK}", "tips")
    check_scale(record, packing.scale, "cells and unit give")
    root = packing.tree.n_tips + packing.tree.joints.index(packing.root)
    split = split_rivers(packing, root)
    if set(split) != set(packing.split_rivers):
        raise PackingError(
            f"seen from the root these are split: {', '.join(split) or 'none'}{REPACK}",
            "split_rivers",
        )
    return packing


def _packing(record: dict[str, Any]) -> GridPacking:
    problem = problem_of(record)
    tree = problem.tree
    tips = by_name(record["tips"], tree.flaps, "tips")
    root = record["root"]
    if not isinstance(root, str):
        raise PackingError(f"{shown(root)} is no joint{REPACK}", "root")
    return GridPacking(
        problem,
        as_positive(record["unit"], "unit"),
        _whole(record, "rounded", tree.names),
        _size(record["cells"], "cells"),
        tuple(as_point(tip, f"tips.{name}") for name, tip in tips.items()),
        _whole(record, "lengths", tree.names),
        root,
        as_rivers(record["split_rivers"], tree.rivers),
        _bound(record),
        search_of(as_object(record["search"], "search")),
        _upright(record, tree),
    )


def _upright(record: dict[str, Any], tree: Tree) -> tuple[bool, ...]:
    """Return which lines stand upright, where flaps have widths."""
    if not tree.widths:
        return ()
    names = as_list(record.get("upright", []), "upright")
    for name in names:
        if name not in tree.flaps:
            raise PackingError(f"{shown(name)} is no flap{REPACK}", "upright")
    return tuple(name in names for name in tree.flaps)


def _whole(record: dict[str, Any], key: str, names: tuple[str, ...]) -> tuple[int, ...]:
    rows = by_name(record[key], names, key)
    return tuple(_count(value, f"{key}.{name}") for name, value in rows.items())


def _count(value: object, entry: str) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 0 < value < 10**6:
        raise PackingError(f"{shown(value)} is no whole number of cells{REPACK}", entry)
    return value


def _size(value: object, entry: str) -> Size:
    rows = as_list(value, entry)
    if len(rows) != 2:
        raise PackingError(f"{shown(value)} is no grid [across, up]{REPACK}", entry)
    across, up = (_count(row, entry) for row in rows)
    if max(across, up) > MOST_READ:
        raise PackingError(f"{across} x {up} cells are beyond any folding{REPACK}", entry)
    return across, up


def _bound(record: dict[str, Any]) -> GridBound | None:
    if "bound" not in record:
        return None
    return GridBound(_size(record["bound"], "bound"), rule_of(record))
