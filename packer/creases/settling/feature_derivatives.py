"""How the smallest features of a pattern change with the tips and lengths of its layout.

Between events of the sweep the vertices of a molecule move smoothly with its corners and with
the tree. Derivatives are finite differences: the molecules of a layout moved by a small step are
computed again, and as long as they have the same creases in the same order, each vertex is
recognised by its number.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial import cKDTree

from packer.creases.constraints.variables import shifted
from packer.creases.molecules.assembly import crease_pieces
from packer.creases.smallest_feature import fine_features
from packer.creases.tree_metric import Metric
from packer.errors import PatternError
from packer.units import PROBE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.creases.plane_graph import Loop
    from packer.creases.settling.settling_params import AscentParams
    from packer.creases.settling.trial import Candidate
    from packer.creases.tip_layout import TipLayout


def feature_derivatives(
    candidate: Candidate, directions: NDArray[np.float64], params: AscentParams
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the sizes of the smallest features and their derivatives.

    Parameters
    ----------
    candidate
        A pattern with its layout and polygons.
    directions
        (m, 2 tips + edges) changes of the layout that keep the sides of its polygons active.
    params
        Says which features are followed.

    Returns
    -------
    sizes
        (f,) in sheet units, in ascending order.
    rates
        (f, m) change of each size for a unit of each direction; zero where the creases change
        on either side.
    """
    layout, points = candidate.layout, candidate.pattern.points
    features = fine_features(candidate.pattern, params.nearly_finest * candidate.feature.size)
    used = np.unique(np.concatenate([features.edges.ravel(), features.gaps.ravel()]))
    vertices = _tracked(candidate, points[used])
    sizes = features.sizes(points)
    rates = np.zeros((len(sizes), len(directions)))
    probe = PROBE * layout.sheet.diagonal
    for k, change in enumerate(directions):
        for step in (probe, -probe):
            off = vertices.displacement(shifted(layout, step * change))
            if off is not None:
                moved = points.copy()
                moved[used] += off
                after = features.sizes(moved)
                known = np.isfinite(after)
                rates[known, k] = (after - sizes)[known] / step
                break
    order = np.argsort(sizes, kind="stable")[: params.features]
    return sizes[order], rates[order]


@dataclass(frozen=True, eq=False)
class _TrackedVertices:
    """Where vertices of a pattern occur among the creases of its polygons.

    Attributes
    ----------
    polygons
        All polygons of the pattern.
    ends
        For some polygons, by number, the (e, 2) ends of their creases.
    at
        For each vertex a polygon and the number of an end that lies on the vertex, or on its
        mirror image.
    images
        (vertices,) whether it is the mirror image that lies there.
    """

    polygons: tuple[Loop, ...]
    ends: dict[int, NDArray[np.float64]]
    at: list[tuple[int, int]]
    images: NDArray[np.bool_]

    def displacement(self, layout: TipLayout) -> NDArray[np.float64] | None:
        """Return (vertices, 2) displacements in another layout; None where creases differ."""
        metric = Metric(layout.tree, layout.lengths, layout.tolerance)
        try:
            now = {k: _ends(layout, self.polygons[k], metric) for k in self.ends}
        except PatternError:
            return None
        if any(len(now[k]) != len(ends) for k, ends in self.ends.items()):
            return None
        before, after = (np.array([e[k][end] for k, end in self.at]) for e in (self.ends, now))
        off = after - before
        mirrored = layout.reflect(after) - layout.reflect(before)
        return np.where(self.images[:, None], mirrored, off)


def _tracked(candidate: Candidate, points: NDArray[np.float64]) -> _TrackedVertices:
    """Return where each of (v, 2) vertices occurs among the creases of the polygons.

    Of two polygons that are mirror images only the first is computed.
    """
    layout = candidate.layout
    metric = Metric(layout.tree, layout.lengths, layout.tolerance)
    ends = {
        k: _ends(layout, candidate.polygons[k], metric)
        for k in _first_of_images(candidate.polygons, layout.mirror)
    }
    home = [(k, end) for k, rows in ends.items() for end in range(len(rows))]
    known = cKDTree(np.vstack(list(ends.values())))
    (own, nearest), (image, there) = map(known.query, (points, layout.reflect(points)))
    images = image < own - layout.tolerance
    at = [home[k] for k in np.where(images, there, nearest).tolist()]
    used = {k: ends[k] for k in sorted({k for k, _ in at})}
    return _TrackedVertices(candidate.polygons, used, at, images)


def _first_of_images(polygons: tuple[Loop, ...], mirror: NDArray[np.intp]) -> list[int]:
    """Return the polygons whose mirror image does not come before them."""
    number = {frozenset(loop): k for k, loop in enumerate(polygons)}
    images = [
        number.get(frozenset(mirror[list(loop)].tolist()), k) for k, loop in enumerate(polygons)
    ]
    return [k for k, image in enumerate(images) if image >= k]


def _ends(layout: TipLayout, loop: Loop, metric: Metric) -> NDArray[np.float64]:
    """(2 pieces, 2) the ends of the creases of one polygon."""
    pieces = crease_pieces(layout, loop, metric)
    return np.array([(v.x, v.y) for piece in pieces for v in (piece.a, piece.b)])
