"""The drawing of a crease pattern: every crease by its role, or by mountain and valley alone."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final, Literal

from packer.drawing.marks.label_placement import Naming, place_labels
from packer.drawing.marks.labels import text_width
from packer.drawing.marks.names import NAME
from packer.drawing.marks.strokes import Disc, Drawing, Label, Mark, Path, plain
from packer.drawing.marks.styles import FOLDS, GREY, ROLES, line_kind, part_colours
from packer.drawing.packing_drawing import mm_of
from packer.drawing.straight_runs import line_of, straight_runs
from packer.numbers import counted

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from packer.creases.pattern import CreasePattern
    from packer.drawing.marks.strokes import Point
    from packer.folded.pleats import PleatCrease

Look = Literal["role", "fold"]
LOOKS: Final[tuple[Look, ...]] = ("role", "fold")
"""All creases in the colours of their roles; or for folding, mountains and valleys alone."""


def telling_look(pattern: CreasePattern) -> Look:
    """Return the look that tells a folder most: roles while mountains and valleys are open."""
    return "fold" if pattern.decided else "role"


def crease_drawing(
    pattern: CreasePattern,
    mm_per_unit: float | None = None,
    look: Look = "role",
    colours: Mapping[str, str] | None = None,
    numbers: Mapping[str, int] | None = None,
) -> Drawing:
    """Draw a crease pattern.

    Parameters
    ----------
    pattern
        Any crease pattern.
    mm_per_unit
        Millimetres for one unit of the sheet: by default the true ones, or as many as make a
        sheet without a unit 200 mm wide.
    look
        "role" draws every crease in the colour of its role, with the dash of its fold; "fold"
        draws mountains and valleys, flat hinges thin, and roles only where folds are open.
    colours
        Of the figure's parts, by name, so that they are the stick figure's own; by default those
        of the tree built.
    numbers
        Of flaps of the figure: these stand in place of names.

    Returns
    -------
    Drawing
        With a group for each role and fold, such as "ridge valley", then "border", "tips",
        "fillers" and "names". Creases that run on straight are one line.
    """
    mm = mm_per_unit or mm_of(pattern.sheet)
    groups = [*crease_groups(pattern, mm, look), ("border", (border(pattern, mm),))]
    groups += [("tips", tuple(_tips(pattern, mm))), ("fillers", tuple(_fillers(pattern, mm)))]
    groups.append(("names", tuple(tip_names(pattern, mm, numbers or {}))))
    return Drawing(
        pattern.sheet.width * mm,
        pattern.sheet.height * mm,
        tuple(groups),
        title=f"{plain(pattern.title)}: creases" if pattern.title else "creases",
        description=_description(pattern),
        colours=colours_of(pattern, colours),
    )


def crease_groups(
    pattern: CreasePattern, mm: float, look: Look = "role"
) -> list[tuple[str, tuple[Mark, ...]]]:
    """Return the creases of a pattern as lines, in a group for each role and fold.

    Creases of one role and fold that run on straight are one line.
    """
    keys: list[tuple[str, str]] = list(zip(pattern.roles, pattern.folds, strict=True))
    runs = straight_runs(pattern, keys)
    groups: list[tuple[str, tuple[Mark, ...]]] = []
    for role in ROLES:
        for fold in "FUVM":
            name = kind = line_kind(role, fold)
            if look == "fold":
                kind = {"M": "mountain", "V": "valley", "U": "undecided"}.get(fold, kind)
            lines = (
                Path(kind, line_of(pattern, run, mm)) for run in runs.get((role, fold), ())
            )
            groups.append((name, tuple(lines)))
    return [(name, lines) for name, lines in groups if lines]


def border(pattern: CreasePattern, mm: float) -> Mark:
    """Return the edge of a pattern's sheet as one closed line."""
    w, h = pattern.sheet.width * mm, pattern.sheet.height * mm
    return Path("border", ((0.0, 0.0), (w, 0.0), (w, h), (0.0, h)), closed=True)


