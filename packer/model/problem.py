"""The problem: a figure on a sheet under a symmetry, with every wish made into a range.

This is what a search is given and what a packing answers. Contradictions between placements,
sheet and symmetry are refused here, before any time is spent.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.errors import FigureError, SheetError, did_you_mean
from packer.model.figure import CORNERS, SIDES, SYMMETRIES, Figure, Symmetry, check_lengths
from packer.model.sheet import Sheet
from packer.model.tree import Tree, tree_of
from packer.units import ON_EDGE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.model.figure import Place
    from packer.model.sheet import Point

Interval = tuple[float, float]

ALIKE: Final = 1e-9
"""Relative difference of their paths up to which two tips are alike."""

SIDE_FRACTIONS: dict[str, tuple[Interval, Interval]] = {
    "left": ((0, 0), (0, 1)),
    "right": ((1, 1), (0, 1)),
    "bottom": ((0, 1), (0, 0)),
    "top": ((0, 1), (1, 1)),
    "bottom left": ((0, 0), (0, 0)),
    "bottom right": ((1, 1), (0, 0)),
    "top right": ((1, 1), (1, 1)),
    "top left": ((0, 0), (1, 1)),
}
"""Lowest and highest x, and the same of y, in fractions of the sheet."""


@dataclass(frozen=True)
class Range:
    """Where one tip may lie: an axis-parallel box, in sheet units, perhaps a segment or a point.

    Parameters
    ----------
    x, y
        Lowest and highest coordinate; equal where the coordinate is fixed.
    on_axis
        Whether the tip is bound to the mirror line as well. Under book symmetry `x` is then the
        fixed middle; under diagonal symmetry `x` equals `y` and the tip is (t, t).
    margin
        The tip keeps ``margin * scale`` from every edge of the sheet ("middle": its own length).
    """

    x: Interval
    y: Interval
    on_axis: bool = False
    margin: float = 0.0

    @property
    def is_point(self) -> bool:
        """Whether nothing is left to choose."""
        return self.x[0] == self.x[1] and self.y[0] == self.y[1]

    @property
    def middle(self) -> Point:
        """The centre of the box."""
        return (self.x[0] + self.x[1]) / 2, (self.y[0] + self.y[1]) / 2

    def holds(self, x: float, y: float, tolerance: float = 0.0) -> bool:
        """Return whether a point lies in the box or within `tolerance` of it, whatever the margin."""
        return (
            self.x[0] - tolerance <= x <= self.x[1] + tolerance
            and self.y[0] - tolerance <= y <= self.y[1] + tolerance
        )


@dataclass(frozen=True)
class Problem:
    """A figure to pack on a sheet under a symmetry.

    Parameters
    ----------
    figure
        The figure as written.
    sheet, symmetry
        Those to use; `pose` fills in the figure's own.

    Attributes
    ----------
    ranges
        For each tip, in the order of ``tree.flaps``, the ranges it may choose from. Twins'
        k-th ranges mirror each other under a symmetry, and twins choose the same k.

    Raises
    ------
    FigureError, SheetError
        Where placements contradict each other, the sheet or the symmetry.
    """

    figure: Figure
    sheet: Sheet
    symmetry: Symmetry
    ranges: tuple[tuple[Range, ...], ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        if self.symmetry not in SYMMETRIES:
            hint = did_you_mean(str(self.symmetry), SYMMETRIES)
            raise FigureError(f'unknown symmetry "{self.symmetry}"{hint}', "symmetry")
        if self.symmetry == "diagonal" and not self.sheet.is_square:
            raise SheetError(
                f"diagonal symmetry needs a square, and this sheet is {self.sheet.describe()}; "
                "make the sides equal or choose book symmetry",
                "symmetry",
            )
        object.__setattr__(self, "ranges", _ranges(self))
        _check_points(self)

    @cached_property
    def tree(self) -> Tree:
        """The figure with its twins written out."""
        return tree_of(self.figure)

    @cached_property
    def mirror(self) -> NDArray[np.intp]:
        """(tips,) index of each tip's mirror image; its own for a tip on the axis.

        Under symmetry "none" every tip is its own, and no tip lies on an axis.
        """
        if self.symmetry == "none":
            return np.arange(self.tree.n_tips)
        return self.tree.twin[: self.tree.n_tips]

    @cached_property
    def leaders(self) -> NDArray[np.intp]:
        """The tips that are not the mirror image of an earlier one."""
        return np.flatnonzero(self.mirror >= np.arange(self.tree.n_tips))

    @cached_property
    def alike(self) -> NDArray[np.bool_]:
        """(tips, tips) whether nothing changes where two tips are exchanged."""
        d, kind = self.tree.distances, np.full(self.tree.n_tips, -1)
        sums = d.sum(axis=1)
        # alike is as good as equal: each is compared with the first of its kind
        for one in range(len(d)):
            if kind[one] >= 0:
                continue
            near = np.abs(sums - sums[one]) <= 2 * ALIKE * sums[one]
            others = np.flatnonzero((kind < 0) & near)
            differ = np.abs(d[one] - d[others]) > ALIKE * d[one]
            differ[:, one] = False
            differ[np.arange(len(others)), others] = False
            alike = others[~differ.any(axis=1)]
            kind[[k for k in alike.tolist() if self.ranges[k] == self.ranges[one]]] = one
        same: NDArray[np.bool_] = kind[:, None] == kind
        return same

    @cached_property
    def boxes(self) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.intp]]:
        """Lowest and highest corners of every tip's ranges, and how many it has.

        (tips, most ranges, 2) twice, the last range repeated where a tip has fewer; (tips,).
        """
        count = np.array([len(ranges) for ranges in self.ranges], dtype=np.intp)
        most = int(count.max())
        padded = [ranges + ranges[-1:] * (most - len(ranges)) for ranges in self.ranges]
        corners = np.array(
            [[(box.x, box.y) for box in ranges] for ranges in padded], dtype=float
        )
        return corners[..., 0], corners[..., 1], count

    @property
    def tolerance(self) -> float:
        """Distance, in sheet units, by which a tip may miss the range that it is bound to."""
        return ON_EDGE * min(self.sheet.width, self.sheet.height)

    def keeps_disc(self, tip: int, point: Point) -> bool:
        """Return whether the disc of a tip at a point must lie on the sheet.

        It must where every range that holds the point has a margin, as "middle" has.
        """
        here = [box.margin > 0 for box in self.ranges[tip] if box.holds(*point, self.tolerance)]
        return bool(here) and all(here)

    def reflect(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Mirror (..., 2) points in the sheet's axis of symmetry.

        Book symmetry mirrors in the upright line through the middle, diagonal symmetry in the
        line from the lower left corner to the upper right one; "none" as book.
        """
        if self.symmetry == "diagonal":
            return points[..., ::-1].copy()
        out = points.copy()
        out[..., 0] = self.sheet.width - out[..., 0]
        return out


