"""How hard a pattern is to fold, in numbers that a folder can act on."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from packer.creases.plane_graph import joined
from packer.creases.smallest_feature import smallest_feature
from packer.folded.overlaps import layers_of
from packer.units import MIRRORED, SAME_WAY

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern
    from packer.folded.form import FoldedForm
    from packer.folded.overlaps import Layers


@dataclass(frozen=True)
class Difficulty:
    """What a pattern asks of its folder.

    Attributes
    ----------
    creases
        Straight creases that are folded: edges of the pattern that run on straight through a
        vertex with the same role count as one.
    vertices
        Inner vertices at which folded creases meet.
    together
        The most of these creases that must come together at once: the largest set tied to each
        other by inner vertices. An approximation: a vertex ties all its edges, unless two of
        them run straight on and the others are mirror images of each other across them. Then
        the straight line can be folded first and each mirrored pair afterwards through both
        layers, so the vertex only ties the two halves of the line and the two of each pair.
        Where mountains and valleys are decided, the two halves must agree and the edges of a
        pair must differ, as a fold through two layers makes them. Layers that get in each
        other's way are not looked at.
    middle_flaps
        Flaps of the figure whose tip lies inside the sheet: each is made from a whole disc of
        paper. Fillers are not counted.
    feature
        The smallest feature: the smaller of the shortest edge and the narrowest gap between
        creases nearly side by side (`packer.creases.smallest_feature`), in sheet units.
    layers
        The largest number of layers at any point of the folded form, all flaps and fillers to
        one side. The estimate of `packer.planning.layer_estimate` is another number: a mean over the width
        of one joint.
    angles
        Distinct directions of folded creases, modulo 180 degrees, to a tenth of a degree.
    """

    creases: int
    vertices: int
    together: int
    middle_flaps: int
    feature: float
    layers: int
    angles: int


def difficulty(
    pattern: CreasePattern, form: FoldedForm, layers: Layers | None = None
) -> Difficulty:
    """Measure a folded pattern, of which the layers may be known already."""
    inner = ~pattern.on_border
    busy = np.zeros(len(pattern.points), dtype=bool)
    busy[pattern.edges[form.folded]] = True
    straight = _straight(pattern, form)
    own = set(pattern.tree.flaps) - set(pattern.fillers)
    return Difficulty(
        creases=_folded_apart(straight, form),
        vertices=int((inner & busy).sum()),
        together=_together(pattern, form, straight),
        middle_flaps=sum(bool(inner[pattern.tips[name]]) for name in own),
        feature=smallest_feature(pattern).size,
        layers=(layers or layers_of(pattern, form)).most,
        angles=_distinct_ways(pattern, form),
    )


def straight_creases(pattern: CreasePattern, form: FoldedForm) -> int:
    """Return how many straight creases a folded form has."""
    return _folded_apart(_straight(pattern, form), form)


def _folded_apart(straight: NDArray[np.intp], form: FoldedForm) -> int:
    return len(np.unique(straight[form.folded]))


def together(pattern: CreasePattern, form: FoldedForm) -> int:
    """Return how many straight creases of a folded form come together at once, at most.

    See `Difficulty.together`; of `form` only ``folded`` is asked, so that the creases of one stage
    of a collapse can be counted alone.
    """
    return _together(pattern, form, _straight(pattern, form))


def _ways_from(
    pattern: CreasePattern, vertex: int, edges: Sequence[int]
) -> NDArray[np.float64]:
    """Return the directions of edges away from a vertex, in radians."""
    ends = pattern.edges[list(edges)]
    other = np.where(ends[:, 0] == vertex, ends[:, 1], ends[:, 0])
    ways = pattern.points[other] - pattern.points[vertex]
    directions: NDArray[np.float64] = np.arctan2(ways[:, 1], ways[:, 0])
    return directions


def _between(a: float, b: float) -> float:
    """Return the angle between two directions, in [0, pi]."""
    return float(abs((a - b + np.pi) % (2 * np.pi) - np.pi))


def _folded_at(pattern: CreasePattern, form: FoldedForm, vertex: int) -> list[int]:
    return [k for k in pattern.edges_at[vertex] if form.folded[k]]


def _straight(pattern: CreasePattern, form: FoldedForm) -> NDArray[np.intp]:
    """Return for each edge the number of the straight crease that it is a piece of."""
    ties = []
    for vertex in np.flatnonzero(~pattern.on_border).tolist():
        edges = _folded_at(pattern, form, vertex)
        ways = _ways_from(pattern, vertex, edges)
        ties += [
            (edges[i], edges[j])
            for i in range(len(edges))
            for j in range(i)
            if pattern.roles[edges[i]] == pattern.roles[edges[j]]
            and _between(ways[i], ways[j] + np.pi) < MIRRORED
        ]
    return _sets(pattern, ties)


def _together(pattern: CreasePattern, form: FoldedForm, straight: NDArray[np.intp]) -> int:
    ties = []
    for vertex in np.flatnonzero(~pattern.on_border).tolist():
        edges = _folded_at(pattern, form, vertex)
        for tied in _steps(pattern, vertex, edges) or [edges]:
            ties += list(pairwise(tied))
    tied_to: dict[int, set[int]] = {}
    sets = _sets(pattern, ties)
    for edge in np.flatnonzero(form.folded).tolist():
        tied_to.setdefault(int(sets[edge]), set()).add(int(straight[edge]))
    return max(map(len, tied_to.values()), default=0)


def _sets(pattern: CreasePattern, ties: list[tuple[int, int]]) -> NDArray[np.intp]:
    """Return for each edge the number of the set that ties put it in."""
    return joined(len(pattern.edges), *np.array(ties, dtype=np.intp).reshape(-1, 2).T)


def _steps(pattern: CreasePattern, vertex: int, edges: list[int]) -> list[list[int]] | None:
    """Return the edges of a vertex as a straight line and mirrored pairs, if they are that."""
    ways = _ways_from(pattern, vertex, edges)
    for i in range(len(edges)):
        for j in range(i):
            if _between(ways[i], ways[j] + np.pi) < MIRRORED:
                pairs = _mirrored_pairs(pattern, edges, ways, i, j)
                if pairs is not None:
                    return [[edges[i], edges[j]], *pairs]
    return None


def _mirrored_pairs(
    pattern: CreasePattern, edges: list[int], ways: NDArray[np.float64], i: int, j: int
) -> list[list[int]] | None:
    folds = pattern.folds
    decided = "U" not in {folds[k] for k in edges}
    if decided and folds[edges[i]] != folds[edges[j]]:
        return None
    left = [k for k in range(len(edges)) if k not in (i, j)]
    pairs = []
    while left:
        k = left.pop()
        image = 2 * ways[i] - ways[k]
        near = [m for m in left if _between(ways[m], image) < MIRRORED]
        if not near or (decided and folds[edges[k]] == folds[edges[near[0]]]):
            return None
        left.remove(near[0])
        pairs.append([edges[k], edges[near[0]]])
    return pairs


def _distinct_ways(pattern: CreasePattern, form: FoldedForm) -> int:
    ends = pattern.points[pattern.edges[form.folded]]
    if not len(ends):
        return 0
    ways = ends[:, 1] - ends[:, 0]
    angles = np.sort(np.arctan2(ways[:, 1], ways[:, 0]) % np.pi)
    gaps = np.diff(angles, append=angles[0] + np.pi)
    return max(1, int((gaps > SAME_WAY).sum()))
