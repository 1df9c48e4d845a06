"""The order of pre-creasing: what each crease of a pattern rests on, level by level.

The tips are known from the landmarks. An axial crease joins two tips; a ridge lays one side of
its polygon onto another; a hinge stands square to an axial crease through a point where two
creases cross; a gusset joins two points. What rests on known things alone is the first level,
what rests on that the second, and so on. Where nothing more follows by folding, one point is
measured along a known crease, and the order goes on from there.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from packer.landmarks.alignments import mirrored
from packer.landmarks.mirror import SheetMirror
from packer.landmarks.straight import LinesBeside, straight_creases
from packer.units import POOR_CROSSING, SAME_LINE

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from packer.creases.pattern import CreasePattern
    from packer.landmarks.straight import StraightCrease

How = Literal["edge", "folded", "measured", "collapse", "flat"]

NEVER: Final = 10**6
"""Level of what is not known."""

STEEP: Final = 0.02
"""Sine of the angle, one degree, below which a crease is not measured on another: it is that."""

LAST: Final[dict[str, int]] = {"hinge": 0, "fold-back": 0, "gusset": 1, "ridge": 2}
"""Where a point must be measured: hinges first, since one point is enough for each."""


@dataclass(frozen=True, eq=False)
class Measured:
    """A point found by measuring along a crease that is there.

    Attributes
    ----------
    vertex
        The point.
    along
        The number of the crease that it lies on.
    start
        The vertex on that crease from which it is measured.
    """

    vertex: int
    along: int
    start: int


@dataclass(frozen=True, eq=False)
class Precrease:
    """How one straight crease of a pattern comes about.

    Attributes
    ----------
    crease
        The crease.
    how
        "edge" of the sheet; "folded" by an alignment; "measured", folded by an alignment to points
        measured along known creases; "collapse" where it can only come as the sheet comes
        together; "flat" for a flat hinge that no other crease rests on.
    level
        0 for edges, then 1, 2 ...; what it rests on has lower levels.
    alignment
        1, 3 or 4, as in `packer.landmarks.alignments.ALIGNMENTS`; 0 where there is none.
    points
        Vertices that it is folded through.
    lines
        Numbers of creases that it is aligned to.
    crossings
        For each of `points` the numbers of the two creases that cross there; none for a tip and
        for a measured point.
    measured
        Its measured points.
    image
        The number of its mirror image where that comes about at the same level, else its own.
    """

    crease: StraightCrease
    how: How
    level: int
    alignment: int = 0
    points: tuple[int, ...] = ()
    lines: tuple[int, ...] = ()
    crossings: tuple[tuple[int, ...], ...] = ()
    measured: tuple[Measured, ...] = ()
    image: int = -1

    @property
    def rests_on(self) -> set[int]:
        """The numbers of all creases that must be there before."""
        return {
            *self.lines,
            *(k for pair in self.crossings for k in pair),
            *(m.along for m in self.measured),
        }


def precreasing(
    pattern: CreasePattern, shortest: float = 0.0, known: Iterable[int] = ()
) -> tuple[Precrease, ...]:
    """Return how every straight crease of a pattern comes about.

    Parameters
    ----------
    pattern
        A uniaxial base's creases; the tips are taken to be known.
    known
        Further vertices that are known, such as all crossings of a grid.
    shortest
        Length in sheet units below which a crease that would have to be measured is left to the
        collapse.

    Returns
    -------
    tuple of Precrease
        In the order of `packer.landmarks.straight.straight_creases`.
    """
    order = _Order(pattern, set(known))
    while order.follow() or order.measure(shortest):
        pass
    last = max((one.level for one in order.made.values()), default=0) + 1
    made = [
        order.made.get(k) or Precrease(crease, "collapse", last)
        for k, crease in enumerate(order.creases)
    ]
    return tuple(_with_flat(pattern, _with_images(made, order.images)))


class _Order:
    """What is known of a pattern while its creases are put in order.

    Attributes
    ----------
    made
        How each known crease comes about.
    since
        For each of them how many were known before.
    beside
        The creases, known or not, that faces stand on.
    """

    def __init__(self, pattern: CreasePattern, known: set[int]) -> None:
        self.pattern = pattern
        self.creases = straight_creases(pattern)
        self.images = _images(pattern, self.creases)
        self.made = {
            k: Precrease(c, "edge", 0) for k, c in enumerate(self.creases) if c.role == "border"
        }
        self.since = {k: turn for turn, k in enumerate(self.made)}
        self.beside = LinesBeside(pattern, self.creases)
        self.tips = set(pattern.tips.values()) | known
        self.level = np.full(len(pattern.points), NEVER)
        self.level[list(self.tips)] = 0
        self.crossing: dict[int, tuple[int, ...]] = dict.fromkeys(self.tips, ())
        self.through: list[list[int]] = [[] for _ in pattern.points]
        for number, crease in enumerate(self.creases):
            for vertex in crease.vertices:
                self.through[vertex].append(number)
        self.learn(range(len(pattern.points)))

    def learn(self, vertices: Iterable[int]) -> None:
        """Take the points where two known creases cross as known."""
        for vertex in vertices:
            if self.level[vertex] < NEVER:
                continue
            known = [k for k in self.through[vertex] if k in self.made]
            known.sort(key=lambda k: (self.made[k].level, k))
            pairs = [(a, b) for j, b in enumerate(known) for a in known[:j]]
            good = [pair for pair in pairs if self._turn(*pair) > POOR_CROSSING]
            if good:
                self.crossing[vertex] = good[0]
                self.level[vertex] = max(self.made[k].level for k in good[0])

    def follow(self) -> bool:
        """Add the creases that follow by folding from what is known; say whether there were any."""
        new = {}
        for number in range(len(self.creases)):
            if number not in self.made:
                way = min(self._ways(number), key=lambda one: one.level, default=None)
                if way is not None:
                    new[number] = way
        self._add(new)
        return bool(new)

    def measure(self, shortest: float) -> bool:
        """Add a crease, with its mirror image, to points measured; say whether there was one."""
        choices = {}
        for number, crease in enumerate(self.creases):
            if number in self.made:
                continue
            size, way = self._size(crease), self._to_measure(number)
            if way is not None and size > shortest:
                choices[number] = (LAST.get(crease.role, 3), len(way.measured), -size), way
        if not choices:
            return False
        first = min(choices, key=lambda k: (choices[k][0], k))
        pair = {first, self.images[first]} & choices.keys()
        self._add({k: choices[k][1] for k in pair})
        return True

    def _add(self, new: dict[int, Precrease]) -> None:
        self.made |= new
        self.since |= {k: len(self.since) + turn for turn, k in enumerate(new)}
        for number, one in new.items():
            for m in one.measured:
                self.level[m.vertex] = one.level
                self.crossing[m.vertex] = (m.along, number)
        self.learn(sorted({v for k in new for v in self.creases[k].vertices}))

    def _turn(self, one: int, other: int) -> float:
        a, b = self.creases[one].line, self.creases[other].line
        return float(abs(a[0] * b[1] - a[1] * b[0]))

    def _size(self, crease: StraightCrease) -> float:
        first, last = self.pattern.points[list(crease.ends)]
        return float(np.hypot(*(last - first)))

    def _after(self, points: Iterable[int], lines: Iterable[int]) -> int:
        """Return the level of a crease that rests on points and creases."""
        below = [int(self.level[v]) for v in points] + [self.made[k].level for k in lines]
        return 1 + max(below)

    def _way(
        self, number: int, alignment: int, points: tuple[int, ...], lines: tuple[int, ...]
    ) -> Precrease:
        crossings = tuple(self.crossing[v] for v in points)
        level = self._after(points, lines)
        crease = self.creases[number]
        return Precrease(crease, "folded", level, alignment, points, lines, crossings)

    def _ways(self, number: int) -> Iterator[Precrease]:
        """Yield the ways in which a crease follows from what is known, the best first."""
        crease = self.creases[number]
        points = [v for v in crease.vertices if self.level[v] < NEVER]
        if crease.role == "ridge":
            for one, other in self._beside(crease):
                if one is not None and other is not None and one != other:
                    yield self._way(number, 3, (), (one, other))
        if crease.role in {"hinge", "fold-back"}:
            lines = {
                k for pair in self._beside(crease, square=True) for k in pair if k is not None
            }
            for point in points:
                for line in sorted(lines):
                    yield self._way(number, 4, (point,), (line,))
        if len(points) >= 2:
            yield self._way(number, 1, self._apart(points), ())

    def _apart(self, points: list[int]) -> tuple[int, int]:
        """Return the two of the earliest known points of a crease that are the farthest apart."""
        level = sorted(int(self.level[v]) for v in points)[1]
        early = [v for v in points if self.level[v] <= level]
        return early[0], early[-1]

    def _beside(
        self, crease: StraightCrease, square: bool = False
    ) -> Iterator[tuple[int | None, int | None]]:
        """Yield, along a crease, the known creases that its two faces stand on."""
        seen = set()
        for edge in crease.edges:
            left, right = self.pattern.edge_faces[edge].tolist()
            pair = self._side(left, square), self._side(right, square)
            if pair not in seen:
                seen.add(pair)
                yield pair

    def _side(self, face: int, square: bool) -> int | None:
        """Return the known crease along a face's line of height 0; any beside it to be square to."""
        on, gussets = self.beside.of(face)
        known = [k for k in on if k in self.since]
        if known:
            return min(known, key=self.since.__getitem__)
        known = [k for k in gussets if square and k in self.since]
        return max(known, key=self.since.__getitem__, default=None)

    def _to_measure(self, number: int) -> Precrease | None:
        """Return a crease folded to points that are measured along known creases."""
        crease = self.creases[number]
        if crease.role in {"hinge", "fold-back"}:
            lines = {
                k for pair in self._beside(crease, square=True) for k in pair if k is not None
            }
            positions = [
                m for v in crease.vertices if (m := self._measured(v, number)) is not None
            ]
            # on a side rather than up on a ridge, and from near by
            positions.sort(
                key=lambda m: (LAST.get(self.creases[m.along].role, -1), self._reach(m))
            )
            if lines and positions:
                return self._along(
                    number, 4, (positions[0].vertex,), (min(lines),), positions[:1]
                )
        unknown = [v for v in crease.ends if self.level[v] == NEVER]
        both = [m for v in unknown if (m := self._measured(v, number)) is not None]
        if len(both) == len(unknown):
            return self._along(number, 1, crease.ends, (), both)
        return None

    def _along(
        self,
        number: int,
        alignment: int,
        points: tuple[int, ...],
        lines: tuple[int, ...],
        measured: list[Measured],
    ) -> Precrease:
        new = {m.vertex for m in measured}
        old = [v for v in points if v not in new] + [m.start for m in measured]
        level = self._after(old, [*lines, *(m.along for m in measured)])
        crossings = tuple(() if v in new else self.crossing[v] for v in points)
        crease = self.creases[number]
        return Precrease(
            crease, "measured", level, alignment, points, lines, crossings, tuple(measured)
        )

    def _measured(self, vertex: int, crease: int) -> Measured | None:
        """Return a point of a crease measured along one that crosses it, from the nearest known."""
        choices = [
            Measured(vertex, number, start)
            for number in self.through[vertex]
            if number in self.made and self._turn(number, crease) > STEEP
            for start in self.creases[number].vertices
            if self.level[start] < NEVER and start != vertex
        ]
        return min(choices, key=self._reach, default=None)

    def _reach(self, m: Measured) -> float:
        return float(np.hypot(*(self.pattern.points[m.start] - self.pattern.points[m.vertex])))


