"""How the finest features of a pattern change with the tips and lengths of its layout.

Between events the vertices of a universal_molecule move smoothly with its corners and with the tree. Their
motion is measured: the molecules of a layout moved by a tiny step are swept again, and as long as
they have the same creases in the same order, each vertex is found where it was.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

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
    from packer.creases.settling.trial import Candidate
    from packer.creases.tip_layout import TipLayout

NEARLY_FINEST: Final = 3.0
"""Features up to so many times the smallest are followed."""

MOST: Final = 80
"""Features followed at most; a step makes seldom more than ten of them the smallest in turn."""


def feature_derivatives(
    found: Candidate, directions: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the sizes of the finest features and their derivatives.

    Parameters
    ----------
    found
        A pattern with its layout and polygons.
    directions
        (m, 2 tips + edges) changes of the layout that keep the sides of its polygons active.

    Returns
    -------
    sizes
        (f,) in sheet units, in ascending order.
    feature_derivatives
        (f, m) change of each size for a unit of each direction; none where the creases would be
        others on either side.
    """
    layout, points = found.layout, found.pattern.points
    spots = fine_features(found.pattern, NEARLY_FINEST * found.feature.size)
    used = np.unique(np.concatenate([spots.edges.ravel(), spots.gaps.ravel()]))
    tracks = _tracks(found, points[used])
    sizes = spots.sizes(points)
    rates = np.zeros((len(sizes), len(directions)))
    probe = PROBE * layout.sheet.diagonal
    for k, change in enumerate(directions):
        for step in (probe, -probe):
            off = tracks.moved(shifted(layout, step * change))
            if off is not None:
                moved = points.copy()
                moved[used] += off
                after = spots.sizes(moved)
                known = np.isfinite(after)
                rates[known, k] = (after - sizes)[known] / step
                break
    order = np.argsort(sizes, kind="stable")[:MOST]
    return sizes[order], rates[order]


@dataclass(frozen=True, eq=False)
class _Tracks:
    """Where vertices of a pattern are found among the creases of its polygons.

    Attributes
    ----------
    ends
        For some polygons, by number, the (e, 2) ends of their creases.
    at
        For each vertex a polygon and the end that lies on it.
    """

    polygons: tuple[Loop, ...]
    ends: dict[int, NDArray[np.float64]]
    at: list[tuple[int, int]]

    def moved(self, layout: TipLayout) -> NDArray[np.float64] | None:
        """Return (vertices, 2) how far they are moved in a layout; None where creases differ."""
        metric = Metric(layout.tree, layout.lengths, layout.tolerance)
        try:
            now = {k: _ends(layout, self.polygons[k], metric) for k in self.ends}
        except PatternError:
            return None
        if any(len(now[k]) != len(ends) for k, ends in self.ends.items()):
            return None
        return np.array([now[k][end] - self.ends[k][end] for k, end in self.at])


def _tracks(found: Candidate, points: NDArray[np.float64]) -> _Tracks:
    layout = found.layout
    metric = Metric(layout.tree, layout.lengths, layout.tolerance)
    ends = [_ends(layout, loop, metric) for loop in found.polygons]
    home = [(k, end) for k, rows in enumerate(ends) for end in range(len(rows))]
    _, nearest = cKDTree(np.vstack(ends)).query(points)
    at = [home[k] for k in nearest.tolist()]
    return _Tracks(found.polygons, {k: ends[k] for k in sorted({k for k, _ in at})}, at)


def _ends(layout: TipLayout, loop: Loop, metric: Metric) -> NDArray[np.float64]:
    """(2 pieces, 2) the ends of the creases of one polygon."""
    return np.array(
        [(v.x, v.y) for s in crease_pieces(layout, loop, metric) for v in (s.a, s.b)]
    )
