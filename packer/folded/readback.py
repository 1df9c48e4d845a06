"""The tree read back from a folded form, as one would read it off the paper.

Hinges cut the paper into pieces; each piece lies over one part of the tree and is as long as it
is wide along the axis. Hinges that run into each other, or bound one piece on the same side,
lie over one joint. Where a river is split into strands, or that gives no tree, the paper alone
does not say which joints are one: then the places that the pattern claims do; what is measured is
measured all the same.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import shortest_path

from packer.creases.plane_graph import joined
from packer.units import SAME_PLACE

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern
    from packer.folded.form import FoldedForm


@dataclass(frozen=True, eq=False)
class ReadTree:
    """What a folded form shows of its tree.

    Attributes
    ----------
    distances
        (tips, tips) along the paper's own tree, in sheet units, in the order of
        ``pattern.tree.flaps``; infinite where two tips do not hang together.
    strands
        How many pieces of paper lie over each flap and river, by name; a whole one is one piece.
    by_places
        Whether the pattern's places were needed to tell which joints are one.
    """

    distances: NDArray[np.float64]
    strands: Mapping[str, int]
    by_places: bool


def read_tree(pattern: CreasePattern, form: FoldedForm) -> ReadTree:
    """Read the tree off a folded form; see the module's words for how."""
    x = form.positions[:, 0]
    roles = np.array(pattern.roles)
    left, right = pattern.edge_faces.T
    inner = (left >= 0) & (right >= 0)
    plain = inner & (roles != "hinge")
    piece = joined(len(pattern.faces), left[plain], right[plain])
    vertices: dict[int, set[int]] = defaultdict(set)
    for face, loop in enumerate(pattern.faces):
        vertices[int(piece[face])].update(loop)
    hinges = np.flatnonzero(inner & (roles == "hinge"))
    ends = pattern.edges[hinges]
    line = joined(len(pattern.points), ends[:, 0], ends[:, 1])  # of vertices along hinges
    on_hinge = set(ends.ravel().tolist())
    tip_at = {vertex: name for name, vertex in pattern.tips.items()}
    spans = []
    for nodes in vertices.values():
        rows = np.array(sorted(nodes))
        low, high = float(x[rows].min()), float(x[rows].max())
        middle = (low + high) / 2
        sides: tuple[set[object], set[object]] = (set(), set())
        for v in rows.tolist():
            if v in on_hinge:
                sides[int(x[v] > middle)].add(int(line[v]))
            if v in tip_at:
                sides[int(x[v] > middle)].add(tip_at[v])
        spans.append((high - low, sides))
    names = _nodes(spans, {})
    strands = _strands(pattern, piece)
    by_places = max(strands.values()) > 1 or not _is_tree(spans, names)
    if by_places:
        names = _nodes(spans, _claimed(pattern, line, on_hinge))
    return ReadTree(_distances(pattern, spans, names), strands, by_places)


Span = tuple[float, tuple[set[object], set[object]]]
"""Length of a piece along the axis; the hinge lines and tips at its near and far side."""


def _nodes(spans: list[Span], known: Mapping[object, object]) -> dict[object, object]:
    """Name the node of each hinge line and tip: those at one side of a piece are one."""
    head: dict[object, object] = {}

    def top(key: object) -> object:
        while head.setdefault(key, key) != key:
            key = head[key]
        return key

    for line, node in known.items():
        head[top(line)] = top(node)
    for _, sides in spans:
        for side in sides:
            keys = sorted(side, key=str)
            for key in keys:
                head[top(key)] = top(keys[0])
    return {key: top(key) for key in list(head)}


def _links(spans: list[Span], names: dict[object, object]) -> dict[frozenset[object], float]:
    """Return the length between each two nodes that a piece joins, the longest piece's."""
    links: dict[frozenset[object], float] = {}
    for length, (near, far) in spans:
        if near and far:
            pair = frozenset((names[next(iter(near))], names[next(iter(far))]))
            links[pair] = max(length, links.get(pair, 0.0))
    return links


def _is_tree(spans: list[Span], names: dict[object, object]) -> bool:
    links = _links(spans, names)
    nodes = sorted({node for pair in links for node in pair}, key=str)
    if len(links) != len(nodes) - 1 or any(len(pair) != 2 for pair in links):
        return False
    number = {node: k for k, node in enumerate(nodes)}
    ends = np.array([[number[node] for node in pair] for pair in links], dtype=np.intp)
    return int(joined(len(nodes), ends[:, 0], ends[:, 1]).max()) == 0


def _claimed(
    pattern: CreasePattern, line: NDArray[np.intp], on_hinge: set[int]
) -> dict[object, object]:
    """Return the tree node that each hinge line claims to lie over."""
    claims: dict[object, object] = {}
    for vertex in on_hinge:
        edge, offset = pattern.tree_points[vertex]
        end = int(offset > pattern.lengths[edge] / 2)
        claims[int(line[vertex])] = ("node", int(pattern.tree.ends[edge, end]))
    return claims


def _distances(
    pattern: CreasePattern, spans: list[Span], names: dict[object, object]
) -> NDArray[np.float64]:
    links = _links(spans, names)
    nodes = sorted(set(names.values()), key=str)
    number = {node: k for k, node in enumerate(nodes)}
    pairs = [(tuple(pair), length) for pair, length in links.items() if len(pair) == 2]
    graph = csr_array(
        (
            [length for _, length in pairs],
            ([number[a] for (a, _), _ in pairs], [number[b] for (_, b), _ in pairs]),
        ),
        shape=(len(nodes), len(nodes)),
    )
    between = shortest_path(graph, directed=False)
    distances = np.full((pattern.tree.n_tips, pattern.tree.n_tips), np.inf)
    np.fill_diagonal(distances, 0.0)
    at = [number[names[name]] if name in names else -1 for name in pattern.tree.flaps]
    there = np.array([k >= 0 for k in at])
    rows = np.array(at)[there]
    distances[np.ix_(there, there)] = between[np.ix_(rows, rows)]
    return distances


def _strands(pattern: CreasePattern, piece: NDArray[np.intp]) -> dict[str, int]:
    """Count the pieces over each edge, by the places of their faces."""
    over: dict[int, set[int]] = defaultdict(set)
    for face, loop in enumerate(pattern.faces):
        over[edge_under(pattern, loop)].add(int(piece[face]))
    return {name: len(over[k]) for k, name in enumerate(pattern.tree.names)}


def edge_under(pattern: CreasePattern, loop: tuple[int, ...]) -> int:
    """Return the edge of the tree over which a face lies.

    A vertex inside an edge tells it; a face whose vertices all lie over nodes lies over the
    edge that joins them.
    """
    nodes = set()
    tolerance = SAME_PLACE * pattern.sheet.diagonal
    for vertex in loop:
        edge, offset = pattern.tree_points[vertex]
        inside = min(offset, pattern.lengths[edge] - offset)
        if inside > tolerance:
            return edge
        nodes.add(int(pattern.tree.ends[edge, int(offset > pattern.lengths[edge] / 2)]))
    for edge, (a, b) in enumerate(pattern.tree.ends.tolist()):
        if a in nodes and b in nodes:
            return edge
    return pattern.tree_points[loop[0]][0]
