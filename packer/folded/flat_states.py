"""Flat states on the way to a base: some regions folded, the others open."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from packer.creases.plane_graph import joined, loop_areas
from packer.folded.form import FoldedForm, fold, gaps_of, lay_down

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern
    from packer.folded.regions import Regions

Branch = tuple[int, int]
"""A branch of the tree: the node it hangs on and its first edge."""

Signs = dict[Branch, int]
"""-1 for branches that are turned over about their node."""


def flat_state(
    pattern: CreasePattern, parts: Regions, folded: Iterable[int], root: int
) -> FoldedForm:
    """Return the sheet with some regions folded flat and the others open.

    With all regions folded this is the base, `packer.folded.form.fold`.

    Raises
    ------
    ValueError
        Where the cuts to open paper cannot all be straight at once.
    """
    kept = set(folded)
    if len(kept) == parts.count:
        return fold(pattern, root)
    edges = np.zeros(len(pattern.edges), dtype=bool)
    for piece in components(parts, kept):
        signs = turned_over(pattern, parts, piece, kept, root)
        if signs is None:
            raise ValueError("the cuts to open paper cannot all be straight at once")
        edges |= _folded_in(pattern, parts, piece, root, signs)
    transforms = lay_down(pattern, edges, pattern.points)
    still = ~np.isin(parts.of_face, sorted(kept))
    transforms = _laid_as(transforms, int(np.flatnonzero(still)[0]))
    return FoldedForm(
        root, _positions(pattern, transforms), transforms, edges, gaps_of(pattern, transforms)
    )


def components(parts: Regions, kept: set[int]) -> list[set[int]]:
    """Return the connected pieces of some regions."""
    links = [(a, b) for a, b in parts.beside.tolist() if a in kept and b in kept]
    of = joined(parts.count, *np.array(links, dtype=np.intp).reshape(-1, 2).T)
    groups: dict[int, set[int]] = {}
    for region in sorted(kept):
        groups.setdefault(int(of[region]), set()).add(region)
    return list(groups.values())


def turned_over(
    pattern: CreasePattern, parts: Regions, piece: set[int], kept: set[int], root: int
) -> Signs | None:
    """Return which branches are turned over so that the cuts to open paper are straight.

    None where that cannot be: the branches at one joint would have to be two-coloured, and are
    joined in an odd ring.
    """
    below = _branches(pattern, root)
    links: dict[Branch, list[Branch]] = {}
    for cut, (a, b) in zip(parts.cuts, parts.beside.tolist(), strict=True):
        if (a in piece) != (b in piece) and not {a, b} <= kept:
            one, other = (below[tip] for tip in cut.tips)
            top = max(
                k for k, (u, v) in enumerate(zip(one, other, strict=False)) if u[0] == v[0]
            )
            links.setdefault(one[top], []).append(other[top])
            links.setdefault(other[top], []).append(one[top])
    return _coloured(links)


def _coloured(links: dict[Branch, list[Branch]]) -> Signs | None:
    """Give linked branches opposite signs; None where an odd ring forbids it."""
    signs: Signs = {}
    for start in links:
        if start in signs:
            continue
        signs[start] = 1
        todo = [start]
        for branch in todo:
            for near in links[branch]:
                if near not in signs:
                    signs[near] = -signs[branch]
                    todo.append(near)
                elif signs[near] == signs[branch]:
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


def _folded_in(
    pattern: CreasePattern, parts: Regions, piece: set[int], root: int, signs: Signs
) -> NDArray[np.bool_]:
    """Return (e,) the edges folded inside a piece whose branches are turned over by signs."""
    x = _along(pattern, root, signs)
    senses = loop_areas(np.column_stack([x, pattern.heights]), pattern.faces) > 0
    own = np.isin(parts.of_face, sorted(piece))
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
