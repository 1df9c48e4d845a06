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
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np
import shapely

from packer.drawing.marks.labels import label_box, lengths_within
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

TRIES: Final = ((1.0, (ALL,)), (0.8, (ALL,)), (0.65, (ALL, LABELS, NOTHING)))
"""How a label with a leader line is tried, one way after another.

The share of its size that its letters have, and what its leader line must not cross.
"""

RINGS: Final = (1.2, 2.0, 3.0, 4.5, 6.5, 9.0, 12.0, 16.0, 21.0, 28.0, 36.0, 46.0)
"""Lengths of leader lines tried, in sizes of the text."""

WAYS: Final = tuple(2 * math.pi * k / 24 for k in range(24))
"""Directions of leader lines tried, in radians."""

FLATTEST: Final = 0.3
"""Cosine of the flattest leader line at whose end a text is centred."""

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
    lines = shapely.STRtree(
        shapely.linestrings(np.array(strokes, dtype=float).reshape(-1, 2, 2))
    )
    choice = _descend(namings, lines, fixed)
    ground = _Ground(lines, bounds, fixed)
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
    namings: Sequence[Naming], strokes: shapely.STRtree, fixed: Sequence[Label]
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
    namings: Sequence[Naming], strokes: shapely.STRtree, fixed: Sequence[Label]
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
    # boxes that all are upright touch where their bounds do
    turned = any(label.angle for label in labels)
    a, b = tree.query(boxes, predicate="intersects" if turned else None)
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
        self, strokes: shapely.STRtree, bounds: Box | None, fixed: Sequence[Label]
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
        for share, ways in TRIES if label.text else ():
            places = _around(replace(label, size=share * label.size, angle=0.0), point)
            roomy = self._roomy(places)
            for clear in ways if len(roomy) else ():
                free = roomy[self._passes(point, places.lines[roomy], clear)]
                if not len(free):
                    continue
                sizes = np.full(len(free), share * label.size)
                hidden = _hidden(places.boxes[free], sizes, self.strokes)
                cost = hidden + FAR * shapely.length(places.lines[free])
                best = int(free[np.argmin(np.round(cost, 3))])
                self.boxes.append(places.boxes[best])
                self.leaders.append(places.lines[best])
                return places.marks(best)
        return []

    def _roomy(self, places: _Places) -> NDArray[np.intp]:
        """Return the places that lie within the bounds and touch nothing that is taken."""
        roomy = np.arange(len(places.at))
        if self.bounds is not None:
            low, high = np.array(self.bounds).reshape(2, 2)
            corners = places.corners
            within = (corners[:, 0] >= low) & (corners[:, 2] <= high)
            roomy = roomy[within.all(axis=1)]
        for taken in (self.boxes, self.leaders):
            tree = shapely.STRtree(taken)
            met = tree.query(places.boxes[roomy], predicate="intersects")[0]
            roomy = np.delete(roomy, met)
        return roomy

    def _passes(
        self, point: Point, lines: NDArray[np.object_], clear: tuple[str, ...]
    ) -> NDArray[np.bool_]:
        """Return (k,) whether leader lines from a point cross nothing of the kinds in `clear`.

        A line may leave a label that covers its own end.
        """
        passes: NDArray[np.bool_] = np.ones(len(lines), dtype=bool)
        taken: list[shapely.Geometry] = []
        if "labels" in clear:
            boxes = np.array(self.boxes, dtype=object)
            taken += boxes[~shapely.intersects(boxes, shapely.Point(point))].tolist()
        if "leaders" in clear:
            taken += self.leaders
        passes[shapely.STRtree(taken).query(lines, predicate="intersects")[0]] = False
        return passes


@dataclass(frozen=True)
class _Places:
    """Places of one upright label round a point, each at the end of a leader line from there.

    Attributes
    ----------
    label, point
        What is placed, wherever it is now, and what it names.
    at, anchors
        (k, 2) and (k,) where the label is put.
    ends
        (k, 2) ends of the leader lines.
    """

    label: Label
    point: Point
    at: NDArray[np.float64]
    anchors: tuple[Anchor, ...]
    ends: NDArray[np.float64]

    @cached_property
    def corners(self) -> NDArray[np.float64]:
        """(k, 4, 2) corners of the boxes, counter-clockwise from the lower left; see `label_box`."""
        boxes = {
            anchor: label_box(replace(self.label, at=(0.0, 0.0), anchor=anchor))
            for anchor in set(self.anchors)
        }
        return np.array([boxes[anchor] for anchor in self.anchors]) + self.at[:, None]

    @cached_property
    def boxes(self) -> NDArray[np.object_]:
        """(k,) what the label covers."""
        boxes: NDArray[np.object_] = shapely.polygons(self.corners)
        return boxes

    @cached_property
    def lines(self) -> NDArray[np.object_]:
        """(k,) the leader lines."""
        starts = np.broadcast_to(self.point, self.ends.shape)
        lines: NDArray[np.object_] = shapely.linestrings(np.stack([starts, self.ends], axis=1))
        return lines

    def marks(self, k: int) -> list[Mark]:
        """Return the leader line and the label of one of the places."""
        (x, y), end = self.at[k].tolist(), tuple(self.ends[k].tolist())
        leader = Path("leader", (self.point, end), part=self.label.part)
        return [leader, replace(self.label, at=(x, y), anchor=self.anchors[k])]


def _around(label: Label, point: Point) -> _Places:
    """Return places round a point of an upright label."""
    across = np.array([math.cos(way) for way in WAYS])
    up = np.array([math.sin(way) for way in WAYS])
    level = abs(across) < FLATTEST
    aside = np.where(level, 0.0, 0.3 * label.size * np.copysign(1.0, across))
    rise = np.where(level, 0.75 * label.size * np.copysign(1.0, up), 0.0)
    reach = (np.array(RINGS) * label.size)[:, None, None]
    ends = np.array(point) + reach * np.column_stack([across, up])
    at = ends + np.column_stack([aside, rise])
    anchors: list[Anchor] = [
        "middle" if flat else "start" if x > 0 else "end"
        for flat, x in zip(level, across, strict=True)
    ]
    return _Places(
        label, point, at.reshape(-1, 2), tuple(anchors * len(RINGS)), ends.reshape(-1, 2)
    )


def _hidden(
    boxes: NDArray[np.object_], sizes: NDArray[np.float64], strokes: shapely.STRtree
) -> NDArray[np.float64]:
    """Return (k,) the area in mm2 of what each of k labels would hide, lines as half its height."""
    at, met = strokes.query(boxes)
    corners = shapely.get_coordinates(boxes).reshape(-1, 5, 2)
    lines = shapely.get_coordinates(strokes.geometries).reshape(-1, 2, 2)
    lengths = lengths_within(corners[at], lines[met])
    hidden: NDArray[np.float64] = 0.5 * sizes * np.bincount(at, lengths, len(boxes))
    return hidden
