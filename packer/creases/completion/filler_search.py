"""Search for fillers: in corners of the sheet and on sides of polygons.

A filler with its tip at the point q of the sheet, attached at the tree point t and of length h,
fits if |q - p_k| >= h + d(t, k) for all tips k. At every q some t and h >= 0 do: a metric tree is
an injective metric space (Aronszajn and Panitchpakdi, Pacific J. Math. 6, 1956), so the map
from the tips to the tree, which stretches no distance, extends to the whole sheet. The functions
here look for long fillers, those attached to joints of the tree first.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.creases.completion.filler_insertion import (
    AttachmentPoints,
    attachment_points,
    attachment_points_at,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.creases.tip_layout import TipLayout
    from packer.creases.tree_metric import TreePoint

PER_EDGE: Final = 24
"""Attachment points tried on each edge of the tree, before the best are refined."""

REFINED: Final = 4
REFINEMENTS: Final = 3
PER_POINT: Final = 17
"""So many of the best points are refined, so many times, each into so many points around it."""

PER_SEGMENT: Final = 20
SEGMENT_REFINEMENTS: Final = 6
"""Distances tried along a segment, and how often the interval around the best is refined."""

CORNER_SHARE: Final = 0.9
"""Greatest length of a filler in a corner, as a share of the distance to the nearest tip."""

JOINT_SHARE: Final = 0.5
"""A joint is taken where its filler is at least this share of the longest possible."""


@dataclass(frozen=True, eq=False)
class Filler:
    """A flap to add so that the crease pattern closes.

    Attributes
    ----------
    point
        (2,) position of its tip on the sheet.
    tree_point
        Where it is attached to the tree.
    length
        In sheet units.
    margin
        Least slack of its paths to the tips that it need not touch, in sheet units.
    """

    point: NDArray[np.float64]
    tree_point: TreePoint
    length: float
    margin: float


@dataclass(frozen=True, eq=False)
class _FillerCandidates:
    """Fillers at points (c, 2) with lengths (c,) and margins (c,), one for each attachment point."""

    at: AttachmentPoints
    points: NDArray[np.float64]
    lengths: NDArray[np.float64]
    margins: NDArray[np.float64]

    def filler(self, k: int) -> Filler:
        return Filler(
            self.points[k],
            self.at.tree_point(k),
            float(self.lengths[k]),
            float(self.margins[k]),
        )


def _margins(
    layout: TipLayout,
    at: AttachmentPoints,
    points: NDArray[np.float64],
    lengths: NDArray[np.float64],
    touched: list[int],
) -> NDArray[np.float64]:
    """Return (c,) the least slack of fillers, their own mirror images included."""
    ways = points[:, None] - layout.points[None]
    slack = np.hypot(ways[..., 0], ways[..., 1]) - lengths[:, None] - at.to_tips
    slack[:, touched] = np.inf
    least: NDArray[np.float64]
    least = slack.min(axis=1) if slack.shape[1] > len(touched) else np.full(len(points), np.inf)
    if layout.symmetry == "none":
        return least
    across = layout.reflect(points) - points
    apart = np.hypot(across[:, 0], across[:, 1])
    alone = apart <= 2 * layout.tolerance
    image = np.where(
        alone, np.where(at.on_spine, np.inf, -np.inf), apart - 2 * lengths - at.to_image
    )
    return np.minimum(least, image)


def corner_filler(layout: TipLayout, corner: NDArray[np.float64], share: float) -> Filler:
    """Return a long filler at a corner of the sheet, attached to a joint if that is good enough.

    Parameters
    ----------
    layout
        The layout.
    corner
        (2,) the corner.
    share
        Its greatest length, as a share of the distance to the nearest tip.
    """
    at = _with_point(
        layout, attachment_points(layout, PER_EDGE), _tight_tree_point(layout, corner)
    )
    best = _longest(layout, at, corner, share)
    joints = np.where(at.at_joint, best.lengths, -np.inf)
    top = int(np.argmax(best.lengths))
    joint = int(np.argmax(joints))
    return best.filler(joint if joints[joint] >= JOINT_SHARE * best.lengths[top] else top)


def _tight_tree_point(layout: TipLayout, point: NDArray[np.float64]) -> TreePoint:
    """Return where the longest filler at a point is attached, if only the tips limit it.

    Its length is the least (|q p_i| + |q p_j| - d_ij) / 2, and it is attached on the path from
    i to j.
    """
    gap = np.hypot(*(layout.points - point).T)
    rooms = (gap[:, None] + gap[None] - layout.distances) / 2
    np.fill_diagonal(rooms, np.inf)
    i, j = np.unravel_index(int(rooms.argmin()), rooms.shape)
    along = float(np.clip(gap[i] - rooms[i, j], 0.0, layout.distances[i, j]))
    for edge in layout.tree.path(int(i), int(j)).tolist():
        near, far = layout.tree.ends[edge]
        if layout.nodes[i, near] > layout.nodes[i, far]:
            near, far = far, near
        if layout.nodes[i, near] <= along <= layout.nodes[i, far] + layout.tolerance:
            done = along - layout.nodes[i, near]
            return edge, float(
                done if near == layout.tree.ends[edge, 0] else layout.lengths[edge] - done
            )
    return int(layout.tree.path(int(i), int(j))[0]), 0.0


def _with_point(
    layout: TipLayout, at: AttachmentPoints, tree_point: TreePoint
) -> AttachmentPoints:
    """Return attachment points with one more at the end."""
    edges, offsets = np.append(at.edges, tree_point[0]), np.append(at.offsets, tree_point[1])
    return attachment_points_at(layout, edges, offsets, int(at.at_joint.sum()))


def _longest(
    layout: TipLayout, at: AttachmentPoints, point: NDArray[np.float64], share: float
) -> _FillerCandidates:
    """Return the longest filler at one point of the sheet for every attachment point."""
    points = np.broadcast_to(point, (len(at.edges), 2))
    gap = np.hypot(*(layout.points - point).T)
    tolerance = _margins(layout, at, points, np.zeros(len(points)), [])
    if layout.symmetry != "none":
        apart = float(np.hypot(*(layout.reflect(point) - point)))
        if apart > 2 * layout.tolerance:
            least = (gap - at.to_tips).min(axis=1)
            tolerance = np.minimum(least, (apart - at.to_image) / 2)
    lengths = np.minimum(tolerance, share * gap.min())
    return _FillerCandidates(at, points, lengths, _margins(layout, at, points, lengths, []))


def joint_filler(layout: TipLayout, points: NDArray[np.float64], least: float) -> Filler | None:
    """Return the longest filler with its tip at any of (m, 2) points, attached to a joint.

    Parameters
    ----------
    layout
        The layout.
    points
        Positions of its tip to choose from.
    least
        Length below which a filler is of no use, in sheet units.
    """
    at = attachment_points(layout, 0)
    ways = points[:, None] - layout.points[None]
    gaps = np.hypot(ways[..., 0], ways[..., 1])
    lengths = (gaps[:, None] - at.to_tips[None]).min(axis=2)
    if layout.symmetry != "none":
        across = layout.reflect(points) - points
        apart = np.hypot(across[:, 0], across[:, 1])[:, None]
        paired = np.minimum(lengths, (apart - at.to_image[None]) / 2)
        alone = np.where(at.on_spine[None], lengths, -np.inf)
        lengths = np.where(apart <= 2 * layout.tolerance, alone, paired)
    p, k = np.unravel_index(int(lengths.argmax()), lengths.shape)
    length = float(lengths[p, k])
    return Filler(points[p], at.tree_point(int(k)), length, 0.0) if length >= least else None


def side_filler(layout: TipLayout, i: int, j: int, least: float) -> Filler | None:
    """Return a filler on the segment between two tips whose paths to both are active, if one fits.

    For a given attachment point t there is one such filler. Its tip divides the segment where t
    divides the path between the two tips; its length is half the slack of that path, less the
    distance of t from the path.

    Parameters
    ----------
    layout
        The layout.
    i, j
        The tips; their path is not active.
    least
        Length below which a filler is of no use, in sheet units.
    """
    at = attachment_points(layout, PER_EDGE)
    trials = _on_segment(layout, at, i, j, least)
    joints = np.where(at.at_joint, trials.margins, -np.inf)
    k = int(np.argmax(joints))
    if joints[k] >= 0:
        return trials.filler(k)
    for refined in range(REFINEMENTS):
        top = np.argsort(-trials.margins, kind="stable")[:REFINED]
        if trials.margins[top[0]] >= 0 and refined > 0:
            break
        trials = _on_segment(layout, _finer(layout, at, top), i, j, least)
        at = trials.at
    k = int(np.argmax(trials.margins))
    return trials.filler(k) if trials.margins[k] >= 0 else None


def _finer(layout: TipLayout, at: AttachmentPoints, top: NDArray[np.intp]) -> AttachmentPoints:
    """Return attachment points around some of those given."""
    spread = np.linspace(-1, 1, PER_POINT)
    edges = np.repeat(at.edges[top], len(spread))
    gaps = [np.diff(np.unique(at.offsets[at.edges == e])) for e in at.edges[top]]
    step = np.array(
        [
            g.min() if len(g) else layout.lengths[e] / PER_EDGE
            for g, e in zip(gaps, at.edges[top].tolist(), strict=True)
        ]
    )
    offsets = np.repeat(at.offsets[top], len(spread)) + np.repeat(step, len(spread)) * np.tile(
        spread, len(top)
    )
    return attachment_points_at(layout, edges, np.clip(offsets, 0, layout.lengths[edges]))


def _on_segment(
    layout: TipLayout, at: AttachmentPoints, i: int, j: int, least: float
) -> _FillerCandidates:
    length = layout.gaps[i, j]
    along = (length + at.to_tips[:, i] - at.to_tips[:, j]) / 2
    lengths = (length - at.to_tips[:, i] - at.to_tips[:, j]) / 2
    points = layout.points[i] + (along / length)[:, None] * (
        layout.points[j] - layout.points[i]
    )
    margins = _margins(layout, at, points, lengths, [i, j])
    margins[
        (lengths < least) | (along <= lengths / 2) | (length - along <= lengths / 2)
    ] = -np.inf
    return _FillerCandidates(at, points, lengths, margins)


def farthest_filler(layout: TipLayout, i: int, j: int, least: float) -> Filler | None:
    """Return the filler on a segment whose path to its first end is active, farthest from there.

    Parameters
    ----------
    layout
        The layout.
    i, j
        The first and the second end; their path is not active.
    least
        Length below which a filler is of no use, in sheet units.
    """
    at = attachment_points(layout, PER_EDGE)
    length = layout.gaps[i, j]
    way = (layout.points[j] - layout.points[i]) / length
    low, high = 0.0, length
    farthest = None
    for _ in range(SEGMENT_REFINEMENTS):
        tried = np.linspace(low, high, PER_SEGMENT + 1)[1:]
        step = tried[1] - tried[0]
        best = None
        for s in tried[::-1].tolist():
            best = _at_distance(layout, at, i, s, way, least)
            if best is not None:
                farthest, low, high = best, s, min(s + step, length)
                break
        if best is None:
            break
    return farthest


def _at_distance(
    layout: TipLayout,
    at: AttachmentPoints,
    i: int,
    s: float,
    way: NDArray[np.float64],
    least: float,
) -> Filler | None:
    """Return the filler of largest margin at one distance from tip i, its path to i active."""
    point = layout.points[i] + s * way
    points = np.broadcast_to(point, (len(at.edges), 2))
    lengths = s - at.to_tips[:, i]
    margins = _margins(layout, at, points, lengths, [i])
    margins[lengths < least] = -np.inf
    k = int(np.argmax(np.where(at.at_joint, margins, -np.inf)))
    if margins[k] < 0 or not at.at_joint[k]:
        k = int(np.argmax(margins))
    return (
        _FillerCandidates(at, points, lengths, margins).filler(k) if margins[k] >= 0 else None
    )
