"""The drawing of a packing: sheet, rivers, discs, active paths, tips and names."""

from __future__ import annotations

from typing import TYPE_CHECKING

from packer.drawing.contour import contours
from packer.drawing.strokes import Area, Disc, Drawing, Label, Mark, Path, plain
from packer.drawing.styles import part_colours

if TYPE_CHECKING:
    from collections.abc import Iterable

    from packer.drawing.contour import Ring
    from packer.drawing.strokes import Point
    from packer.packing import Packing
    from packer.sheet import Sheet

WIDTH_WITHOUT_UNIT = 200.0
"""Width in mm at which a sheet that is only a ratio is drawn."""

GROUPS = ("sheet", "rivers", "discs", "active paths", "tips", "names")
"""The layers of a packing's drawing, bottom first."""


def mm_of(sheet: Sheet) -> float:
    """Return the millimetres drawn for one unit of a sheet."""
    return sheet.mm_per_unit or WIDTH_WITHOUT_UNIT / sheet.width


def packing_drawing(packing: Packing, mm_per_unit: float | None = None) -> Drawing:
    """Draw a packing.

    Parameters
    ----------
    packing
        Any packing.
    mm_per_unit
        Millimetres for one unit of the sheet: by default the true ones, or as many as make a
        sheet without a unit 200 mm wide.

    Returns
    -------
    Drawing
        With the groups of `GROUPS`.
    """
    mm = mm_per_unit or mm_of(packing.sheet)
    width, height = packing.sheet.width * mm, packing.sheet.height * mm
    rings = {
        name: tuple((_scaled(points, mm), bulges) for points, bulges in found)
        for name, found in contours(packing).items()
    }
    titles = _titles(packing, mm)
    tree = packing.tree
    frame = ((0.0, 0.0), (width, 0.0), (width, height), (0.0, height))
    sheet: list[Mark] = [Area("sheet", (frame,), title=f"sheet, {width:.4g} x {height:.4g} mm")]
    if packing.symmetry != "none":
        ends = ((0.0, 0.0), (width, height))
        if packing.symmetry == "book":
            ends = ((width / 2, 0.0), (width / 2, height))
        sheet.append(Path("axis", ends, title=f"axis of {packing.symmetry} symmetry"))
    groups = {
        "sheet": sheet,
        "rivers": _areas("river", tree.rivers, rings, titles),
        "discs": _areas("disc", tree.flaps, rings, titles),
        "active paths": _paths(packing, mm),
        "tips": _tips(packing, mm, titles),
        "names": names(packing, mm, rings),
    }
    return Drawing(
        width,
        height,
        tuple((name, tuple(groups[name])) for name in GROUPS),
        title=f"{plain(packing.figure.name)}: packing",
        description=_description(packing, mm),
        colours=part_colours(tree),
    )


def _scaled(points: Iterable[Point], mm: float) -> tuple[Point, ...]:
    return tuple((x * mm, y * mm) for x, y in points)


def _areas(
    kind: str,
    parts: tuple[str, ...],
    rings: dict[str, tuple[Ring, ...]],
    titles: dict[str, str],
) -> list[Mark]:
    return [
        Area(
            kind,
            tuple(points for points, _ in rings[part]),
            part,
            titles[part],
            tuple(bulges for _, bulges in rings[part]),
        )
        for part in parts
        if rings[part]
    ]


def _paths(packing: Packing, mm: float) -> list[Mark]:
    at = dict(zip(packing.tree.flaps, packing.tips, strict=True))
    return [
        Path("active path", _scaled((at[a], at[b]), mm), title=f"active path {a} - {b}")
        for a, b in packing.active
    ]


def _tips(packing: Packing, mm: float, titles: dict[str, str]) -> list[Mark]:
    loose = set(packing.loose)
    radius = 0.0055 * min(packing.sheet.width, packing.sheet.height) * mm
    radius = min(1.0, max(0.4, radius))
    return [
        Disc(
            "loose tip" if name in loose else "tip",
            (x * mm, y * mm),
            radius,
            name,
            titles[name],
        )
        for name, (x, y) in zip(packing.tree.flaps, packing.tips, strict=True)
    ]


def _titles(packing: Packing, mm: float) -> dict[str, str]:
    """Return for each part what a pointer or a screen reader tells of it."""
    kinds, loose = packing.kinds, set(packing.loose)
    found = {}
    for (name, on_sheet), length in zip(
        packing.sheet_lengths.items(), packing.lengths, strict=True
    ):
        what = f"{kinds[name]} flap" if name in kinds else "river"
        if name in loose:
            what = f"loose {what}"
        found[name] = f"{name}: {what}, length {length:g}, {on_sheet * mm:.4g} mm"
    return found


def _description(packing: Packing, mm: float) -> str:
    tree = packing.tree
    return (
        f"{len(tree.flaps)} flaps and {len(tree.rivers)} rivers on a sheet of "
        f"{packing.sheet.describe()}, {packing.symmetry} symmetry; one unit of length takes "
        f"{packing.scale * mm:.4g} mm; {len(packing.active)} active paths; "
        f"{len(packing.loose)} loose flaps."
    )


def names(
    packing: Packing, mm: float, rings: dict[str, tuple[Ring, ...]], longest: int = 28
) -> list[Mark]:
    """Return the flaps' names, each inside its own disc where it fits."""
    width, height = packing.sheet.width * mm, packing.sheet.height * mm
    usual = min(4.0, max(2.2, 0.017 * min(width, height)))
    found: list[Mark] = []
    for tip, name in enumerate(packing.tree.flaps):
        x, y = packing.tips[tip][0] * mm, packing.tips[tip][1] * mm
        radius = packing.scale * packing.lengths[tip] * mm
        text = plain(name, longest)
        # In a half or quarter disc the name goes to the middle of what there is of it.
        left, right = max(0.0, x - radius), min(width, x + radius)
        low, high = max(0.0, y - radius), min(height, y + radius)
        size = min(usual, 0.9 * (right - left) / (0.56 * len(text)), 0.8 * (high - low))
        size = max(size, 0.45 * usual)
        at_y = (low + high) / 2
        if abs(at_y - y) < 1.2 * size:
            at_y = y - 1.2 * size if y - 1.2 * size > size else y + 1.2 * size
        half = 0.28 * size * len(text)
        at_x = min(max((left + right) / 2, half + 0.5), width - half - 0.5)
        found.append(Label("name", (at_x, at_y), text, size, part=name))
    return found
