"""Pictures of landmark steps: one crease, or a pair of mirrored creases, a picture."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.drawing.arrows import WATCH_MM, fold_arrow, watch
from packer.drawing.marks.label_placement import Naming, place_labels
from packer.drawing.marks.strokes import Disc, Drawing, Label, Path
from packer.landmarks.alignments import chord, mirrored
from packer.landmarks.sequence import CORNERS, size_of
from packer.landmarks.wording import instruction

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from packer.drawing.marks.labels import Segment
    from packer.drawing.marks.strokes import Mark, Point
    from packer.landmarks.sequence import Landmarks

MARK_NAME_MM: Final = 3.4
"""Size of the names of marks."""

PINCH: Final = 0.07
"""How far a crease is made on either side of a mark, as a share of the shorter side."""

NUMBER_ROWS: Final = 4
"""Rows in which the numbers of creases side by side stand, so that they keep clear of each other."""

SHORT_MM: Final = 1.6
"""How far existing creases stop short of the sheet's edge."""


def landmark_drawing(made: Landmarks, numbers: range, longest: float) -> Drawing:
    """Draw a landmark step, with its mirror image if the next step is that, or steps folded alike.

    Parameters
    ----------
    made
        The landmarks.
    numbers
        The places of the steps in the sequence; arrow and circles are those of the first.
    longest
        Longer side of the sheet in the picture, in mm.
    """
    size = size_of(made.sheet)
    mm = longest / max(size)
    w, h = size[0] * mm, size[1] * mm
    number = numbers[0]
    old = list(range(4, 4 + number))
    image = image_of(made, number)
    new = [_new_crease(made, k, mm, "new valley") for k in numbers]
    if image is not None:
        new.append(_new_crease(made, image, mm, "other side"))
    marks = [m for marks in new for m in marks]
    lines = [s for k in (0, 1, 2, 3, *old, number + 4) for s in _segments(made, k, mm)]
    groups = (
        ("sheet", (Path("border", ((0.0, 0.0), (w, 0.0), (w, h), (0.0, h)), closed=True),)),
        ("creases", tuple(_old(made, old, mm))),
        ("new", tuple(marks)),
        ("signs", tuple(_signs(made, numbers, mm))),
        ("names", tuple(_names(made, numbers, mm, lines))),
        ("numbers", tuple(_numbers(made, numbers, mm))),
    )
    return Drawing(w, h, groups, f"Step {number + 1}", instruction(made, number), margin=6.0)


def _numbers(made: Landmarks, numbers: range, mm: float) -> Iterator[Mark]:
    """Yield the numbers of creases made side by side, and at their far ends of those they rest on."""
    if len(numbers) == 1:
        return
    used = {k for number in numbers for k in made.steps[number].lines}
    for k in range(4, numbers[-1] + 5):
        new = k >= numbers[0] + 4
        if new or k in used:
            a, b = (end * mm for end in _ends(made, k))
            share = 0.05 + 0.05 * (k % NUMBER_ROWS)
            u, v = a + (share if new else 1 - share) * (b - a)
            yield Label("name", (float(u), float(v)), str(k - 3), 0.7 * MARK_NAME_MM)


def image_of(made: Landmarks, number: int) -> int | None:
    """Return the step after a step, where it is its mirror image."""
    after = number + 1
    return after if after < len(made.steps) and made.steps[after].image == number else None