def with_pleats(drawing: Drawing, pleats: Iterable[PleatCrease], mm: float) -> Drawing:
    """Return the drawing of a crease pattern with its pleats, as a group "pleats" of their own.

    Parameters
    ----------
    drawing
        Of the crease pattern, so many mm for one unit of the sheet.
    pleats
        The lines, made after the flat base.
    mm
        Millimetres for one unit of the sheet.
    """
    lines: tuple[Mark, ...] = tuple(
        Path(
            f"pleat {FOLDS[pleat.fold]}",
            tuple((x * mm, y * mm) for x, y in pleat.ends),
            part=pleat.part,
            title=f"pleat {pleat.pleat + 1} of {pleat.part}",
        )
        for pleat in pleats
    )
    where = next(k for k, (name, _) in enumerate(drawing.groups) if name == "border")
    groups = (*drawing.groups[:where], ("pleats", lines), *drawing.groups[where:])
    return replace(drawing, groups=groups)


def colours_of(
    pattern: CreasePattern, figure: Mapping[str, str] | None = None
) -> dict[str, str]:
    """Return the colour of each part of the tree built: that of its part of the figure.

    Fillers are grey. Without the figure's colours the tree built gets colours of its own.
    """
    own = figure or part_colours(pattern.tree)
    return {
        name: own.get(pattern.part_of[name], GREY) if name in pattern.part_of else GREY
        for name in pattern.tree.names
    }


def _place(pattern: CreasePattern, name: str, mm: float) -> Point:
    x, y = (pattern.points[pattern.tips[name]] * mm).tolist()
    return x, y


def _tips(pattern: CreasePattern, mm: float) -> Iterable[Mark]:
    for name in pattern.tree.flaps:
        if name not in pattern.fillers:
            yield Disc("tip", _place(pattern, name, mm), 0.8, name, f"tip of {name}")


def _fillers(pattern: CreasePattern, mm: float) -> Iterable[Mark]:
    for name in pattern.fillers:
        length = pattern.built[name] * mm
        title = f"{name}: filler, {length:.4g} mm, to tuck away or to use"
        yield Disc("filler tip", _place(pattern, name, mm), 0.9, name, title)


def tip_names(pattern: CreasePattern, mm: float, numbers: Mapping[str, int]) -> list[Mark]:
    """Name each flap of the figure near its tip, where it hides the fewest creases."""
    w, h = pattern.sheet.width * mm, pattern.sheet.height * mm
    own = pattern.tree.n_tips - len(pattern.fillers)
    size = min(3.2, max(2.0, (0.016 if own <= 24 else 0.011) * max(w, h)))
    namings = []
    for name in pattern.tree.flaps:
        if name not in pattern.fillers:
            part = pattern.part_of.get(name, name)
            text = str(numbers[part]) if part in numbers else plain(part, NAME)
            x, y = _place(pattern, name, mm)
            half, off = 0.5 * text_width(text, size), 1.2 * size
            positions = [
                (x + across * (half + size), y + up * off)
                # Inwards first, so that none runs over the sheet's edge.
                for across in ((1, -1, 0) if x < w / 2 else (-1, 1, 0))
                for up in ((1, -1, 0, 2, -2) if y < h / 2 else (-1, 1, 0, -2, 2))
                if across or up
            ]
            inside = [
                (min(max(u, half + 0.5), w - half - 0.5), min(max(v, size), h - size))
                for u, v in positions
            ]
            places = [(Label("name", position, text, size, part=name),) for position in inside]
            namings.append(Naming(places, ((x, y),)))
    return place_labels(
        namings, (pattern.points[pattern.edges] * mm).tolist(), (0.0, 0.0, w, h)
    )


def _description(pattern: CreasePattern) -> str:
    decided = (
        f"{pattern.folds.count('M')} mountain and {pattern.folds.count('V')} valley"
        if pattern.decided
        else "mountains and valleys not decided"
    )
    return (
        f"Crease pattern on a sheet of {pattern.sheet.describe()}: "
        f"{counted(pattern.creases, 'crease')} from vertex to vertex, {decided}, "
        f"{counted(len(pattern.fillers), 'filler')}"
    )
