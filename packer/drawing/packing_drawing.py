"""The drawing of a packing: sheet, rivers, discs, active paths, tips and names."""

from __future__ import annotations

from typing import TYPE_CHECKING

from shapely import Polygon, affinity

from packer.drawing.contour import contours
from packer.drawing.marks.strokes import Area, Disc, Drawing, Mark, Path, plain
from packer.drawing.marks.styles import part_colours
from packer.drawing.sheet_names import TIP_MM, sheet_names
from packer.errors import SheetError
from packer.model.figure import SYMMETRY_NAMES
from packer.model.regions import MANY_TIPS, regions
from packer.numbers import counted
from packer.units import SAME_SHAPE

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from packer.drawing.contour import Ring
    from packer.drawing.marks.strokes import Point
    from packer.model.packing import Packing
    from packer.model.sheet import Sheet

WIDTH_WITHOUT_UNIT = 200.0
"""Width in mm at which a sheet that is only a ratio is drawn."""

THINNEST_MM = 0.2
"""Width below which a river is not drawn: its two sides would be one line."""

THINNEST_OF_MANY_MM = 0.5
"""The same among more than `MANY_TIPS` tips, where hundreds of rivers would lie side by side and make
the sheet grey; a chain of 1000 joints on 350 mm has none wider."""

GROUPS = ("paper", "rivers", "discs", "sheet", "active paths", "tips", "names")
"""The layers of a packing's drawing, bottom first."""


def mm_of(sheet: Sheet) -> float:
    """Return the millimetres drawn for one unit of a sheet."""
    return sheet.mm_per_unit or WIDTH_WITHOUT_UNIT / sheet.width


def true_mm(sheet: Sheet, wished: Sheet | None) -> float:
    """Return the millimetres for one unit of a sheet that make it as large as wished.

    Parameters
    ----------
    sheet
        The sheet packed on.
    wished
        The sheet to fold from; None for the sheet packed on itself.

    Raises
    ------
    SheetError
        Where neither says its unit, or the two differ in shape.
    """
    if wished is None:
        if sheet.mm_per_unit is None:
            raise SheetError(
                "the packing's sheet has no unit, so its true size is not known; say it with "
                "--sheet, such as --sheet 350mm"
            )
        return sheet.mm_per_unit
    size = wished.in_mm()
    mm = size.width / sheet.width
    if abs(mm * sheet.height / size.height - 1) > SAME_SHAPE:
        raise SheetError(
            f"{wished.describe()} is not of the shape of the sheet packed on, "
            f"{sheet.describe()}; write {size.width:g}x{mm * sheet.height:.6g}mm"
        )
    return mm


def packing_drawing(
    packing: Packing,
    mm_per_unit: float | None = None,
    numbers: Mapping[str, int] | None = None,
) -> Drawing:
    """Draw a packing.

    Parameters
    ----------
    packing
        Any packing.
    mm_per_unit
        Millimetres for one unit of the sheet: by default the true ones, or as many as make a
        sheet without a unit 200 mm wide.
    numbers
        Of parts as written: these stand in place of names.

    Returns
    -------
    Drawing
        With the groups of `GROUPS`. No two names touch. Rivers narrower than `THINNEST_MM` are left
        out, and among many tips those narrower than `THINNEST_OF_MANY_MM`.
    """
    mm = mm_per_unit or mm_of(packing.sheet)
    width, height = packing.sheet.width * mm, packing.sheet.height * mm
    rings = {
        name: tuple((_scaled(points, mm), bulges) for points, bulges in contour)
        for name, contour in contours(packing, _thinnest(packing) / mm).items()
    }
    titles = _titles(packing, mm)
    tree = packing.tree
    frame = ((0.0, 0.0), (width, 0.0), (width, height), (0.0, height))
    size = f"sheet, {width:.4g} x {height:.4g} mm"
    sheet: list[Mark] = [Path("sheet", frame, closed=True, title=size)]
    if packing.symmetry != "none":
        ends = ((0.0, 0.0), (width, height))
        if packing.symmetry == "book":
            ends = ((width / 2, 0.0), (width / 2, height))
        sheet.append(Path("axis", ends, title=f"axis of {packing.symmetry} symmetry"))
    groups: dict[str, Sequence[Mark]] = {
        "paper": [Area("paper", (frame,))],
        "sheet": sheet,
        "rivers": _areas("river", tree.rivers, rings, titles),
        "discs": _areas("disc", tree.flaps, rings, titles, packing.loose),
        "active paths": _paths(packing, mm),
        "tips": _tips(packing, mm, titles),
        "names": _names(packing, mm, numbers or {}),
    }
    return Drawing(
        width,
        height,
        tuple((name, tuple(groups[name])) for name in GROUPS),
        title=f"{plain(packing.figure.name)}: packing",
        description=_description(packing, mm),
        colours=part_colours(tree),
    )