def pose(
    figure: Figure, sheet: Sheet | None = None, symmetry: Symmetry | None = None
) -> Problem:
    """Put a figure on a sheet: the one given, else its own, else the unit square.

    Parameters
    ----------
    figure
        The figure to pack.
    sheet, symmetry
        Override the figure's own where given.

    Raises
    ------
    FigureError, SheetError
        As `Problem`, and where the figure's lengths are beyond measure.
    """
    check_lengths(figure)
    return Problem(figure, sheet or figure.sheet or Sheet(), symmetry or figure.symmetry)


def posed(
    subject: Figure | Problem, sheet: Sheet | None = None, symmetry: Symmetry | None = None
) -> Problem:
    """Return a problem, or a figure put on a sheet.

    Parameters
    ----------
    subject
        A figure, or a problem that is posed already.
    sheet, symmetry
        Override the subject's own where given.

    Raises
    ------
    FigureError, SheetError
        As `pose`.
    """
    if isinstance(subject, Problem) and sheet is None and symmetry is None:
        return subject
    if isinstance(subject, Problem):
        return pose(subject.figure, sheet or subject.sheet, symmetry or subject.symmetry)
    return pose(subject, sheet, symmetry)


def _ranges(problem: Problem) -> tuple[tuple[Range, ...], ...]:
    tree = tree_of(problem.figure)
    ranges: list[tuple[Range, ...]] = []
    for tip, name in enumerate(tree.written[: tree.n_tips]):
        twin = int(tree.twin[tip])
        length = float(tree.lengths[tip])
        if problem.symmetry == "none":
            here = _free(problem, tree.places[tip], length)
        elif twin == tip:
            here = _on_axis(problem, name, tree.places[tip], length)
        elif twin > tip:
            here = _of_left_twin(problem, name, tree.places[tip], length)
        else:
            here = tuple(_mirrored(problem, r) for r in ranges[twin])
        ranges.append(here)
    return tuple(ranges)


def _free(problem: Problem, places: tuple[Place, ...], length: float) -> tuple[Range, ...]:
    """Ranges of a tip that no mirror line binds; the wish "axis" then says nothing."""
    if not places or "axis" in places:
        return (_scaled(problem.sheet, (0, 1), (0, 1)),)
    ranges: list[Range] = []
    for place in places:
        ranges += _ranges_of(problem.sheet, place, length)
    return tuple(dict.fromkeys(ranges))


