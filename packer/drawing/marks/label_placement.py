"""Where labels go: near what they name, or beside it with a leader line; two never touch.

Each label has places to choose from. All begin at the place they like best; then, one after
another, those that touch move to the place that lowers the count of touching pairs most (the
discrete gradient descent of J. Christensen, J. Marks and S. Shieber, "An empirical study of
algorithms for point-feature label placement", ACM Transactions on Graphics 14, 1995). What still
touches moves to free room farther off, joined to what it names by a leader line, or is left out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np
import shapely

from packer.drawing.marks.labels import label_box, text_width
from packer.drawing.marks.strokes import Label, Path

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from packer.drawing.marks.labels import Segment
    from packer.drawing.marks.strokes import Anchor, Mark, Point

    Choices = Sequence[tuple[Label, ...]]
    Box = tuple[float, float, float, float]

ROUNDS: Final = 30
"""Most rounds of moves; descents on samples of up to 110 labels ended after 9 at most."""

TOUCH: Final = 1e3
"""Cost in mm2 of a touching pair: above all that a label can hide."""

LIKED: Final = 0.02
"""Cost of each step down the list of liked places, in squares of the text's size."""

MOST_LED: Final = 120
"""Labels that are led to free room: no drawing that is designed has so many without a place."""

CROWDED: Final = 400
"""Names on one drawing beyond which none is led to free room: leader lines would hide the rest."""

ALL: Final = ("labels", "leaders")
LABELS: Final = ("labels",)
NOTHING: Final[tuple[str, ...]] = ()

TRIES: Final = ((1.0, ALL), (0.8, ALL), (0.65, ALL), (0.65, LABELS), (0.65, NOTHING))
"""How a label with a leader line is tried, one way after another.

The share of its size that its letters have, and what its leader line must not cross.
"""

RINGS: Final = (1.2, 2.0, 3.0, 4.5, 6.5, 9.0, 12.0, 16.0, 21.0, 28.0, 36.0, 46.0)
"""Lengths of leader lines tried, in sizes of the text."""

WAYS: Final = 24
"""Directions of leader lines tried."""

FAR: Final = 0.6
"""Cost in mm2 of a mm of leader line."""


@dataclass(frozen=True)
class Naming:
    """What is to be named, and how.

    Parameters
    ----------
    places
        Its possible places, the best liked first; a place is a tuple of labels that belong
        together, such as the names of twins.
    points
        What each label of a place names: where its leader line ends.
    """

    places: Choices
    points: tuple[Point, ...]


def place_labels(
    namings: Sequence[Naming],
    strokes: Sequence[Segment],
    bounds: Box | None = None,
    fixed: Sequence[Label] = (),
) -> list[Mark]:
    """Place labels so that no two touch, and where they hide the least.

    Parameters
    ----------
    namings
        What is to be named.
    strokes
        Lines to keep clear of where that can be.
    bounds
        Left, bottom, right and top in mm, within which labels with leader lines stay.
    fixed
        Labels that are placed already.

    Returns
    -------
    list of Label and Path
        Labels, and leader lines of the kind "leader". What has no room anywhere is left out,
        of more than `MOST_LED` the later ones, and of more than `CROWDED` namings all those that
        have no place of their own.
    """
    choice = _descend(namings, strokes, fixed)
    ground = _Ground(strokes, bounds, fixed)
    marks: list[Mark] = []
    late: list[tuple[Label, Point]] = []
    for naming, k in zip(namings, choice, strict=True):
        if k is None:
            late += list(zip(naming.places[0], naming.points, strict=True))
            continue
        marks += naming.places[k]
        for label in naming.places[k]:
            ground.take(label)
    for label, point in late[:MOST_LED] if len(namings) <= CROWDED else ():
        marks += ground.led(label, point)
    return marks