def _ends(made: Landmarks, line: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    return chord(made.lines[line], size_of(made.sheet))


def _old(made: Landmarks, numbers: list[int], mm: float) -> Iterator[Mark]:
    """Yield the creases made before, where they were pinched, short of the edge."""
    for k in numbers:
        for start, end in _pinches(made, k):
            a, b = _short(start * mm, end * mm, _ends(made, k), mm)
            if math.dist(a, b) > 0.5:
                yield Path("old crease", (a, b))


def _short(
    start: NDArray[np.float64],
    end: NDArray[np.float64],
    ends: tuple[NDArray[np.float64], NDArray[np.float64]],
    mm: float,
) -> tuple[Point, Point]:
    way = (end - start) / np.hypot(*(end - start))
    for edge in ends:
        if np.hypot(*(start - edge * mm)) < SHORT_MM:
            start = start + SHORT_MM * way
        if np.hypot(*(end - edge * mm)) < SHORT_MM:
            end = end - SHORT_MM * way
    return (float(start[0]), float(start[1])), (float(end[0]), float(end[1]))


def _pinches(
    made: Landmarks, line: int
) -> list[tuple[NDArray[np.float64], NDArray[np.float64]]]:
    """Return the stretches of a crease that are needed: whole where it is aligned to later."""
    a, b = _ends(made, line)
    if any(line in step.lines for step in made.steps):
        return [(a, b)]
    way, length = (b - a) / np.hypot(*(b - a)), float(np.hypot(*(b - a)))
    reach = PINCH * min(size_of(made.sheet))
    positions = sorted(
        float((np.array(mark.at) - a) @ way)
        for pair, mark in made.marks.items()
        if line in pair and mark.name not in CORNERS
    )
    spans: list[list[float]] = []
    for position in positions:
        low, high = max(0.0, position - reach), min(length, position + reach)
        if spans and low <= spans[-1][1]:
            spans[-1][1] = high
        else:
            spans.append([low, high])
    return [(a + low * way, a + high * way) for low, high in spans]


def _new_crease(made: Landmarks, number: int, mm: float, kind: str) -> list[Mark]:
    a, b = (tuple((end * mm).tolist()) for end in _ends(made, number + 4))
    marks: list[Mark] = [Path("rest of crease", (a, b))]
    for start, end in _pinches(made, number + 4):
        marks.append(Path(kind, (tuple((start * mm).tolist()), tuple((end * mm).tolist()))))
    return marks


def _segments(made: Landmarks, line: int, mm: float) -> list[Segment]:
    a, b = (end * mm for end in _ends(made, line))
    return [((float(a[0]), float(a[1])), (float(b[0]), float(b[1])))]


def moves(
    made: Landmarks, number: int
) -> list[tuple[NDArray[np.float64], NDArray[np.float64]]]:
    """Return what a step moves: pairs of a point and where it goes."""
    step = made.steps[number]
    crease = made.lines[number + 4]
    points = [np.array(made.marks[pair].at) for pair in step.points]
    if step.alignment in {2, 5, 7}:
        return [(points[0], mirrored(crease, points[0]))]
    if step.alignment == 6:
        return [(p, mirrored(crease, p)) for p in points]
    if step.alignment == 3:
        return [_far(made, step.lines[0], crease, step.lines[1])]
    if step.alignment == 4:
        return [_far(made, step.lines[0], crease, step.lines[0])]
    return []


def _far(
    made: Landmarks, line: int, crease: NDArray[np.float64], onto: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return a point of a line, away from the crease, and its image on the paper."""
    size = size_of(made.sheet)
    a, b = chord(made.lines[line], size)
    shares = np.linspace(0.08, 0.92, 43)[:, None]
    positions = a + shares * (b - a)
    images = mirrored(crease, positions)
    inside = ((images >= 0) & (images <= size)).all(axis=1)
    off = abs(positions @ crease[:2] - crease[2])
    reach = 0.22 * max(size)
    rank = np.where(inside, -abs(off - reach), -np.inf)
    k = int(rank.argmax())
    return positions[k], images[k]


def _signs(made: Landmarks, numbers: range, mm: float) -> Iterator[Mark]:
    number = numbers[0]
    step = made.steps[number]
    for start, end in moves(made, number):
        a, b = (tuple((p * mm).tolist()) for p in (start, end))
        yield from fold_arrow(a, b, _bow(made, a, b, mm))
        yield watch(b)
    for pair in step.points:
        x, y = made.marks[pair].at
        yield watch((x * mm, y * mm))
    for mark in _shown(made, numbers):
        yield Disc("mark", (mark[1][0] * mm, mark[1][1] * mm), 0.8)


def _bow(made: Landmarks, start: Point, end: Point, mm: float) -> float:
    """Return the bulge that bends an arrow over the middle of the sheet, where there is room."""
    w, h = (mm * side for side in size_of(made.sheet))
    across = (end[0] - start[0]) * (h / 2 - start[1]) - (end[1] - start[1]) * (w / 2 - start[0])
    return -0.32 if across > 0 else 0.32


def _shown(made: Landmarks, numbers: range) -> list[tuple[str, tuple[float, float]]]:
    """Return the names and places of the marks that steps use and make."""
    image = image_of(made, numbers[-1])
    own = [made.marks[pair] for number in numbers for pair in made.steps[number].points]
    new = [mark for number in numbers for mark in made.made_by(number)]
    new += [] if image is None else made.made_by(image)
    return [(m.name, m.at) for m in dict.fromkeys([*own, *new]) if m.name not in CORNERS]


def _names(made: Landmarks, numbers: range, mm: float, lines: list[Segment]) -> list[Mark]:
    off = WATCH_MM + 0.6 * MARK_NAME_MM
    namings = []
    for name, (x, y) in _shown(made, numbers):
        positions = [
            (x * mm + off * math.cos(t), y * mm + off * math.sin(t))
            for t in np.linspace(0, 2 * math.pi, 16, endpoint=False) + 0.3
        ]
        places = [(Label("heading", position, name, MARK_NAME_MM),) for position in positions]
        namings.append(Naming(places, ((x * mm, y * mm),)))
    for k in made.steps[numbers[0]].lines if len(numbers) == 1 else ():
        if k >= 4:
            a, b = (end * mm for end in _ends(made, k))
            on = [a + t * (b - a) for t in (0.12, 0.88, 0.3, 0.7, 0.5)]
            places = [
                (Label("note", (float(u) + 2.2, float(v) + 2.2), str(k - 3), MARK_NAME_MM),)
                for u, v in on
            ]
            namings.append(Naming(places, ((float(on[0][0]), float(on[0][1])),)))
    return place_labels(namings, lines)
