"""Find the mirror line of a drawn tree, and which of its parts are near-mirror twins.

Hand-drawn halves are never alike. Ends count as mirrored when they are off by no more than a
share of the figure's size, and twins' lengths when they differ by no more than twice that share
of themselves; how far they really are apart is reported.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.spatial import cKDTree

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from packer.sketch.faults import Part
    from packer.sketch.joints import Net

    Points = NDArray[np.float64]

TWINS: Final = 0.06
"""How far twins may stray from mirror images, as a share of the figure's diagonal."""

ALONE: Final = 0.25
"""Share of tips without a twin, off the axis, above which a figure is not called mirrored."""

_TRIES: Final = 24
"""Mirror lines looked at closely, of all that halve some pair of tips; a quarter of it where there are
many tips, as each takes half a second then."""

_MANY: Final = 100
"""Tips beyond which mirror lines are those that halve a pair with one of `_FIRST` tips, and are judged
by so many tips: a line that mirrors the figure halves a pair with each of them."""

_FIRST: Final = 12
"""Tips that are paired with all others, where there are many."""

Branch = tuple[int, int]
"""A part and its far node, seen from a joint."""

Table = list[list[float]]
"""Distance of each node's mirror image from each node, in pixels."""


@dataclass(frozen=True)
class Axis:
    """A mirror line: a point on it and its unit normal, in pixels."""

    at: tuple[float, float]
    normal: tuple[float, float]

    def mirrored(self, points: Points) -> Points:
        """Return (..., 2) points mirrored in the line."""
        normal = np.array(self.normal)
        away = (points - np.array(self.at)) @ normal
        image: Points = points - 2 * away[..., None] * normal
        return image


@dataclass
class Mirror:
    """How a drawn tree is mirrored.

    Attributes
    ----------
    axis
        The mirror line.
    twins
        Pairs of parts; the first of each is on the side that is written out.
    on_axis
        Parts that lie along the mirror line.
    alone
        Parts that do neither.
    joints
        Nodes on the mirror line.
    across
        A river that the mirror line cuts in two, if there is one.
    apart, uneven
        Largest distance of an end from its twin's mirror image, as a share of the figure's
        diagonal; largest difference in length, as a share of the longer twin.
    """

    axis: Axis
    twins: list[tuple[int, int]] = field(default_factory=list)
    on_axis: list[int] = field(default_factory=list)
    alone: list[int] = field(default_factory=list)
    joints: set[int] = field(default_factory=set)
    across: int | None = None
    apart: float = 0.0
    uneven: float = 0.0


def find_mirror(net: Net, twins: float = TWINS) -> Mirror | None:
    """Return the best mirror line of a drawn tree; None where it has none.

    Parameters
    ----------
    net
        A tree: a net without faults.
    twins
        The tolerance, as a share of the figure's diagonal; 0 finds nothing.
    """
    if not twins > 0:
        return None
    tree = _Tree(net, twins)
    best: Mirror | None = None
    for first in _axes(tree):
        axis = first
        for _ in range(3):  # a line through one pair is shaky; one fitted to all pairs is not
            mirror = tree.mirror(axis)
            if mirror is None or not mirror.twins:
                break
            if best is None or _better(mirror, best):
                best = mirror
            axis = tree.fitted(mirror)
    if best is None or tree.tips_of(best.alone) > ALONE * len(tree.tips):
        return None
    return best


def _better(a: Mirror, b: Mirror) -> bool:
    return (len(a.twins), -len(a.alone), -a.apart) > (len(b.twins), -len(b.alone), -b.apart)


