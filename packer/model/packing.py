"""The packing: where every tip lies on the sheet, and what follows from it.

A packing judges itself: `Packing.violations` recomputes every inequality from the tips alone,
whoever made them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Literal

import numpy as np

from packer.errors import PackingError
from packer.model.exact_places import exact_scale
from packer.notebook import svg_of
from packer.units import ACTIVE, BOUND_ROOM, ON_EDGE, SPARE

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from packer.model.figure import Figure, Symmetry
    from packer.model.problem import Problem
    from packer.model.sheet import Point, Sheet
    from packer.model.tree import Tree

Kind = Literal["corner", "edge", "middle"]


@dataclass(frozen=True)
class SearchRecord:
    """How a packing was found.

    Attributes
    ----------
    seed, starts, hits
        The seed, how many starts were solved and how many of them reached the best scale.
    seconds
        Elapsed time.
    stopped
        Why the search ended: "starts", "time", "no improvement", "proven", "interrupted",
        "workers lost", or "given" for a packing that no search made.
    """

    seed: int = 0
    starts: int = 0
    hits: int = 0
    seconds: float = 0.0
    stopped: str = "given"


@dataclass(frozen=True)
class Bound:
    """A proven upper bound on the scale of any packing of a problem, and the rule that gave it.

    It is rounded upwards, and holds for tips that lie exactly where they may. A packing whose tips
    are off by the little that is allowed is held against it with its tips in their exact places;
    see `packer.model.exact_places`.
    """

    scale: float
    rule: str


@dataclass(frozen=True)
class Packing:
    """A circle/river packing: tips on a sheet with |p_i - p_j| >= scale * d_ij for all pairs.

    Parameters
    ----------
    problem
        The figure, sheet and symmetry it answers.
    tips
        One point for each of ``problem.tree.flaps``, in sheet units, lower left origin, y up.
    lengths
        The length used of each of ``problem.tree.names``, in the figure's unit; those asked
        for, unless a part has flex.
    stress
        Multipliers of active paths as (tip, tip, multiplier), i < j, normalised so that the
        multipliers times their tree distances sum to one; (i, i, multiplier) is a tip that its
        own disc keeps away from an edge, with its flap's length for the distance.
    slack
        For each loose tip (by index) how much longer its flap could be for nothing, in the
        figure's unit.
    split_rivers
        Names of rivers that the paper would hold in more than one strand.
    bound
        The best proven upper bound known, if any.
    search
        How it was found.

    Raises
    ------
    PackingError
        Where the numbers do not fit the figure or are not finite.
    """

    problem: Problem
    tips: tuple[Point, ...]
    lengths: tuple[float, ...] = ()
    stress: tuple[tuple[int, int, float], ...] = ()
    slack: tuple[tuple[int, float], ...] = ()
    split_rivers: tuple[str, ...] = ()
    bound: Bound | None = None
    search: SearchRecord = SearchRecord()

    def __post_init__(self) -> None:
        tree = self.problem.tree
        tips = tuple((float(x), float(y)) for x, y in self.tips)
        lengths = tuple(map(float, self.lengths)) or tuple(tree.lengths.tolist())
        if len(tips) != tree.n_tips or len(lengths) != len(tree.names):
            raise PackingError(
                f"{len(tips)} tips and {len(lengths)} lengths do not fit a figure of "
                f"{tree.n_tips} flaps and {len(tree.rivers)} rivers; pack the figure again"
            )
        if not (np.isfinite(tips).all() and np.isfinite(lengths).all()):
            raise PackingError("a tip or a length is not finite; pack the figure again")
        object.__setattr__(self, "tips", tips)
        object.__setattr__(self, "lengths", lengths)

    # --- what it answers

    @property
    def figure(self) -> Figure:
        """The figure as written."""
        return self.problem.figure

    @property
    def sheet(self) -> Sheet:
        """The sheet packed on."""
        return self.problem.sheet

    @property
    def symmetry(self) -> Symmetry:
        """The symmetry packed under."""
        return self.problem.symmetry

    @property
    def tree(self) -> Tree:
        """The figure with its twins written out; its order is that of all arrays here."""
        return self.problem.tree

    # --- what follows from the tips

    @cached_property
    def points(self) -> NDArray[np.float64]:
        """(tips, 2) the tips as a read-only array."""
        return _read_only(self.tips)

    @cached_property
    def distances(self) -> NDArray[np.float64]:
        """(tips, tips) tree distances with the lengths used."""
        return self.tree.distances_with(np.array(self.lengths))

    @cached_property
    def scale(self) -> float:
        """Sheet length per unit of length: the least ratio over all pairs, as written."""
        return scale_of(self.points, self.distances, _margins(self))

    @property
    def finished_lengths(self) -> tuple[float, ...]:
        """The length used of each part less the paper in its pleats, in the figure's unit."""
        taken = {part.name: part.folded_away.taken for part in self.figure.parts}
        return tuple(
            length - taken[name]
            for name, length in zip(self.tree.written, self.lengths, strict=True)
        )

    @property
    def sheet_lengths(self) -> dict[str, float]:
        """Length of every flap and river on the sheet, in sheet units, by name."""
        return {
            name: self.scale * length
            for name, length in zip(self.tree.names, self.lengths, strict=True)
        }

    @property
    def kinds(self) -> dict[str, Kind]:
        """For each flap whether its tip lies in a corner, on an edge or in the middle."""
        return {
            name: kind_of(self.sheet, tip)
            for name, tip in zip(self.tree.flaps, self.tips, strict=True)
        }

    @cached_property
    def active(self) -> tuple[tuple[str, str], ...]:
        """The pairs of flaps whose path is active, in the order of the flaps."""
        i, j = np.triu_indices(len(self.tips), 1)
        gaps = np.hypot(*(self.points[i] - self.points[j]).T) / self.distances[i, j]
        tight = gaps <= self.scale * (1 + ACTIVE)
        names = self.tree.flaps
        return tuple((names[a], names[b]) for a, b in zip(i[tight], j[tight], strict=True))

    @property
    def loose(self) -> tuple[str, ...]:
        """Flaps that no stressed path holds in place and that have `SPARE` or more to spare.

        A tip that only paths without stress hold has no room to grow; where no slack is known,
        it counts as loose. Without any stress, as after settling, none is known to be loose.
        """
        if not self.stress:
            return ()
        held = {tip for i, j, _ in self.stress for tip in (i, j)}
        held |= {tip for tip, spare in self.slack if spare < SPARE * self.lengths[tip]}
        return tuple(name for tip, name in enumerate(self.tree.flaps) if tip not in held)

    @cached_property
    def costs(self) -> dict[str, float]:
        """The derivative d scale / d length of every flap and river, by name: zero or negative.

        The derivative of the optimum in one edge length is minus the scale times the summed
        multipliers of the paths through it (envelope theorem). One-sided where the packing is
        degenerate. A twin carries the cost of its own length alone; lengthening a pair costs
        the sum of both.
        """
        total = np.zeros(len(self.tree.names))
        for i, j, multiplier in self.stress:
            total[self.tree.path(i, j) if i != j else i] += multiplier
        return dict(zip(self.tree.names, (0.0 - self.scale * total).tolist(), strict=True))

    @property
    def headroom(self) -> float | None:
        """How much larger, as a fraction, the best packing could at most be; None if unknown."""
        return None if self.bound is None else max(0.0, self.bound.scale / self.scale - 1)

    def violations(self) -> list[str]:
        """Recompute everything and return a sentence for each thing that does not hold."""
        faults = []
        if not self.scale > 0:
            faults.append("two tips lie on one point, so the scale is zero")
        faults += [
            f'"{name}" lies off its place at ({x:g}, {y:g})'
            for name, (x, y), ranges in zip(
                self.tree.flaps, self.tips, self.problem.ranges, strict=True
            )
            if not any(box.holds(x, y, self.problem.tolerance) for box in ranges)
        ]
        if self.symmetry != "none":
            image = self.problem.reflect(self.points)[self.problem.mirror]
            off = np.hypot(*(image - self.points).T)
            faults += [
                f'"{self.tree.flaps[k]}" is {off[k]:.3g} off the mirror image of its twin'
                for k in np.flatnonzero(off > ON_EDGE * self.sheet.diagonal)
            ]
        if self.bound is not None and exact_scale(self) > self.bound.scale * (1 + BOUND_ROOM):
            faults.append(f"scale {self.scale} is above the bound {self.bound.scale}")
        return faults

    def _repr_svg_(self) -> str | None:
        return svg_of(self)