@dataclass(frozen=True)
class _Choices:
    """The places of all namings, one after another: what each costs, and which of others it touches.

    Attributes
    ----------
    first
        The number of the first place of each naming, and that of all places.
    costs
        (places,) in mm2.
    """

    first: list[int]
    costs: NDArray[np.float64]
    touched: NDArray[np.intp]
    starts: NDArray[np.intp]

    def touching(self, place: int) -> NDArray[np.intp]:
        """Return the places of others that a place touches."""
        return self.touched[self.starts[place] : self.starts[place + 1]]

    def met(self, chosen: Iterable[int]) -> NDArray[np.intp]:
        """Return (places,) how many of the chosen places each touches."""
        met = np.zeros(len(self.costs), dtype=np.intp)
        for place in chosen:
            met[self.touching(place)] += 1
        return met


def _descend(
    namings: Sequence[Naming], strokes: Sequence[Segment], fixed: Sequence[Label]
) -> list[int | None]:
    """Return for each naming the place it takes so that no two touch; None for those without."""
    choices = _choices(namings, strokes, fixed)
    bounds = list(pairwise(choices.first))
    chosen = [a + int(np.argmin(np.round(choices.costs[a:b], 3))) for a, b in bounds]
    met = choices.met(chosen)
    for _ in range(ROUNDS):
        moved = False
        for k, (a, b) in enumerate(bounds):
            if met[chosen[k]] == 0:
                continue
            total = choices.costs[a:b] + TOUCH * met[a:b]
            best = int(np.argmin(np.round(total, 3)))
            if total[best] < total[chosen[k] - a] - 1e-6:
                met[choices.touching(chosen[k])] -= 1
                chosen[k], moved = a + best, True
                met[choices.touching(chosen[k])] += 1
        if not moved:
            break
    kept = _without_touching(chosen, choices)
    return [None if p is None else p - a for p, a in zip(kept, choices.first, strict=False)]