def _axes(tree: _Tree) -> list[Axis]:
    """Return bisectors of pairs of tips, those that mirror the most tips onto tips first."""
    tips = tree.places[tree.tips]
    many = len(tips) > _MANY
    nearest = cKDTree(tips)
    judges = tips[_spread(len(tips), _MANY)]
    firsts = _spread(len(tips), _FIRST) if many else range(len(tips))
    scored: list[tuple[int, float, Axis]] = []
    pairs = [(a, b) for a in firsts for b in range(0 if many else a + 1, len(tips))]
    for i, j in pairs:
        step = tips[j] - tips[i]
        far = float(np.hypot(*step))
        if far <= tree.near:
            continue
        middle = (tips[i] + tips[j]) / 2
        axis = Axis((middle[0], middle[1]), (step[0] / far, step[1] / far))
        image = axis.mirrored(judges)
        off = nearest.query(image)[0]
        scored.append(
            (-int((off <= tree.near).sum()), float(np.minimum(off, tree.near).sum()), axis)
        )
    scored.sort(key=lambda row: row[:2])
    return [axis for _, _, axis in scored[: _TRIES // 4 if many else _TRIES]]


def _spread(count: int, most: int) -> list[int]:
    """Return at most so many of the numbers below a count, evenly spread."""
    numbers = np.linspace(0, count - 1, min(count, most)).round()
    return [int(number) for number in np.unique(numbers)]


class _Tree:
    """The drawn tree as nodes and branches."""

    def __init__(self, net: Net, twins: float) -> None:
        self.places = net.places
        self.parts: Sequence[Part] = net.parts
        self.size = float(np.hypot(*np.ptp(net.places, axis=0)))
        self.near = twins * self.size
        self.even = 2 * twins
        self.at: dict[int, list[Branch]] = defaultdict(list)
        for k, part in enumerate(net.parts):
            a, b = part.ends
            self.at[a].append((k, b))
            self.at[b].append((k, a))
        self.tips = [node for node in range(len(self.places)) if len(self.at[node]) == 1]
        self.joints = [node for node in range(len(self.places)) if len(self.at[node]) > 1]

    def tips_of(self, parts: Iterable[int]) -> int:
        ends = [end for part in parts for end in self.parts[part].ends]
        return sum(len(self.at[end]) == 1 for end in ends)

    def mirror(self, axis: Axis) -> Mirror | None:
        """Match the tree with its own mirror image, from every joint on the line."""
        image = axis.mirrored(self.places)
        away = np.hypot(*(image[:, None] - self.places[None]).transpose(2, 0, 1)).tolist()
        best: Mirror | None = None
        for root in self.joints:
            if away[root][root] <= self.near:
                mirror = Mirror(axis, apart=away[root][root] / self.size)
                self._spine(mirror, away, root, -1)
                if best is None or _better(mirror, best):
                    best = mirror
        for k, part in enumerate(self.parts):
            a, b = part.ends
            if a in self.tips or b in self.tips:
                continue
            pairs = self._mirrored(away, (k, a), (k, b))
            if pairs is not None:
                mirror = Mirror(axis, across=k)
                self._note(mirror, away, pairs[1:])
                if best is None or _better(mirror, best):
                    best = mirror
        return best

    def _spine(self, mirror: Mirror, away: Table, node: int, came: int) -> None:
        """Match the branches at a joint on the line; what is left lies on it or stands alone."""
        mirror.joints.add(node)
        branches = [branch for branch in self.at[node] if branch[0] != came]
        pairs, left = self._matched(away, branches)
        self._note(mirror, away, pairs)
        for part, far in left:
            off = away[far][far]
            if off <= self.near:
                mirror.on_axis.append(part)
                mirror.apart = max(mirror.apart, off / self.size)
                self._spine(mirror, away, far, part)
            else:
                mirror.alone += self._below((part, far))

    def _matched(
        self, away: Table, branches: list[Branch], others: list[Branch] | None = None
    ) -> tuple[list[tuple[Branch, Branch]], list[Branch]]:
        """Pair branches with each other, or with `others`, the best mirrored first."""
        within = others is None
        options = []
        for i, a in enumerate(branches):
            for j, b in enumerate(branches if others is None else others):
                if not within or i < j:
                    pairs = self._mirrored(away, a, b)
                    if pairs is not None:
                        worst = max(away[x[1]][y[1]] for x, y in pairs)
                        options.append((worst, i, j, pairs))
        taken: set[tuple[bool, int]] = set()
        matches: list[tuple[Branch, Branch]] = []
        for _, i, j, pairs in sorted(options, key=lambda row: row[:3]):
            keys = {(False, i), (not within, j)}
            if not keys & taken:
                taken |= keys
                matches += pairs
        return matches, [b for k, b in enumerate(branches) if (False, k) not in taken]

    def _mirrored(
        self, away: Table, a: Branch, b: Branch
    ) -> list[tuple[Branch, Branch]] | None:
        """Return the pairs of all parts of two branches that mirror each other, else None."""
        la, lb = (self.parts[branch[0]].length for branch in (a, b))
        if away[a[1]][b[1]] > self.near or abs(la - lb) > self.even * max(la, lb):
            return None
        ours, theirs = ([c for c in self.at[x[1]] if c[0] != x[0]] for x in (a, b))
        if len(ours) != len(theirs):
            return None
        pairs, left = self._matched(away, ours, theirs)
        return None if left else [(a, b), *pairs]

    def _note(self, mirror: Mirror, away: Table, pairs: list[tuple[Branch, Branch]]) -> None:
        for a, b in pairs:
            la, lb = (self.parts[branch[0]].length for branch in (a, b))
            mirror.apart = max(mirror.apart, away[a[1]][b[1]] / self.size)
            mirror.uneven = max(mirror.uneven, abs(la - lb) / max(la, lb))
            mirror.twins.append((a[0], b[0]))

    def _below(self, branch: Branch) -> list[int]:
        tips_below, todo = [], [branch]
        while todo:
            part, node = todo.pop()
            tips_below.append(part)
            todo += [below for below in self.at[node] if below[0] != part]
        return tips_below

    def fitted(self, mirror: Mirror) -> Axis:
        """Return the line that mirrors the twins' far ends best (least squares)."""
        normal = np.array(mirror.axis.normal)
        steps, middles = [], []
        for a, b in mirror.twins:
            ends = [self.places[list(self.parts[k].ends)] for k in (a, b)]
            image = mirror.axis.mirrored(ends[0])
            if (
                np.hypot(*(image - ends[1]).T).sum()
                > np.hypot(*(image - ends[1][::-1]).T).sum()
            ):
                ends[1] = ends[1][::-1]
            step = ends[1] - ends[0]
            steps.append(step * np.sign(step @ normal)[:, None])
            middles.append((ends[0] + ends[1]) / 2)
        whole = np.concatenate(steps).sum(axis=0)
        middle = np.concatenate(middles).mean(axis=0)
        far = float(np.hypot(*whole))
        if far == 0:
            return mirror.axis
        return Axis((middle[0], middle[1]), (whole[0] / far, whole[1] / far))
