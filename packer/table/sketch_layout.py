"""A sketch taken up as it was drawn: its strokes, bends and joints, turned so that its axis is upright."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from packer.model.figure import Flap
from packer.sketch.mirror import find_mirror
from packer.table.draft import DraftNode, DraftPart
from packer.table.figure_layout import SIZE, draft_with, part_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from packer.model.figure import River
    from packer.model.sheet import Point
    from packer.sketch.joints import Net
    from packer.sketch.mirror import Mirror
    from packer.sketch.stick_tree import Reading
    from packer.table.draft import Draft

    Put = Callable[[NDArray[np.float64]], list[Point]]


def draft_of_sketch(reading: Reading) -> Draft | None:
    """Return a draft that means the figure read from a sketch, with the strokes as drawn.

    None where the mirror line cuts a river in two: its figure then has a joint that is not drawn.
    """
    net, figure = reading.net, reading.figure
    mirror = find_mirror(net)
    if mirror is not None and mirror.across is not None:
        return None
    put, factor = _placing(net, mirror)
    away = {b for _, b in mirror.twins} if mirror is not None else set()
    kept = [k for k in range(len(net.parts)) if k not in away]
    names: dict[int, str] = {}
    parts = [_part(reading, k, mirror, put, names) for k in kept]
    drawn = sum(net.parts[k].length for k in kept) * factor
    asked = sum(part.asked or 0.0 for part in parts)
    straight = _on_axis(net, mirror) if figure.symmetry != "none" else set()
    at = put(net.places)
    nodes = tuple(
        DraftNode(
            node + 1, (0.0, at[node][1]) if node in straight else at[node], names.get(node, "")
        )
        for node in sorted({end - 1 for part in parts for end in (part.near, part.far)})
    )
    return draft_with(figure, nodes, parts, drawn / asked)


def _placing(net: Net, mirror: Mirror | None) -> tuple[Put, float]:
    """Return how points of the sketch are put on the mat, and by what factor."""
    places = net.places
    turned = np.eye(2)
    middle = (places.min(axis=0) + places.max(axis=0)) / 2
    if mirror is not None:
        nx, ny = mirror.axis.normal
        nx, ny = (nx, ny) if nx > 0 else (-nx, -ny)
        turned = np.array([[nx, ny], [-ny, nx]])
        foot = np.array(mirror.axis.at)
        middle = foot + ((middle - foot) @ turned[1]) * turned[1]
    factor = SIZE / float(np.ptp(places, axis=0).max())

    def put(points: NDArray[np.float64]) -> list[Point]:
        return [(float(x), float(y)) for x, y in (points - middle) @ turned.T * factor]

    return put, factor


def _part(
    reading: Reading, k: int, mirror: Mirror | None, put: Put, names: dict[int, str]
) -> DraftPart:
    """Return a part of the net as one of the draft, and note what its joints are called."""
    net, figure = reading.net, reading.figure
    piece = net.parts[k]
    written: tuple[Flap | River, ...] = (*figure.flaps, *figure.rivers)
    part = next(p for p in written if p.name == reading.names[k])
    near, far = piece.ends
    if isinstance(part, Flap):
        outward = sum(near in other.ends for other in net.parts) > 1
    else:  # as the figure writes it: the joint on the mirror line first
        outward = mirror is None or near in mirror.joints
        twin = mirror is not None and any(k in pair for pair in mirror.twins)
        outward = outward or not twin
    line = put(piece.line)
    first, last = (put(net.places[[end]])[0] for end in (near, far))
    if math.dist(line[0], first) > math.dist(line[0], last):
        line.reverse()
    if not outward:
        near, far = far, near
        line.reverse()
    if isinstance(part, Flap):
        names[near] = part.joint
    else:
        names[near], names[far] = part.joints
    return part_of(part, near + 1, far + 1, tuple(line[1:-1]))


def _on_axis(net: Net, mirror: Mirror | None) -> set[int]:
    """Return the nodes that lie on the mirror line."""
    if mirror is None:
        return set()
    return mirror.joints | {end for k in mirror.on_axis for end in net.parts[k].ends}
