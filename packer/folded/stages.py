"""The collapse in stages: which parts of a pattern fold flat while the rest lies open.

An axial crease that joins two tips on the border runs straight through the sheet and cuts it into
two regions. One of them can be folded flat along it while the other still lies open, if the tree's
path between the two tips is laid out straight: a joint on it folds later. Crosswise cuts do not
exist, since active paths do not cross; so the regions hang together as a tree, and the collapse
goes from its leaves inwards. What no such crease cuts comes together at once: at a tip inside the
sheet a flat wedge of open paper beside folded corners breaks Kawasaki's theorem.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from packer.creases.plane_graph import joined, loop_areas
from packer.folded.difficulty import together
from packer.folded.form import FoldedForm, fold, gaps_of, lay_down, root_of
from packer.units import SAME_PLACE, STRAIGHT

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern

Branch = tuple[int, int]
"""A branch of the tree: the node it hangs on and its first edge."""

Signs = dict[Branch, int]
"""-1 for branches that are turned over about their node."""


@dataclass(frozen=True, eq=False)
class Cut:
    """An axial crease from one tip on the border to another.

    Attributes
    ----------
    tips
        The flaps of the two tips, by index.
    edges
        Edges of the pattern along it.
    """

    tips: tuple[int, int]
    edges: tuple[int, ...]


@dataclass(frozen=True, eq=False)
class Regions:
    """The pieces into which cuts divide a sheet, joined as a tree.

    Attributes
    ----------
    of_face
        (f,) the region of each face.
    cuts
        The cuts.
    beside
        (cuts, 2) the regions on the two sides of each cut.
    """

    of_face: NDArray[np.intp]
    cuts: tuple[Cut, ...]
    beside: NDArray[np.intp]

    @property
    def count(self) -> int:
        """How many regions there are."""
        return len(self.cuts) + 1


@dataclass(frozen=True, eq=False)
class Stage:
    """One stage of a collapse.

    Attributes
    ----------
    regions
        The regions that come together in it.
    polygons
        How many polygons of active paths they hold.
    moving
        (e,) whether an edge is folded, or folded back open, in this stage.
    form
        The sheet at the end of the stage, folded flat; what is open lies as the sheet lay.
    still_open
        (f,) whether a face lies open at its end.
    together
        How many straight creases come at once, as `packer.folded.difficulty` counts.
    """

    regions: tuple[int, ...]
    polygons: int
    moving: NDArray[np.bool_]
    form: FoldedForm
    still_open: NDArray[np.bool_]
    together: int


def stages(pattern: CreasePattern) -> tuple[Stage, ...]:
    """Return the stages in which a pattern collapses, from the outermost regions inwards.

    Regions that are mirror images of each other are separate stages. The last stage ends in the
    base; a pattern without cuts has one stage. Only shapes are judged here: see
    `packer.folded.checks` and `packer.folded.layers` for what a stage's flat state must pass.

    Parameters
    ----------
    pattern
        A uniaxial base's creases.
    """
    parts = regions(pattern)
    root = root_of(pattern)
    polygons = polygons_of(pattern)
    before = np.zeros(len(pattern.edges), dtype=bool)
    folded: frozenset[int] = frozenset()
    made = []
    for group in _order(pattern, parts, root):
        folded = folded | group
        form = flat_state(pattern, parts, folded, root)
        moving = form.folded != before
        before = form.folded
        within = np.isin(parts.of_face, sorted(group))
        made.append(
            Stage(
                tuple(sorted(group)),
                len(np.unique(polygons[within])),
                moving,
                form,
                ~np.isin(parts.of_face, sorted(folded)),
                together(pattern, replace(form, folded=moving)),
            )
        )
    return tuple(made)


def polygons_of(pattern: CreasePattern) -> NDArray[np.intp]:
    """Return (f,) the polygon of active paths that each face lies in."""
    left, right = pattern.edge_faces.T
    across = (left >= 0) & (right >= 0) & ~_on_axis(pattern)
    return joined(len(pattern.faces), left[across], right[across])


def regions(pattern: CreasePattern) -> Regions:
    """Return the regions of a pattern and the cuts between them."""
    cuts = tuple(_cuts(pattern))
    cut_edges = np.zeros(len(pattern.edges), dtype=bool)
    for cut in cuts:
        cut_edges[list(cut.edges)] = True
    left, right = pattern.edge_faces.T
    across = (left >= 0) & (right >= 0) & ~cut_edges
    of_face = joined(len(pattern.faces), left[across], right[across])
    beside = np.array([of_face[pattern.edge_faces[cut.edges[0]]] for cut in cuts])
    return Regions(of_face, cuts, beside.reshape(-1, 2))


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
    for piece in _components(parts, kept):
        signs = _signs(pattern, parts, piece, kept, root)
        if signs is None:
            raise ValueError("the cuts to open paper cannot all be straight at once")
        edges |= _folded_in(pattern, parts, piece, root, signs)
    transforms = lay_down(pattern, edges, pattern.points)
    still = ~np.isin(parts.of_face, sorted(kept))
    transforms = _laid_as(transforms, int(np.flatnonzero(still)[0]))
    return FoldedForm(
        root, _positions(pattern, transforms), transforms, edges, gaps_of(pattern, transforms)
    )


def _on_axis(pattern: CreasePattern) -> NDArray[np.bool_]:
    """Return (e,) whether an edge lies on the axis: axial, border, or a gusset at height 0."""
    room = SAME_PLACE * pattern.sheet.diagonal
    low = (pattern.heights[pattern.edges] < room).all(axis=1)
    flat: NDArray[np.bool_] = low & np.isin(pattern.roles, ["border", "axial", "gusset"])
    return flat


def _cuts(pattern: CreasePattern) -> list[Cut]:
    """Return the inner straight creases on the axis from one border tip to another."""
    tip_at = {vertex: k for k, vertex in enumerate(pattern.tips[n] for n in pattern.tree.flaps)}
    inner = _on_axis(pattern) & (np.array(pattern.roles) != "border")
    made = []
    for vertex, tip in tip_at.items():
        if not pattern.on_border[vertex]:
            continue
        for edge in pattern.edges_at[vertex]:
            if inner[edge]:
                run, end = _run(pattern, inner, tip_at, vertex, edge)
                other = tip_at.get(end)
                if other is not None and pattern.on_border[end] and tip < other:
                    made.append(Cut((tip, other), tuple(run)))
    return made


def _run(
    pattern: CreasePattern,
    inner: NDArray[np.bool_],
    tip_at: dict[int, int],
    start: int,
    edge: int,
) -> tuple[list[int], int]:
    """Follow a crease straight on from a vertex to the next tip, or to where it ends."""
    run = [edge]
    while True:
        a, b = pattern.edges[run[-1]].tolist()
        here = b if a == start else a
        if here in tip_at:
            return run, here
        way = pattern.points[here] - pattern.points[start]
        for k in pattern.edges_at[here]:
            c, d = pattern.edges[k].tolist()
            onward = pattern.points[d if c == here else c] - pattern.points[here]
            turn = abs(way[0] * onward[1] - way[1] * onward[0])
            size = np.hypot(*way) * np.hypot(*onward)
            if inner[k] and turn < STRAIGHT * size and way @ onward > 0:
                run.append(k)
                start = here
                break
        else:
            return run, here


def _order(pattern: CreasePattern, parts: Regions, root: int) -> list[frozenset[int]]:
    """Return the regions in groups, from the leaves of their tree to the one that comes last.

    The last is the one with the most faces. A region waits where it cannot be folded while the
    others lie open; what must wait to the end comes with the last.
    """
    sizes = np.bincount(parts.of_face, minlength=parts.count)
    last = int(sizes.argmax())
    depth = _depths(parts, last)
    waiting = sorted(set(range(parts.count)) - {last}, key=lambda r: (-depth[r], sizes[r], r))
    order: list[frozenset[int]] = []
    folded: set[int] = set()
    while waiting:
        for region in waiting:
            tried = folded | {region}
            pieces = _components(parts, tried)
            inside = all(_beyond(parts, n, depth) <= tried for n in tried)
            if inside and all(
                _signs(pattern, parts, p, tried, root) is not None for p in pieces
            ):
                order.append(frozenset({region}))
                folded = tried
                waiting.remove(region)
                break
        else:
            break
    order.append(frozenset(waiting) | {last})
    return order


def _beyond(parts: Regions, region: int, depth: Sequence[int]) -> set[int]:
    """Return the regions that hang on a region, away from the last."""
    return {
        int(b if a == region else a)
        for a, b in parts.beside.tolist()
        if region in (a, b) and depth[b if a == region else a] > depth[region]
    }


def _depths(parts: Regions, start: int) -> list[int]:
    depth = [-1] * parts.count
    depth[start] = 0
    todo = [start]
    for region in todo:
        for a, b in parts.beside.tolist():
            other = b if a == region else a if b == region else region
            if depth[other] < 0:
                depth[other] = depth[region] + 1
                todo.append(other)
    return depth


def _components(parts: Regions, kept: set[int]) -> list[set[int]]:
    """Return the connected pieces of some regions."""
    links = [(a, b) for a, b in parts.beside.tolist() if a in kept and b in kept]
    of = joined(parts.count, *np.array(links, dtype=np.intp).reshape(-1, 2).T)
    groups: dict[int, set[int]] = {}
    for region in sorted(kept):
        groups.setdefault(int(of[region]), set()).add(region)
    return list(groups.values())


def _signs(
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
    edges = np.array([edge for edge, _ in pattern.places], dtype=np.intp)
    offsets = np.array([offset for _, offset in pattern.places])
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
