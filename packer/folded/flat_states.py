"""Flat states on the way to a base: some polygons folded, some folded in half, the others open."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.creases.plane_graph import joined, loop_areas
from packer.folded.form import FoldedForm, folded_edges, gaps_of, lay_down, root_of, shadow
from packer.folded.halving import halved_pattern
from packer.folded.regions import polygons_of, regions, sides

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern
    from packer.folded.halving import HalvedPattern
    from packer.folded.regions import Regions, Side

Branch = tuple[int, int]
"""A branch of the tree: the node it hangs on and its first edge."""

UP: Final = -1
"""In place of an edge: the branch of a node that leads to the root."""

Signs = dict[Branch, int]
"""-1 for branches that are turned over about their node."""


@dataclass(frozen=True, eq=False)
class Parts:
    """A pattern and what it folds flat in: polygons, the sides between them, regions.

    Attributes
    ----------
    pattern
        A uniaxial base's creases.
    root
        The node from which all flaps of the base point away.
    polygon_of
        (f,) the polygon of each face.
    sides, regions
        Between the polygons, and what those from border to border cut the sheet into.
    halved
        The pattern with the lines along which polygons can be folded in half.
    """

    pattern: CreasePattern
    root: int
    polygon_of: NDArray[np.intp]
    sides: tuple[Side, ...]
    regions: Regions
    halved: HalvedPattern

    @classmethod
    def of(cls, pattern: CreasePattern) -> Parts:
        """Return the parts of a pattern."""
        polygon_of = polygons_of(pattern)
        between = sides(pattern, polygon_of)
        return cls(
            pattern,
            root_of(pattern),
            polygon_of,
            between,
            regions(pattern, between),
            halved_pattern(pattern, polygon_of),
        )

    def polygons_in(self, group: Iterable[int]) -> frozenset[int]:
        """Return the polygons of some regions."""
        own = np.isin(self.regions.of_face, sorted(group))
        return frozenset(np.unique(self.polygon_of[own]).tolist())


def flat_state(parts: Parts, folded: frozenset[int], halved: frozenset[int]) -> FoldedForm:
    """Return the sheet, with its halving lines, in a state on the way to the base.

    Parameters
    ----------
    parts
        Of the pattern.
    folded
        Polygons folded flat as in the base, but for joints on sides beside others.
    halved
        Polygons folded in half; what is neither lies open.

    Raises
    ------
    ValueError
        Where the sides between folded polygons and others cannot all be straight at once.
    """
    refined = parts.halved.pattern
    old = _folded_edges(parts, folded)
    edges = (parts.halved.edge_of >= 0) & old[parts.halved.edge_of]
    polygons = parts.polygon_of[parts.halved.face_of]
    for polygon in halved:
        edges[sorted(parts.halved.lines[polygon])] = True
    for side in parts.sides:
        if set(side.beside) <= folded | halved and not set(side.beside) <= folded:
            edges[np.isin(parts.halved.edge_of, side.edges)] = True
    open_faces = np.flatnonzero(~np.isin(polygons, sorted(folded | halved)))
    if len(open_faces):
        transforms = lay_down(refined, edges, refined.points)
        transforms = _laid_as(transforms, int(open_faces[0]))
    else:
        transforms = lay_down(refined, edges, shadow(refined, parts.root))
    return FoldedForm(
        parts.root,
        _positions(refined, transforms),
        transforms,
        edges,
        gaps_of(refined, transforms),
    )


def _folded_edges(parts: Parts, folded: frozenset[int]) -> NDArray[np.bool_]:
    """Return (e,) the edges of the pattern folded inside polygons that are folded flat."""
    if len(folded) == int(parts.polygon_of.max()) + 1:
        return folded_edges(parts.pattern, parts.root)
    edges = np.zeros(len(parts.pattern.edges), dtype=bool)
    for piece in pieces(parts, folded):
        signs = turned_over(parts, piece, folded)
        if signs is None:
            raise ValueError("the sides beside other polygons cannot all be straight at once")
        edges |= _folded_in(parts, piece, signs)
    return edges


def pieces(parts: Parts, folded: Iterable[int]) -> list[set[int]]:
    """Return the connected pieces that some polygons make."""
    kept = set(folded)
    links = [side.beside for side in parts.sides if set(side.beside) <= kept]
    count = int(parts.polygon_of.max()) + 1
    of = joined(count, *np.array(links, dtype=np.intp).reshape(-1, 2).T)
    groups: dict[int, set[int]] = {}
    for polygon in sorted(kept):
        groups.setdefault(int(of[polygon]), set()).add(polygon)
    return list(groups.values())


def turned_over(parts: Parts, piece: set[int], folded: Iterable[int]) -> Signs | None:
    """Return which branches are turned over so that the sides beside other polygons are straight.

    None where that cannot be: the branches at one joint would have to be two-coloured, and are
    joined in an odd ring.
    """
    below, kept = _branches(parts.pattern, parts.root), set(folded)
    links: dict[Branch, list[Branch]] = {}
    for side in parts.sides:
        a, b = side.beside
        if (a in piece) != (b in piece) and not {a, b} <= kept:
            one, other = (below[tip] for tip in side.tips)
            top = max(
                k for k, (u, v) in enumerate(zip(one, other, strict=False)) if u[0] == v[0]
            )
            opposite = [(one[top], other[top])]
            # below the top the path runs straight on from where it came
            opposite += [((n, UP), (n, edge)) for n, edge in one[top + 1 :] + other[top + 1 :]]
            for u, v in opposite:
                links.setdefault(u, []).append(v)
                links.setdefault(v, []).append(u)
    return _coloured(links)


def can_fold(parts: Parts, folded: Iterable[int]) -> bool:
    """Whether some polygons can be folded flat while all others wait."""
    kept = set(folded)
    return all(turned_over(parts, piece, kept) is not None for piece in pieces(parts, kept))


def _coloured(links: dict[Branch, list[Branch]]) -> Signs | None:
    """Give linked branches opposite signs, -1 to those towards the root; None where none fit."""
    signs: Signs = {}
    for start in sorted(links, key=lambda branch: (branch[1] != UP, branch)):
        if start in signs:
            continue
        signs[start] = -1 if start[1] == UP else 1
        todo = [start]
        for branch in todo:
            for near in links[branch]:
                if near not in signs:
                    signs[near] = -signs[branch]
                    todo.append(near)
                elif signs[near] == signs[branch]:
                    return None
    if any(sign > 0 for (_, edge), sign in signs.items() if edge == UP):
        return None
    return signs


def _branches(pattern: CreasePattern, root: int) -> list[list[Branch]]:
    """Return for each tip the (node, edge) pairs on the way to it from the root."""
    ways: dict[int, list[Branch]] = {root: []}
    todo = [root]
    for node in todo:
        for other, edge in pattern.tree.neighbours[node]:
            if other not in ways:
                ways[other] = [*ways[node], (node, edge)]
                todo.append(other)
    return [ways[tip] for tip in range(pattern.tree.n_tips)]


def _folded_in(parts: Parts, piece: set[int], signs: Signs) -> NDArray[np.bool_]:
    """Return (e,) the edges folded inside a piece whose branches are turned over by signs."""
    pattern = parts.pattern
    x = _along(pattern, parts.root, signs)
    senses = loop_areas(np.column_stack([x, pattern.heights]), pattern.faces) > 0
    own = np.isin(parts.polygon_of, sorted(piece))
    left, right = pattern.edge_faces.T
    inside = (left >= 0) & (right >= 0) & own[left] & own[right]
    hinge = np.isin(pattern.roles, ["hinge"])
    folded: NDArray[np.bool_] = inside & (~hinge | (senses[left] != senses[right]))
    return folded


def _along(pattern: CreasePattern, root: int, signs: Signs) -> NDArray[np.float64]:
    """Return (v,) where each vertex lies along the axis, with branches turned over."""
    tree = pattern.tree
    at = np.zeros(tree.n_nodes)
    way: dict[int, int] = {root: 1}
    todo = [root]
    for node in todo:
        for other, edge in tree.neighbours[node]:
            if other not in way:
                way[other] = way[node] * signs.get((node, edge), 1)
                at[other] = at[node] + way[other] * pattern.lengths[edge]
                todo.append(other)
    edges = np.array([edge for edge, _ in pattern.tree_points], dtype=np.intp)
    offsets = np.array([offset for _, offset in pattern.tree_points])
    first, second = at[tree.ends[edges]].T
    x: NDArray[np.float64] = first + np.sign(second - first) * offsets
    return x


def _laid_as(transforms: NDArray[np.float64], face: int) -> NDArray[np.float64]:
    """Return the maps of all faces, moved together so that one face lies as in the sheet."""
    turn, shift = transforms[face, :, :2], transforms[face, :, 2]
    moved: NDArray[np.float64] = np.einsum("ji,fjk->fik", turn, transforms)
    moved[:, :, 2] -= turn.T @ shift
    return moved


def _positions(pattern: CreasePattern, transforms: NDArray[np.float64]) -> NDArray[np.float64]:
    total, count = np.zeros((len(pattern.points), 2)), np.zeros(len(pattern.points))
    for transform, loop in zip(transforms, pattern.faces, strict=True):
        rows = list(loop)
        total[rows] += pattern.points[rows] @ transform[:, :2].T + transform[:, 2]
        count[rows] += 1
    return total / count[:, None]
