"""What keeps a sketch from being a tree: loops, loose pieces, doubled strokes."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal, Protocol

import numpy as np
import shapely

from packer.sketch.polylines import encloses, passes

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Points = NDArray[np.float64]

HOOK: Final = 4.0
"""Loops shorter than this many joining distances are a shaky pen, not a loop."""


class Union(Protocol):
    """Nodes, some of which are one and the same."""

    def top(self, mark: int) -> int:
        """Return the node that stands for this one."""

    def unite(self, a: int, b: int) -> None:
        """Make two nodes one."""


@dataclass(frozen=True, eq=False)
class Part:
    """One edge of the drawn tree: its two nodes, its line from one to the other, its names.

    `names` holds each name that strokes along it have, with the length drawn under it.
    """

    ends: tuple[int, int]
    line: Points
    length: float
    names: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, eq=False)
class Fault:
    """Why a drawing is no tree.

    Attributes
    ----------
    kind
        "loop", "loose piece" or "doubled stroke".
    at
        Where, in pixels.
    lines
        The polylines at fault, in pixels.
    names
        Names of the strokes at fault, where they have any.
    gap
        For a loose piece, how far it is from the rest.
    """

    kind: Literal["loop", "loose piece", "doubled stroke"]
    at: tuple[float, float]
    lines: tuple[Points, ...]
    names: tuple[str, ...] = ()
    gap: float = 0.0


def closed(part: Part, reach: float) -> Fault:
    """Return a stroke that closes on itself as the loop it is, or as drawn out and back."""
    flat = encloses(part.line) < reach * part.length / 2
    far = part.line[np.argmax(np.hypot(*(part.line - part.line[0]).T))]
    middle = far if flat else part.line.mean(axis=0)
    return _fault("doubled stroke" if flat else "loop", middle, [part])


def self_crossing(part: Part, reach: float) -> Fault | None:
    """Return where a stroke crosses itself or goes back on itself; None where it does not."""
    line = shapely.LineString(part.line)
    if line.is_simple:
        return None
    noded = shapely.unary_union(line)
    if line.length - noded.length > HOOK * reach:
        steps = np.diff(part.line, axis=0)
        steps = steps[np.hypot(*steps.T) > 0]
        turns = np.einsum("ij,ij->i", steps[1:], steps[:-1]) / (
            np.hypot(*steps[1:].T) * np.hypot(*steps[:-1].T)
        )
        back = part.line[0] + steps[: np.argmin(turns) + 1].sum(axis=0)
        return _fault("doubled stroke", back, [part])
    ends = shapely.get_coordinates([shapely.boundary(p) for p in shapely.get_parts(noded)])
    for at in np.unique(ends, axis=0):
        arcs = passes(part.line, at, 1e-9 * line.length)
        if len(arcs) > 1 and arcs[-1] - arcs[0] > HOOK * reach:
            return _fault("loop", at, [part])
    return None


def without_doubles(
    union: Union, pieces: list[Part], reach: float
) -> tuple[list[Part], list[Fault]]:
    """Drop one of two pieces that lie on each other; short ones become a single joint."""
    faults: list[Fault] = []
    kept: dict[tuple[int, int], list[Part]] = defaultdict(list)
    for part in pieces:
        key = (min(part.ends), max(part.ends))
        line = shapely.LineString(part.line)
        for other in kept[key]:
            apart = shapely.hausdorff_distance(line, shapely.LineString(other.line))
            if apart > 2 * reach:
                continue
            if max(part.length, other.length) <= HOOK * reach:
                union.unite(*key)
            else:
                half = shapely.line_interpolate_point(line, 0.5, normalized=True)
                at = shapely.get_coordinates(half)[0]
                faults.append(_fault("doubled stroke", at, [other, part]))
            break
        else:
            kept[key].append(part)
    left = [part for parts in kept.values() for part in parts]
    return [p for p in left if union.top(p.ends[0]) != union.top(p.ends[1])], faults


def without_loops(union: Union, pieces: list[Part]) -> tuple[list[Part], list[Fault]]:
    """Keep a spanning forest; every piece left out closes a loop."""
    tree: list[Part] = []
    faults: list[Fault] = []
    next_to: dict[int, list[tuple[int, Part]]] = defaultdict(list)
    for piece in pieces:
        a, b = map(union.top, piece.ends)
        way = _way(next_to, a, b)
        if way is None:
            part = Part((a, b), piece.line, piece.length, piece.names)
            tree.append(part)
            next_to[a].append((b, part))
            next_to[b].append((a, part))
        else:
            loop = [*way, piece]
            lines = shapely.MultiLineString([p.line for p in loop])
            faults.append(_fault("loop", shapely.get_coordinates(lines.centroid)[0], loop))
    return tree, faults


def _way(next_to: dict[int, list[tuple[int, Part]]], a: int, b: int) -> list[Part] | None:
    """Return the parts between two nodes of a forest; None where nothing joins them."""
    came: dict[int, tuple[int, Part] | None] = {a: None}
    todo = [a]
    while todo and b not in came:
        here = todo.pop()
        for there, part in next_to[here]:
            if there not in came:
                came[there] = (here, part)
                todo.append(there)
    if b not in came:
        return None
    way: list[Part] = []
    while step := came[b]:
        b = step[0]
        way.append(step[1])
    return way


def loose_pieces(tree: list[Part]) -> list[Fault]:
    """Return every connected group of parts but the longest."""
    groups: list[list[Part]] = []
    left = list(tree)
    while left:
        group, nodes = [left.pop(0)], set()
        nodes |= set(group[0].ends)
        while more := [p for p in left if nodes & set(p.ends)]:
            group += more
            nodes |= {end for part in more for end in part.ends}
            left = [p for p in left if all(p is not q for q in more)]
        groups.append(group)
    if len(groups) < 2:
        return []
    groups.sort(key=lambda group: -sum(part.length for part in group))
    pieces = []
    shapes = [shapely.MultiLineString([part.line for part in group]) for group in groups]
    for k, group in enumerate(groups[1:], 1):
        rest = shapely.union_all(shapes[:k] + shapes[k + 1 :])
        way = shapely.shortest_line(shapes[k], rest)
        at = shapely.get_coordinates(way)[0]
        pieces.append(_fault("loose piece", at, group, shapely.length(way)))
    return pieces


def _fault(
    kind: Literal["loop", "loose piece", "doubled stroke"],
    at: Points,
    parts: Sequence[Part],
    gap: float = 0.0,
) -> Fault:
    names = dict.fromkeys(name for part in parts for name, _ in part.names if name)
    return Fault(
        kind, (float(at[0]), float(at[1])), tuple(p.line for p in parts), tuple(names), gap
    )