def _thinnest(packing: Packing) -> float:
    """Return the width in mm below which a river is not drawn."""
    return THINNEST_MM if packing.tree.n_tips <= MANY_TIPS else THINNEST_OF_MANY_MM


def _scaled(points: Iterable[Point], mm: float) -> tuple[Point, ...]:
    return tuple((x * mm, y * mm) for x, y in points)


def _areas(
    kind: str,
    parts: tuple[str, ...],
    rings: dict[str, tuple[Ring, ...]],
    titles: dict[str, str],
    loose: tuple[str, ...] = (),
) -> list[Mark]:
    return [
        Area(
            "loose disc" if part in loose else kind,
            tuple(points for points, _ in rings[part]),
            part,
            titles[part],
            tuple(bulges for _, bulges in rings[part]),
        )
        for part in parts
        if rings.get(part)
    ]


def _paths(packing: Packing, mm: float) -> list[Mark]:
    at = dict(zip(packing.tree.flaps, packing.tips, strict=True))
    return [
        Path("active path", _scaled((at[a], at[b]), mm), title=f"active path {a} - {b}")
        for a, b in packing.active
    ]


def _tips(packing: Packing, mm: float, titles: dict[str, str]) -> list[Mark]:
    loose = set(packing.loose)
    return [
        Disc(
            "loose tip" if name in loose else "tip",
            (x * mm, y * mm),
            TIP_MM,
            name,
            titles[name],
        )
        for name, (x, y) in zip(packing.tree.flaps, packing.tips, strict=True)
    ]


def _titles(packing: Packing, mm: float) -> dict[str, str]:
    """Return for each part what a pointer or a screen reader tells of it."""
    kinds, loose = packing.kinds, set(packing.loose)
    titles = {}
    for (name, on_sheet), length in zip(
        packing.sheet_lengths.items(), packing.lengths, strict=True
    ):
        what = f"{kinds[name]} flap" if name in kinds else "river"
        if name in loose:
            what = f"loose {what}"
        titles[name] = f"{name}: {what}, length {length:g}, {on_sheet * mm:.4g} mm"
    return titles


def _description(packing: Packing, mm: float) -> str:
    tree = packing.tree
    thinnest = _thinnest(packing)
    widths = packing.sheet_lengths
    thin = sum(widths[name] * mm < thinnest for name in tree.rivers)
    left_out = (
        f"; {counted(thin, 'river')} narrower than {thinnest:g} mm not drawn" if thin else ""
    )
    return (
        f"{len(tree.flaps)} flaps and {counted(len(tree.rivers), 'river')} on a sheet of "
        f"{packing.sheet.describe()}, {SYMMETRY_NAMES[packing.symmetry]}; one unit of length takes "
        f"{packing.scale * mm:.4g} mm; {counted(len(packing.active), 'active path')}; "
        f"{counted(len(packing.loose), 'loose flap')}{left_out}."
    )


def _names(packing: Packing, mm: float, numbers: Mapping[str, int]) -> list[Mark]:
    """Name each flap and river that is drawn in its own paper, or beside it."""
    at = dict(zip(packing.tree.flaps, packing.tips, strict=True))
    drawn = regions(packing, thinnest=_thinnest(packing) / mm)
    return sheet_names(
        packing.tree,
        packing.symmetry,
        packing.points * mm,
        {
            name: affinity.scale(drawn.get(name, Polygon()), mm, mm, origin=(0, 0))
            for name in packing.tree.names
        },
        (packing.sheet.width * mm, packing.sheet.height * mm),
        [(_at(at[a], mm), _at(at[b], mm)) for a, b in packing.active],
        numbers,
    )


def _at(point: Point, mm: float) -> Point:
    return point[0] * mm, point[1] * mm