def _ranges_of(sheet: Sheet, place: Place, length: float) -> list[Range]:
    if isinstance(place, tuple):
        x, y = place
        return [_scaled(sheet, (x, x), (y, y))]
    if place == "middle":
        whole = _scaled(sheet, (0, 1), (0, 1))
        return [Range(whole.x, whole.y, margin=length)]
    group = {"corner": CORNERS, "edge": SIDES}.get(place, (place,))
    return [_scaled(sheet, *SIDE_FRACTIONS[side]) for side in group]


def _on_axis(
    problem: Problem, name: str, places: tuple[Place, ...], length: float
) -> tuple[Range, ...]:
    ranges: list[Range] = []
    for place in places or ("axis",):
        if place == "axis":
            here = [_scaled(problem.sheet, (0, 1), (0, 1))]
        else:
            here = _ranges_of(problem.sheet, place, length)
        ranges += [cut for r in here if (cut := _cut_by_axis(problem, r)) is not None]
    if not ranges:
        wished = ", ".join(str(p) if isinstance(p, str) else str(list(p)) for p in places)
        raise FigureError(
            f"an unpaired flap lies on the axis under {problem.symmetry} symmetry, and no place "
            f"of {wished} does; pair it or place it on the axis",
            f"flaps.{name}.place",
        )
    return tuple(dict.fromkeys(ranges))


def _cut_by_axis(problem: Problem, box: Range) -> Range | None:
    if problem.symmetry == "book":
        middle = problem.sheet.width / 2
        if not box.x[0] <= middle <= box.x[1]:
            return None
        return Range((middle, middle), box.y, True, box.margin)
    low, high = max(box.x[0], box.y[0]), min(box.x[1], box.y[1])
    if low > high:
        return None
    return Range((low, high), (low, high), True, box.margin)


def _of_left_twin(
    problem: Problem, name: str, places: tuple[Place, ...], length: float
) -> tuple[Range, ...]:
    """Ranges of a left twin: of a named place and its mirror image the one on the left."""
    entry = f"flaps.{name}.place"
    if places and all(place == "axis" for place in places):
        raise FigureError(
            f"twins are mirror images under {problem.symmetry} symmetry and cannot both lie on "
            "the axis; remove the place or the pair",
            entry,
        )
    ranges: list[Range] = []
    for place in places or ("anywhere",):
        if place == "axis":
            continue
        if place in {"anywhere", "corner", "edge", "middle"}:
            boxes = _free(problem, (place,) if places else (), length)
        else:
            boxes = tuple(
                min(box, _mirrored(problem, box), key=lambda r: _leftness(problem, r))
                for box in _ranges_of(problem.sheet, place, length)
            )
        # On a point of the axis a twin would lie on its own mirror image
        ranges += [
            box for box in boxes if not (box.is_point and _mirrored(problem, box) == box)
        ]
    if not ranges:
        raise FigureError(
            "twins would both lie on this point of the axis; move it off the axis or remove "
            "the pair",
            entry,
        )
    return tuple(dict.fromkeys(ranges))


def _leftness(problem: Problem, box: Range) -> float:
    x, y = box.middle
    return x - y if problem.symmetry == "diagonal" else x


def _mirrored(problem: Problem, box: Range) -> Range:
    if problem.symmetry == "diagonal":
        return Range(box.y, box.x, box.on_axis, box.margin)
    w = problem.sheet.width
    return Range((w - box.x[1], w - box.x[0]), box.y, box.on_axis, box.margin)


def _scaled(sheet: Sheet, x: Interval, y: Interval) -> Range:
    return Range(
        (x[0] * sheet.width, x[1] * sheet.width), (y[0] * sheet.height, y[1] * sheet.height)
    )


def _check_points(problem: Problem) -> None:
    """Refuse more tips on corners and fixed points than there are such points.

    Tips whose every range is a point must be matched to points of their own (Hall's theorem);
    augmenting paths find such a matching or the tip that is left over.
    """
    tree = tree_of(problem.figure)
    holder: dict[Point, int] = {}

    def seat(tip: int, tried: set[Point]) -> bool:
        for box in problem.ranges[tip]:
            if box.middle not in tried:
                tried.add(box.middle)
                if box.middle not in holder or seat(holder[box.middle], tried):
                    holder[box.middle] = tip
                    return True
        return False

    for tip, ranges in enumerate(problem.ranges):
        if all(box.is_point for box in ranges):
            tried: set[Point] = set()
            if not seat(tip, tried):
                other = next(tree.flaps[holder[p]] for p in tried)
                raise FigureError(
                    f'too many tips for too few points: it would lie on one point with "{other}"; '
                    "give one of them another place",
                    f"flaps.{tree.written[tip]}.place",
                )
