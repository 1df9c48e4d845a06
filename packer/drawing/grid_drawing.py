"""The drawings of a grid packing: squares and bands on the grid, and its creases by role."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
import shapely
from shapely import affinity

from packer.drawing.crease_drawing import border, crease_groups
from packer.drawing.marks.strokes import Area, Disc, Drawing, Mark, Path, plain
from packer.drawing.marks.styles import part_colours
from packer.drawing.packing_drawing import mm_of
from packer.drawing.sheet_names import TIP_MM, sheet_names
from packer.grid.bands import bands, gap_paper
from packer.model.figure import SYMMETRY_NAMES
from packer.numbers import counted

if TYPE_CHECKING:
    from collections.abc import Mapping

    from shapely.geometry.base import BaseGeometry

    from packer.creases.pattern import CreasePattern
    from packer.grid.grid_packing import GridPacking

EVERY: Final = 4
"""Cells from one heavier grid line to the next: quarters are found by halving twice."""

GRID_GROUPS: Final = ("paper", "gaps", "rivers", "flaps", "grid", "sheet", "tips", "names")
"""The layers of a grid packing's drawing, bottom first."""


def grid_drawing(
    packing: GridPacking,
    mm_per_unit: float | None = None,
    every: int = EVERY,
    numbers: Mapping[str, int] | None = None,
) -> Drawing:
    """Draw a grid packing: every flap its square, every river its band, on the grid.

    Parameters
    ----------
    packing
        Any grid packing.
    mm_per_unit
        Millimetres for one unit of the sheet: by default the true ones, or as many as make a
        sheet without a unit 200 mm wide.
    every
        Cells from one heavier grid line to the next.
    numbers
        Of parts as written: these stand in place of names.

    Returns
    -------
    Drawing
        With the groups of `GRID_GROUPS`.
    """
    cell = packing.cell * (mm_per_unit or mm_of(packing.sheet))
    tree = packing.tree
    regions = bands(packing)
    titles = _titles(packing, cell)
    across, up = packing.cells
    width, height = across * cell, up * cell
    frame = ((0.0, 0.0), (width, 0.0), (width, height), (0.0, height))
    sheet: list[Mark] = [
        Path("sheet", frame, closed=True, title=f"sheet, {width:.4g} x {height:.4g} mm")
    ]
    if packing.symmetry != "none":
        ends = ((0.0, 0.0), (width, height))
        if packing.symmetry == "book":
            ends = ((width / 2, 0.0), (width / 2, height))
        sheet.append(Path("axis", ends, title=f"axis of {packing.symmetry} symmetry"))
    gap = gap_paper(packing)
    groups: dict[str, list[Mark]] = {
        "paper": [Area("paper", (frame,))],
        "gaps": _areas("gap paper", gap, cell, "", "paper that no part needs"),
        "rivers": [
            mark
            for name in tree.rivers
            for mark in _areas("river", regions[name], cell, name, titles[name])
        ],
        "flaps": [
            mark
            for name in tree.flaps
            for mark in _areas("disc", regions[name], cell, name, titles[name])
        ],
        "grid": grid_lines(packing.cells, cell, every),
        "sheet": sheet,
        "tips": _tips(packing, cell, titles),
        "names": _names(packing, cell, regions, numbers or {}),
    }
    return Drawing(
        width,
        height,
        tuple((name, tuple(groups[name])) for name in GRID_GROUPS),
        title=f"{plain(packing.figure.name)}: grid packing",
        description=_description(packing),
        colours=part_colours(tree),
    )


