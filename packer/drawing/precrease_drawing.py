"""Pictures of the levels of pre-creasing, as seen from the side that is creased from."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from packer.drawing.arrows import fold_arrow, watch
from packer.drawing.crease_drawing import tip_names
from packer.drawing.marks.label_placement import Naming, place_labels
from packer.drawing.marks.strokes import Disc, Drawing, Label, Path
from packer.drawing.marks.strokes import mirrored as from_behind
from packer.landmarks.alignments import mirrored

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern
    from packer.drawing.marks.strokes import Mark, Point
    from packer.landmarks.fold_guide import FoldGuide
    from packer.landmarks.precrease import Precrease

MEASURE_MM = 2.8
"""Size of the figures of a measure."""


def sides_of(guide: FoldGuide, level: int) -> list[bool]:
    """Return from which sides a level has creases: False for the front, True for the back."""
    folds = {
        guide.pattern.folds[edge]
        for number in guide.levels[level]
        for edge in guide.precreases[number].crease.edges
    }
    return ([False] if folds - {"M"} else []) + ([True] if "M" in folds else [])


def level_drawing(guide: FoldGuide, level: int, back: bool, longest: float) -> Drawing:
    """Draw a level of pre-creasing from one side of the paper.

    Parameters
    ----------
    guide
        The guide.
    level
        The place of the level in ``guide.levels``.
    back
        Whether from the back: the mountains of the pattern, seen and creased as valleys.
    longest
        Longer side of the sheet in the picture, in mm.
    """
    pattern = guide.pattern
    mm = longest / max(pattern.sheet.width, pattern.sheet.height)
    own = guide.levels[level]
    first = back == sides_of(guide, level)[0]  # a point is measured once, for both sides
    done = [k for row in guide.levels[:level] for k in row]
    new = list(_pieces(guide, own, back))
    groups = [
        ("sheet", (_outline(pattern, mm),)),
        ("creases", tuple(_lines(guide, done, mm))),
        ("new", tuple(_path(pattern, kind, a, b, mm) for kind, a, b in new)),
        ("signs", tuple(_signs(guide, own, back, mm))),
        ("measures", tuple(_measures(guide, own, mm)) if first else ()),
        ("tips", tuple(_tips(pattern, mm))),
    ]
    if level == 0 and not back:
        groups.append(("names", tuple(tip_names(pattern, mm, {}))))
    drawing = Drawing(
        pattern.sheet.width * mm,
        pattern.sheet.height * mm,
        tuple(groups),
        f"Level {level + 1}, from the {'back' if back else 'front'}",
        f"{len(new)} new pieces of crease",
        margin=6.0,
    )
    return from_behind(drawing) if back else drawing


def _pieces(
    guide: FoldGuide, numbers: Iterable[int], back: bool
) -> Iterator[tuple[str, int, int]]:
    """Yield the kind and the ends of straight pieces to crease from a side."""
    folds = guide.pattern.folds
    for number in numbers:
        crease = guide.precreases[number].crease
        start = 0
        for k in range(1, len(crease.edges) + 1):
            here = folds[crease.edges[start]]
            if k == len(crease.edges) or folds[crease.edges[k]] != here:
                kind = _kind(here, back)
                if kind:
                    yield kind, crease.vertices[start], crease.vertices[k]
                start = k


def _kind(fold: str, back: bool) -> str:
    if fold in {"U", "F"}:
        return "" if back else "new crease" if fold == "U" else "old crease"
    return "new valley" if (fold == "M") == back else ""


def _outline(pattern: CreasePattern, mm: float) -> Path:
    w, h = pattern.sheet.width * mm, pattern.sheet.height * mm
    return Path("border", ((0.0, 0.0), (w, 0.0), (w, h), (0.0, h)), closed=True)


def _lines(guide: FoldGuide, numbers: Iterable[int], mm: float) -> Iterator[Mark]:
    for number in numbers:
        first, last = guide.precreases[number].crease.ends
        yield _path(guide.pattern, "old crease", first, last, mm)


def _path(pattern: CreasePattern, kind: str, a: int, b: int, mm: float) -> Path:
    return Path(kind, (_at(pattern, a, mm), _at(pattern, b, mm)))


def _at(pattern: CreasePattern, vertex: int, mm: float) -> Point:
    x, y = (pattern.points[vertex] * mm).tolist()
    return x, y


def _tips(pattern: CreasePattern, mm: float) -> Iterator[Mark]:
    for name in pattern.tree.flaps:
        kind = "filler tip" if name in pattern.fillers else "mark"
        yield Disc(kind, _at(pattern, pattern.tips[name], mm), 0.8, title=f"tip of {name}")


def _signs(guide: FoldGuide, numbers: tuple[int, ...], back: bool, mm: float) -> Iterator[Mark]:
    """Yield for each role the arrow and the circles of its longest crease, as an example."""
    shown: dict[str, tuple[float, int]] = {}
    for kind, a, b in _pieces(guide, numbers, back):
        if kind == "old crease":
            continue
        for number in numbers:
            one = guide.precreases[number]
            if {a, b} <= set(one.crease.vertices) and one.how == "folded":
                size = float(np.hypot(*(guide.pattern.points[a] - guide.pattern.points[b])))
                shown[one.crease.role] = max(
                    shown.get(one.crease.role, (0.0, -1)), (size, number)
                )
    for _, number in shown.values():
        yield from _example(guide, guide.precreases[number], mm)


def _example(guide: FoldGuide, one: Precrease, mm: float) -> Iterator[Mark]:
    pattern = guide.pattern
    for vertex in one.points:
        yield watch(_at(pattern, vertex, mm))
    if one.alignment in {3, 4}:
        start, end = _moved(pattern, guide, one)
        a, b = tuple((start * mm).tolist()), tuple((end * mm).tolist())
        yield from fold_arrow(a, b)


def _moved(
    pattern: CreasePattern, guide: FoldGuide, one: Precrease
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return a point on the first line of an alignment near the crease, and where it goes."""
    crease = guide.precreases[one.lines[0]].crease
    ends = pattern.points[list(crease.ends)]
    shares = np.linspace(0.05, 0.95, 61)[:, None]
    positions = ends[0] + shares * (ends[1] - ends[0])
    images = mirrored(one.crease.line, positions)
    middle = pattern.points[list(one.crease.ends)].mean(axis=0)
    size = (pattern.sheet.width, pattern.sheet.height)
    inside = ((images >= 0) & (images <= size)).all(axis=1)
    apart = np.hypot(*(images - positions).T)
    wanted = 0.12 * max(size)
    rank = np.hypot(*(positions - middle).T) + 2 * np.maximum(wanted - apart, 0.0)
    k = int(np.where(inside, rank, np.inf).argmin())
    return positions[k], images[k]


