"""Polygons folded in half: the ridge from an inner tip, run on straight to the sheet's edge.

At a tip inside the sheet Kawasaki's theorem asks for a crease in the middle of every corner there,
and for nothing more. So a polygon whose ridges from its inner tips reach the sheet's edge without
meeting a side of it or each other folds flat along them alone, and can wait so for its other
creases: as the sides of a preliminary base wait for the petal folds.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from packer.units import SAME_POINT, STRAIGHT

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern, Fold

    Place = tuple[int, float]
    """An edge and how far along it, as a share of its length."""
    Node = int | Place
    """A vertex, or a place on an edge."""


@dataclass(frozen=True, eq=False)
class HalvedPattern:
    """A pattern with the lines along which its polygons can be folded in half.

    Attributes
    ----------
    pattern
        The creases, cut where such lines cross them, and the lines themselves as flat ridges. The
        vertices of the pattern given come first, then new ones.
    edge_of, face_of
        (e,) and (f,) the edge and face of the pattern given; -1 for an edge that is new.
    lines
        For each polygon that can be folded in half the edges that it is folded along.
    """

    pattern: CreasePattern
    edge_of: NDArray[np.intp]
    face_of: NDArray[np.intp]
    lines: Mapping[int, frozenset[int]]


def halved_pattern(pattern: CreasePattern, polygon_of: NDArray[np.intp]) -> HalvedPattern:
    """Return a pattern with the lines along which its polygons can be folded in half.

    Parameters
    ----------
    pattern
        The creases of a uniaxial base.
    polygon_of
        (f,) the polygon of each face.
    """
    walks = dict(_halvable(pattern, polygon_of))
    places = sorted(
        {n for ways in walks.values() for way in ways for n in way if isinstance(n, tuple)}
    )
    start = len(pattern.points)
    number: dict[Node, int] = {place: start + k for k, place in enumerate(places)}
    number |= {k: k for k in range(start)}
    pairs = {
        polygon: [(number[a], number[b]) for way in ways for a, b in pairwise(way)]
        for polygon, ways in walks.items()
    }
    return _cut(pattern, places, pairs)


def _halvable(
    pattern: CreasePattern, polygon_of: NDArray[np.intp]
) -> Iterator[tuple[int, list[list[Node]]]]:
    """Yield polygons with the ways from their inner tips to the border."""
    tips = set(pattern.tips.values())
    for polygon in range(int(polygon_of.max()) + 1):
        inner = _inner_tips(pattern, polygon_of, polygon, tips)
        ways = [_way(pattern, polygon_of, polygon, tip) for tip in inner]
        if not ways or any(way is None for way in ways):
            continue
        whole = [way for way in ways if way is not None]
        places_of = [_spots(pattern, way[1:]) for way in whole]
        if not any(_cross(a, b) for k, a in enumerate(places_of) for b in places_of[:k]):
            yield polygon, whole


def _inner_tips(
    pattern: CreasePattern, polygon_of: NDArray[np.intp], polygon: int, tips: set[int]
) -> list[int]:
    corners = {
        v for f in np.flatnonzero(polygon_of == polygon).tolist() for v in pattern.faces[f]
    }
    return sorted(v for v in corners & tips if not pattern.on_border[v])


def _way(
    pattern: CreasePattern, polygon_of: NDArray[np.intp], polygon: int, tip: int
) -> list[Node] | None:
    """Return the way from a tip along its ridge straight on to the border, None where it ends before."""
    ridges = [
        k
        for k in pattern.edges_at[tip]
        if pattern.roles[k] == "ridge" and (polygon_of[pattern.edge_faces[k]] == polygon).all()
    ]
    if len(ridges) != 1:
        return None
    end = _other(pattern, ridges[0], tip)
    way = pattern.points[end] - pattern.points[tip]
    walk: list[Node] = [tip, end]
    face = -1
    while len(walk) < len(pattern.edges):
        node = walk[-1]
        if isinstance(node, int):
            if pattern.on_border[node]:
                return walk
            if _low(pattern, node):
                return None
            step = _from_vertex(pattern, node, way)
        else:
            edge = node[0]
            if pattern.roles[edge] == "border":
                return walk
            if _low(pattern, *pattern.edges[edge].tolist()):
                return None
            left, right = pattern.edge_faces[edge].tolist()
            face = right if face == left else left
            step = _through(pattern, face, _spot(pattern, node), way, {edge})
        if step is None:
            return None
        face, onward = step
        walk.append(onward)
    return None


def _low(pattern: CreasePattern, *vertices: int) -> bool:
    """Whether vertices lie on the axis."""
    tolerance = SAME_POINT * pattern.sheet.diagonal
    return bool((pattern.heights[list(vertices)] <= tolerance).all())


def _from_vertex(
    pattern: CreasePattern, vertex: int, way: NDArray[np.float64]
) -> tuple[int, Node] | None:
    """Return the next face and node straight on from a vertex; along an edge the face is -1."""
    here = pattern.points[vertex]
    for k in pattern.edges_at[vertex]:
        other = _other(pattern, k, vertex)
        out = pattern.points[other] - here
        turn = abs(way[0] * out[1] - way[1] * out[0])
        if turn < STRAIGHT * np.hypot(*way) * np.hypot(*out) and way @ out > 0:
            return -1, other
    around = set(pattern.edges_at[vertex])
    faces = {int(f) for k in around for f in pattern.edge_faces[k] if f >= 0}
    for face in sorted(faces):
        step = _through(pattern, face, here, way, around)
        if step is not None:
            return step
    return None


def _through(
    pattern: CreasePattern,
    face: int,
    here: NDArray[np.float64],
    way: NDArray[np.float64],
    behind: set[int],
) -> tuple[int, Node] | None:
    """Return a face and where a ray leaves it; None where it does not run into it."""
    loop = pattern.faces[face]
    own = {frozenset(pair) for pair in zip(loop, (*loop[1:], loop[0]), strict=True)}
    tolerance = SAME_POINT * pattern.sheet.diagonal
    for k in sorted({k for v in loop for k in pattern.edges_at[v]} - behind):
        a, b = pattern.edges[k].tolist()
        if frozenset((a, b)) not in own:
            continue
        p, q = pattern.points[a], pattern.points[b]
        along = q - p
        turn = way[0] * along[1] - way[1] * along[0]
        if abs(turn) < STRAIGHT * np.hypot(*way) * np.hypot(*along):
            continue
        gap = p - here
        far = (gap[0] * along[1] - gap[1] * along[0]) / turn
        share = (gap[0] * way[1] - gap[1] * way[0]) / turn
        slack = tolerance / np.hypot(*along)
        if far <= 0 or not -slack <= share <= 1 + slack:
            continue
        if share <= slack:
            return face, a
        return (face, b) if share >= 1 - slack else (face, (k, float(share)))
    return None


def _other(pattern: CreasePattern, edge: int, vertex: int) -> int:
    a, b = pattern.edges[edge].tolist()
    return int(b if a == vertex else a)


def _spot(pattern: CreasePattern, node: Node) -> NDArray[np.float64]:
    if isinstance(node, int):
        spot: NDArray[np.float64] = pattern.points[node]
        return spot
    a, b = pattern.points[pattern.edges[node[0]]]
    between: NDArray[np.float64] = a + node[1] * (b - a)
    return between


def _spots(pattern: CreasePattern, nodes: Sequence[Node]) -> NDArray[np.float64]:
    return np.array([_spot(pattern, node) for node in nodes])


def _cross(one: NDArray[np.float64], other: NDArray[np.float64]) -> bool:
    """Whether two straight ways cross or meet."""
    a, b, c, d = one[0], one[-1], other[0], other[-1]

    def side(p: NDArray[np.float64], q: NDArray[np.float64], r: NDArray[np.float64]) -> float:
        return float((q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0]))

    return side(a, b, c) * side(a, b, d) <= 0 and side(c, d, a) * side(c, d, b) <= 0


# --- the pattern cut along those lines


def _cut(
    pattern: CreasePattern,
    places: Sequence[Place],
    pairs: Mapping[int, Sequence[tuple[int, int]]],
) -> HalvedPattern:
    start = len(pattern.points)
    on: dict[int, list[int]] = {}
    for k, (edge, _) in enumerate(places):
        on.setdefault(edge, []).append(start + k)
    edges, edge_of = _cut_edges(pattern, on)
    known = {frozenset(pair) for pair in edges}
    loops, face_of = _cut_loops(pattern, on)
    for pair in (pair for rows in pairs.values() for pair in rows):
        if frozenset(pair) not in known:
            known.add(frozenset(pair))
            edges.append(pair)
            edge_of.append(-1)
            _split(loops, face_of, *pair)
    number = {frozenset(pair): k for k, pair in enumerate(edges)}
    places_of = [_spot(pattern, place) for place in places]
    folds = pattern.folds
    flat: Fold = "F" if pattern.decided else "U"
    refined = replace(
        pattern,
        points=np.concatenate([pattern.points, np.reshape(places_of, (-1, 2))]),
        edges=np.array(edges, dtype=np.intp),
        roles=tuple("ridge" if k < 0 else pattern.roles[k] for k in edge_of),
        folds=tuple(flat if k < 0 else folds[k] for k in edge_of),
        faces=tuple(loops),
        heights=np.append(pattern.heights, [_height(pattern, place) for place in places]),
        tree_points=(*pattern.tree_points, *(_tree_point(pattern, p) for p in places)),
    )
    lines = {
        k: frozenset(number[frozenset(pair)] for pair in rows) for k, rows in pairs.items()
    }
    return HalvedPattern(refined, np.array(edge_of), np.array(face_of), lines)


def _cut_edges(
    pattern: CreasePattern, on: Mapping[int, Sequence[int]]
) -> tuple[list[tuple[int, int]], list[int]]:
    """Return the pieces of all edges, and the edge that each is a piece of."""
    edges, edge_of = [], []
    for k, (a, b) in enumerate(pattern.edges.tolist()):
        for pair in pairwise([a, *on.get(k, ()), b]):
            edges.append(pair)
            edge_of.append(k)
    return edges, edge_of


def _cut_loops(
    pattern: CreasePattern, on: Mapping[int, Sequence[int]]
) -> tuple[list[tuple[int, ...]], list[int]]:
    """Return the loops of the faces with the new vertices on their sides."""
    between: dict[tuple[int, int], Sequence[int]] = {}
    for k, new in on.items():
        a, b = pattern.edges[k].tolist()
        between[a, b], between[b, a] = new, new[::-1]
    loops = []
    for loop in pattern.faces:
        row: list[int] = []
        for a, b in zip(loop, (*loop[1:], loop[0]), strict=True):
            row += [a, *between.get((a, b), ())]
        loops.append(tuple(row))
    return loops, list(range(len(loops)))


def _split(loops: list[tuple[int, ...]], face_of: list[int], a: int, b: int) -> None:
    """Cut the face that has two vertices on its loop in two, between them."""
    face = next(k for k, loop in enumerate(loops) if a in loop and b in loop)
    loop = loops[face]
    i, j = sorted((loop.index(a), loop.index(b)))
    loops[face] = loop[i : j + 1]
    loops.append(loop[j:] + loop[: i + 1])
    face_of.append(face_of[face])


def _height(pattern: CreasePattern, place: Place) -> float:
    a, b = pattern.heights[pattern.edges[place[0]]].tolist()
    return float(a + place[1] * (b - a))


def _tree_point(pattern: CreasePattern, place: Place) -> tuple[int, float]:
    """Return where a place on an edge lies over the tree: between the places of its ends."""
    ends = [_over(pattern, v) for v in pattern.edges[place[0]].tolist()]
    part = next(k for k in ends[0] if k in ends[1])
    a, b = ends[0][part], ends[1][part]
    return part, a + place[1] * (b - a)


def _over(pattern: CreasePattern, vertex: int) -> dict[int, float]:
    """Return the parts of the tree over which a vertex lies, several at a joint, and where on each."""
    edge, offset = pattern.tree_points[vertex]
    tolerance = SAME_POINT * pattern.sheet.diagonal
    places = {edge: offset}
    for end, far in zip(
        pattern.tree.ends[edge].tolist(), (0.0, pattern.lengths[edge]), strict=True
    ):
        if abs(offset - far) <= tolerance:
            for _, other in pattern.tree.neighbours[end]:
                first = int(pattern.tree.ends[other][0]) == end
                places[other] = 0.0 if first else float(pattern.lengths[other])
    return places