def _images(pattern: CreasePattern, creases: Sequence[StraightCrease]) -> list[int]:
    """Return the number of each crease's mirror image, its own where it has none."""
    own = list(range(len(creases)))
    tips = pattern.points[list(pattern.tips.values())]
    mirror = SheetMirror.of((pattern.sheet.width, pattern.sheet.height), tips)
    if mirror is None:
        return own
    ends = np.array([pattern.points[list(crease.ends)] for crease in creases])
    images = mirrored(np.array(mirror.axis), ends)
    gaps = np.minimum(
        np.abs(images[:, None] - ends[None]).max(axis=(2, 3)),
        np.abs(images[:, None, ::-1] - ends[None]).max(axis=(2, 3)),
    )
    nearest = gaps.argmin(axis=1)
    near = gaps[own, nearest] < SAME_LINE * pattern.sheet.diagonal
    return [int(k) for k in np.where(near, nearest, own)]


def _with_images(made: list[Precrease], images: list[int]) -> list[Precrease]:
    """Say which creases come about as mirror images of each other."""
    kept = []
    for number, one in enumerate(made):
        other = images[number]
        alike = (made[other].how, made[other].level) == (one.how, one.level)
        kept.append(replace(one, image=other if alike else number))
    return kept


def _with_flat(pattern: CreasePattern, made: list[Precrease]) -> list[Precrease]:
    """Say which flat hinges need not be creased at all."""
    needed = set()
    todo = [
        k for k, one in enumerate(made) if {pattern.folds[e] for e in one.crease.edges} != {"F"}
    ]
    while todo:
        number = todo.pop()
        if number not in needed:
            needed.add(number)
            todo += made[number].rests_on
    return [
        one if k in needed else replace(one, how="flat", image=k) for k, one in enumerate(made)
    ]
