"""The regions of a packing with true arcs for their sides instead of many short chords.

`packer.model.regions` gives polygons whose vertices lie on circles round the tips. Runs of chords of
one circle are taken together here, and the corners between two runs are put where their curves
truly meet.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
import shapely

from packer.model.regions import MANY_TIPS, QUARTER_SEGMENTS, centre_joint, regions
from packer.model.tree import node_distances

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from shapely.geometry.base import BaseGeometry

    from packer.drawing.marks.strokes import Point
    from packer.model.packing import Packing
    from packer.model.sheet import Sheet

SAGITTA = 1 - np.cos(np.pi / (4 * QUARTER_SEGMENTS))
"""How far a chord's middle lies inside its circle, as a share of the radius."""

Ring = tuple[tuple["Point", ...], tuple[float, ...]]
"""Points and the bulge of the side from each to the next."""


@dataclass(frozen=True)
class _Circles:
    """The circles that sides may lie on."""

    centres: NDArray[np.float64]
    radii: NDArray[np.float64]

    def misses(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return (points, circles): distance of each point from each circle over its radius."""
        away = points[:, None, :] - self.centres[None]
        return np.abs(np.hypot(away[..., 0], away[..., 1]) / self.radii - 1)


@lru_cache(maxsize=8)
def contours(packing: Packing, thinnest: float = 0.0) -> dict[str, tuple[Ring, ...]]:
    """Return the rings of each flap's disc and each river, clipped to the sheet, by name.

    In sheet units; rivers narrower than `thinnest` are left out. Outer rings and rings of holes stand together (even-odd rule); a part that
    has no paper on the sheet has no rings. Rivers among more than `MANY_TIPS` tips keep their chords.
    """
    tree = packing.tree
    n = tree.n_tips
    depth = node_distances(tree, np.array(packing.lengths)) * packing.scale
    from_root = depth[centre_joint(packing)]
    rings = {}
    edges = {name: edge for edge, name in enumerate(tree.names)}
    for name, region in regions(packing, thinnest=thinnest).items():
        edge = edges[name]
        near, far = sorted(tree.ends[edge].tolist(), key=from_root.__getitem__)
        if edge < n:
            tips, nodes = [far], [near]
        elif n > MANY_TIPS:
            rings[name] = _chords(region)
            continue
        else:  # a river is made of the discs of the tips beyond it alone: those nearer to its far end
            tips = np.flatnonzero(depth[far, :n] < depth[near, :n]).tolist()
            nodes = [near, far]
        circles = _Circles(
            np.repeat(packing.points[tips], len(nodes), axis=0),
            depth[np.ix_(tips, nodes)].ravel(),
        )
        whole = edge < n and _is_on(packing.sheet, circles)
        rings[name] = (_circle(circles, 0, -1.0),) if whole else tuple(_rings(region, circles))
    return rings


def _is_on(sheet: Sheet, circle: _Circles) -> bool:
    """Return whether the sheet's edge cuts nothing from a circle: its outline need not be looked for."""
    (low,), radius = circle.centres, circle.radii[0]
    room = min(*low, sheet.width - low[0], sheet.height - low[1])
    return bool(room > radius > 0)


def _chords(region: BaseGeometry) -> tuple[Ring, ...]:
    """Return the rings of a region as they are."""
    pieces = [p for p in shapely.get_parts(region) if p.geom_type == "Polygon"]
    lines = [line for piece in pieces for line in (piece.exterior, *piece.interiors)]
    rings = [tuple(map(tuple, shapely.get_coordinates(line).tolist()[:-1])) for line in lines]
    return tuple((ring, (0.0,) * len(ring)) for ring in rings)


def _rings(region: BaseGeometry, circles: _Circles) -> list[Ring]:
    """Return the rings of a region, without slivers between the chords of touching circles."""
    thin = 4 * SAGITTA * float(circles.radii.max())
    pieces = [
        shapely.normalize(p) for p in shapely.get_parts(region) if p.geom_type == "Polygon"
    ]
    return [
        _ring(np.array(line.coords)[:-1], circles)
        for piece in pieces
        for line in (piece.exterior, *piece.interiors)
        if shapely.Polygon(line).area > thin * line.length
    ]


def _ring(points: NDArray[np.float64], circles: _Circles) -> Ring:
    owner = _owners(points, circles)
    straight = owner < 0
    # A run begins where the curve changes; two straight sides in a row always make a corner.
    before = np.roll(owner, 1)
    starts = np.flatnonzero((owner != before) | straight)
    if len(starts) == 0:  # one whole circle
        turn = 1.0 if shapely.LinearRing(points).is_ccw else -1.0
        return _circle(circles, int(owner[0]), turn)
    corners = [_corner(points, circles, owner, k) for k in starts.tolist()]
    out: list[Point] = []
    bulges: list[float] = []
    for k, start in enumerate(starts.tolist()):
        here, there = corners[k], corners[(k + 1) % len(corners)]
        out.append((float(here[0]), float(here[1])))
        if straight[start]:
            bulges.append(0.0)
            continue
        stop = starts[(k + 1) % len(starts)]
        middle = points[
            (start + ((stop - start) % len(points) or len(points)) // 2) % len(points)
        ]
        centre = circles.centres[owner[start]]
        turn = _angle(here - centre, middle - centre) + _angle(middle - centre, there - centre)
        bulges.append(float(np.tan(turn / 4)))
    return tuple(out), tuple(bulges)


def _owners(points: NDArray[np.float64], circles: _Circles) -> NDArray[np.intp]:
    """Return for each side the circle it is a chord of, -1 for a straight side."""
    ends = circles.misses(points)
    ends = np.maximum(ends, np.roll(ends, -1, axis=0))
    near = np.flatnonzero((ends <= 1.5 * SAGITTA).any(axis=0))
    if len(near) == 0:
        return np.full(len(points), -1)
    few = _Circles(circles.centres[near], circles.radii[near])
    middles = few.misses((points + np.roll(points, -1, axis=0)) / 2)
    worst = np.maximum(ends[:, near], middles)
    fits = worst <= 1.5 * SAGITTA
    best = np.where(fits.any(axis=1), worst.argmin(axis=1), -1)
    # Where circles touch, a chord fits both: it goes on with the circle of the chord before, or a
    # whole circle would be cut there, into two arcs whose ends have no order.
    known, counts = np.unique(best, return_counts=True)
    first = int(np.flatnonzero(best == known[counts.argmax()])[0])
    before = int(best[first])
    for k in (*range(first, len(best)), *range(first)):
        if before < 0 or not fits[k, before]:
            before = int(best[k])
        best[k] = before
    return np.where(best < 0, -1, near[best])


def _circle(circles: _Circles, owner: int, turn: float) -> Ring:
    """Return a whole circle as two halves; turn is 1 anticlockwise, -1 clockwise as outer rings are."""
    (x, y), r = circles.centres[owner], float(circles.radii[owner])
    return ((float(x - r), float(y)), (float(x + r), float(y))), (turn, turn)


def _corner(
    points: NDArray[np.float64], circles: _Circles, owner: NDArray[np.intp], k: int
) -> NDArray[np.float64]:
    """Return vertex k moved onto both curves that meet in it, by Newton's method.

    The polygon's vertex lies where two chords cross, a sagitta away from where the curves do.
    """
    point: NDArray[np.float64] = points[k]
    normals, arcs = [], []
    for side in (k - 1, k):
        if owner[side] >= 0:
            arcs.append(int(owner[side]))
        else:
            along = points[(side + 1) % len(points)] - points[side]
            normals.append(np.array([-along[1], along[0]]) / np.hypot(*along))
    position = point.copy()
    for _ in range(4):
        away = position - circles.centres[arcs]
        far = np.hypot(away[:, 0], away[:, 1])
        slopes = [*normals, *(away / far[:, None])]
        gaps = [
            *(normal @ (position - point) for normal in normals),
            *(far - circles.radii[arcs]),
        ]
        position -= np.linalg.lstsq(np.array(slopes), np.array(gaps), rcond=1e-3)[0]
    # Where two curves barely touch, their crossing is ill defined: the vertex then stays.
    near = 100 * SAGITTA * float(circles.radii[arcs].max(initial=0.0))
    return position if float(np.hypot(*(position - point))) <= near else point


def _angle(a: NDArray[np.float64], b: NDArray[np.float64]) -> float:
    """Signed angle from a to b, in (-pi, pi]."""
    return float(np.arctan2(a[0] * b[1] - a[1] * b[0], a @ b))