def _choices(
    namings: Sequence[Naming], strokes: Sequence[Segment], fixed: Sequence[Label]
) -> _Choices:
    places = [place for naming in namings for place in naming.places]
    first = np.cumsum([0, *(len(naming.places) for naming in namings)])
    naming = np.repeat(np.arange(len(namings)), np.diff(first))
    labels = [label for place in places for label in place]
    owner = np.repeat(np.arange(len(places)), [len(place) for place in places])
    boxes = shapely.polygons(np.array([label_box(one) for one in labels]).reshape(-1, 4, 2))
    sizes = np.array([label.size for label in labels])
    hidden = _hidden(boxes, sizes, strokes)
    rank = owner - first[naming[owner]]
    costs = np.bincount(owner, hidden + LIKED * rank * sizes**2, len(places)).astype(float)
    tree = shapely.STRtree(boxes)
    a, b = tree.query(boxes, predicate="intersects")
    twins = (owner[a] == owner[b]) & (a != b)  # over each other
    costs = costs + TOUCH * np.bincount(owner[a[twins]], minlength=len(places))
    taken = shapely.polygons(np.array([label_box(one) for one in fixed]).reshape(-1, 4, 2))
    hit = np.unique(tree.query(taken, predicate="intersects")[1])
    costs = costs + TOUCH * np.bincount(owner[hit], minlength=len(places))
    others = naming[owner[a]] != naming[owner[b]]
    pairs = np.sort(owner[a[others]] * len(places) + owner[b[others]])
    pairs = pairs[np.diff(pairs, prepend=-1) > 0]  # places of two labels touch twice
    counts = np.bincount(pairs // max(1, len(places)), minlength=len(places))
    return _Choices(
        first.tolist(), costs, pairs % max(1, len(places)), np.cumsum([0, *counts.tolist()])
    )


def _without_touching(chosen: Sequence[int], choices: _Choices) -> list[int | None]:
    """Take out those that touch most, one after another, until none do."""
    kept = [p if choices.costs[p] < TOUCH else None for p in chosen]
    there = np.array([p is not None for p in kept], dtype=bool)
    at = np.array(chosen, dtype=np.intp)
    met = choices.met(p for p in kept if p is not None)
    while there.any():
        counts = np.where(there, met[at], 0)
        worst = int(counts.argmax())
        if counts[worst] == 0:
            break
        kept[worst], there[worst] = None, False
        met[choices.touching(chosen[worst])] -= 1
    return kept


class _Ground:
    """What is taken by labels and leader lines so far."""

    def __init__(
        self, strokes: Sequence[Segment], bounds: Box | None, fixed: Sequence[Label]
    ) -> None:
        self.strokes = strokes
        self.bounds = bounds
        self.boxes: list[shapely.Polygon] = []
        self.leaders: list[shapely.LineString] = []
        for label in fixed:
            self.take(label)

    def take(self, label: Label) -> None:
        """Take the room of a label."""
        self.boxes.append(shapely.Polygon(label_box(label)))

    def led(self, label: Label, point: Point) -> list[Mark]:
        """Return a label with its leader line where there is room, and take it; else nothing."""
        for share, clear in TRIES:
            tries = _around(replace(label, size=share * label.size, angle=0.0), point)
            boxes = shapely.polygons([label_box(one) for one, _ in tries])
            lines = shapely.linestrings([line for _, line in tries])
            free = self._free(point, boxes, lines, clear)
            if not free.any():
                continue
            sizes = np.full(len(tries), share * label.size)
            cost = _hidden(boxes, sizes, self.strokes) + FAR * shapely.length(lines)
            best = int(np.argmin(np.where(free, np.round(cost, 3), np.inf)))
            self.boxes.append(boxes[best])
            self.leaders.append(lines[best])
            chosen, (start, end) = tries[best]
            return [Path("leader", (start, end), part=label.part), chosen]
        return []

    def _free(
        self,
        point: Point,
        boxes: NDArray[np.object_],
        lines: NDArray[np.object_],
        clear: tuple[str, ...],
    ) -> NDArray[np.bool_]:
        """Return (k,) whether boxes lie free, and their leader lines clear of what is named.

        A line may leave a label that covers its own end.
        """
        free: NDArray[np.bool_] = np.ones(len(boxes), dtype=bool)
        if self.bounds is not None:
            free &= shapely.covered_by(boxes, shapely.box(*self.bounds))
        end = shapely.Point(point)
        apart = [box for box in self.boxes if not box.intersects(end)]
        for taken, passed in (
            (self.boxes, apart if "labels" in clear else []),
            (self.leaders, self.leaders if "leaders" in clear else []),
        ):
            if taken:
                free[shapely.STRtree(taken).query(boxes, predicate="intersects")[0]] = False
            if passed:
                free[shapely.STRtree(passed).query(lines, predicate="intersects")[0]] = False
        return free


def _around(label: Label, point: Point) -> list[tuple[Label, tuple[Point, Point]]]:
    """Return places round a point with their leader lines, from the point to the text's end."""
    half = text_width(label.text, label.size) / 2
    choices: list[tuple[Label, tuple[Point, Point]]] = []
    for ring in RINGS:
        for k in range(WAYS):
            angle = 2 * math.pi * k / WAYS
            x = point[0] + ring * label.size * math.cos(angle)
            y = point[1] + ring * label.size * math.sin(angle)
            level = abs(math.cos(angle)) < 0.3
            anchor: Anchor = "middle" if level else "start" if math.cos(angle) > 0 else "end"
            rise = 0.75 * label.size * math.copysign(1.0, math.sin(angle)) if level else 0.0
            aside = 0.0 if level else 0.3 * label.size * math.copysign(1.0, math.cos(angle))
            moved = replace(label, at=(x + aside, y + rise), anchor=anchor)
            choices.append((moved, (point, (x, y))))
    return [entry for entry in choices if half > 0]


def _hidden(
    boxes: NDArray[np.object_], sizes: NDArray[np.float64], strokes: Sequence[Segment]
) -> NDArray[np.float64]:
    """Return (k,) the area in mm2 of what each of k labels would hide, lines as half its height."""
    if not len(strokes):
        return np.zeros(len(boxes))
    lines = shapely.linestrings(np.array(strokes, dtype=float).reshape(-1, 2, 2))
    at, met = shapely.STRtree(lines).query(boxes, predicate="intersects")
    lengths = shapely.length(shapely.intersection(boxes[at], lines[met]))
    hidden: NDArray[np.float64] = 0.5 * sizes * np.bincount(at, lengths, len(boxes))
    return hidden