def _measures(guide: FoldGuide, numbers: Iterable[int], mm: float) -> list[Mark]:
    """Return a line with its length in mm from each known point to the one measured."""
    pattern = guide.pattern
    width = pattern.sheet.width * mm
    marks: list[Mark] = []
    namings = []
    for number in numbers:
        for m in guide.precreases[number].measured:
            a, b = _at(pattern, m.start, mm), _at(pattern, m.vertex, mm)
            length = float(np.hypot(*(pattern.points[m.start] - pattern.points[m.vertex])))
            marks += [Path("measure", (a, b)), Disc("mark", a, 0.6), watch(b)]
            text = f"{length * guide.mm:.1f}"
            positions = [
                ((a[0] + b[0]) / 2 + u, (a[1] + b[1]) / 2 + v)
                for u in (4, -4, 7, -7)
                for v in (2.5, -2.5, 5, -5)
            ]
            # beyond the sheet's edge a figure would be cut off
            on_paper = [p for p in positions if MEASURE_MM < p[0] < width - MEASURE_MM]
            positions = on_paper or positions
            places = [(Label("heading", position, text, MEASURE_MM),) for position in positions]
            namings.append(Naming(places, (b,)))
    ends = (pattern.points[pattern.edges] * mm).tolist()
    return marks + place_labels(namings, ends)