def crease_role_drawing(
    pattern: CreasePattern, packing: GridPacking, mm_per_unit: float | None = None
) -> Drawing:
    """Draw the creases of a grid packing, each as its role, or as mountain or valley if decided.

    Creases that run on straight are one line.

    Parameters
    ----------
    pattern
        The creases, of `packer.grid.grid_creases.grid_creases`.
    packing
        The packing they belong to, for the gap paper and the tips.
    mm_per_unit
        As of `grid_drawing`.
    """
    mm = mm_per_unit or mm_of(packing.sheet)
    cell = packing.cell * mm
    width, height = packing.cells[0] * cell, packing.cells[1] * cell
    frame = ((0.0, 0.0), (width, 0.0), (width, height), (0.0, height))
    groups = [
        ("paper", (Area("paper", (frame,)),)),
        ("gaps", tuple(_areas("gap paper", gap_paper(packing), cell, "", "gap paper"))),
        *crease_groups(pattern, mm),
        ("border", (border(pattern, mm),)),
        ("tips", tuple(_tips(packing, cell, _titles(packing, cell)))),
    ]
    return Drawing(
        width,
        height,
        tuple(groups),
        title=f"{plain(packing.figure.name)}: creases on the grid",
        description=f"{pattern.creases} creases on {packing.cells[0]} x {packing.cells[1]} cells",
        colours=part_colours(packing.tree),
    )


def grid_lines(cells: tuple[int, int], cell: float, every: int) -> list[Mark]:
    """Return the inner lines of a grid, every n-th heavier, the light ones first.

    Parameters
    ----------
    cells
        Across and up.
    cell
        Side of a cell in mm.
    every
        Cells from one heavier line to the next; 0 for none.
    """
    marks: list[Mark] = []
    for axis in (0, 1):
        for k in range(1, cells[axis]):
            kind = "grid step" if every and k % every == 0 else "grid line"
            at, far = k * cell, cells[1 - axis] * cell
            ends = ((at, 0.0), (at, far)) if axis == 0 else ((0.0, at), (far, at))
            marks.append(Path(kind, ends))
    return sorted(marks, key=lambda mark: mark.kind == "grid step")


def _areas(kind: str, region: BaseGeometry, cell: float, part: str, title: str) -> list[Mark]:
    polygons = [p for p in shapely.get_parts(region) if p.geom_type == "Polygon" and p.area > 0]
    return [
        Area(
            kind,
            tuple(
                tuple(
                    (x * cell, y * cell) for x, y in shapely.get_coordinates(ring)[:-1].tolist()
                )
                for ring in (polygon.exterior, *polygon.interiors)
            ),
            part,
            title,
        )
        for polygon in polygons
    ]


def _tips(packing: GridPacking, cell: float, titles: dict[str, str]) -> list[Mark]:
    marks: list[Mark] = []
    for name, (x, y), line in zip(packing.tree.flaps, packing.tips, packing.lines, strict=True):
        if line[0] != line[1]:
            ends = tuple((u * cell, v * cell) for u, v in line)
            marks.append(Path("blunt tip", ends, part=name, title=titles[name]))
        marks.append(Disc("tip", (x * cell, y * cell), TIP_MM, name, titles[name]))
    return marks


def _titles(packing: GridPacking, cell: float) -> dict[str, str]:
    """Return for each part what a pointer or a screen reader tells of it."""
    kinds = packing.kinds
    return {
        name: f"{name}: {f'{kinds[name]} flap' if name in kinds else 'river'}, {counted(length, 'cell')}, "
        f"{length * cell:.4g} mm"
        for name, length in zip(packing.tree.names, packing.lengths, strict=True)
    }


def _description(packing: GridPacking) -> str:
    across, up = packing.cells
    tree = packing.tree
    size = f", a cell {packing.cell_mm:.4g} mm" if packing.cell_mm else ""
    return (
        f"{len(tree.flaps)} flaps and {counted(len(tree.rivers), 'river')} on a grid of {across} x {up} "
        f"cells ({packing.status}){size}, {SYMMETRY_NAMES[packing.symmetry]}."
    )


def _names(
    packing: GridPacking,
    cell: float,
    regions: Mapping[str, BaseGeometry],
    numbers: Mapping[str, int],
) -> list[Mark]:
    """Name each flap and river in its own paper, or beside it."""
    return sheet_names(
        packing.tree,
        packing.symmetry,
        np.array(packing.tips) * cell,
        {n: affinity.scale(region, cell, cell, origin=(0, 0)) for n, region in regions.items()},
        (packing.cells[0] * cell, packing.cells[1] * cell),
        [],
        numbers,
    )