def scale_of(
    points: ArrayLike, distances: ArrayLike, margins: ArrayLike | None = None
) -> float:
    """Return the largest scale that points allow: the least |p_i - p_j| / d_ij.

    Parameters
    ----------
    points
        (n, 2) tips.
    distances
        (n, n) tree distances.
    margins
        (k, 2) pairs of (distance to the nearest edge, length) of tips that must keep their
        disc on the sheet, if any.
    """
    p, d = np.asarray(points, float), np.asarray(distances, float)
    i, j = np.triu_indices(len(p), 1)
    ratios = np.hypot(*(p[i] - p[j]).T) / d[i, j]
    least = float(ratios.min())
    if margins is not None and len(rows := np.asarray(margins, float).reshape(-1, 2)):
        least = min(least, float((rows[:, 0] / rows[:, 1]).min()))
    return least


def kind_of(sheet: Sheet, point: Point) -> Kind:
    """Return whether a tip lies in a corner, on an edge or in the middle of a sheet."""
    tolerance = ON_EDGE * min(sheet.width, sheet.height)
    upright = min(point[0], sheet.width - point[0]) <= tolerance
    level = min(point[1], sheet.height - point[1]) <= tolerance
    if upright and level:
        return "corner"
    return "edge" if upright or level else "middle"


def _margins(packing: Packing) -> list[tuple[float, float]]:
    """Distance to the edge and length of each tip that must keep its disc on the sheet."""
    w, h = packing.sheet.width, packing.sheet.height
    return [
        (min(x, y, w - x, h - y), length)
        for tip, ((x, y), length) in enumerate(zip(packing.tips, packing.lengths, strict=False))
        if packing.problem.keeps_disc(tip, (x, y))
    ]


def _read_only(rows: ArrayLike) -> NDArray[np.float64]:
    array = np.array(rows, dtype=float)
    array.setflags(write=False)
    return array
