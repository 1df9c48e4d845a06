"""Whole rivers: which rivers the paper would hold in one piece, judged before any creases.

A packing can satisfy every inequality and still let a river fall apart into several strands,
between tips of one side that cannot reach each other except across the other side. The folded
limb is then a bundle and not one flap. The test used here is a proxy and not a theorem: in the
Delaunay triangulation of the tips, the tips on either side of a river should form a connected
part; each part too many counts as one split.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import Delaunay, QhullError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from packer.model.problem import Problem

COCIRCULAR: Final = 1e-7
"""Share of the sheet's size squared within which four tips count as lying on one circle.

Mirror images and grids put tips on common circles, where the triangulation is a matter of
rounding: both diagonals then count as neighbours.
"""


def split_rivers(problem: Problem, points: ArrayLike) -> tuple[str, ...]:
    """Return the names of the rivers that the paper would hold in more than one strand."""
    counts = splits(river_sides(problem), np.asarray(points, float))
    names = problem.tree.rivers
    return tuple(names[k] for k in np.flatnonzero(counts))


def river_sides(problem: Problem) -> NDArray[np.bool_]:
    """Return (rivers, tips): the side of each river on which each tip lies, for `splits`."""
    tree = problem.tree
    return tree.beyond[tree.n_tips :]


def splits(sides: NDArray[np.bool_], points: NDArray[np.float64]) -> NDArray[np.intp]:
    """Count the strands too many of each river.

    Parameters
    ----------
    sides
        (rivers, tips), from `river_sides`.
    points
        (tips, 2) in sheet units.

    Returns
    -------
    ndarray
        (rivers,) zero where the river is whole. About 0.3 ms for 20 tips.
    """
    rivers, n = sides.shape
    if rivers == 0 or n < 4:
        return np.zeros(rivers, np.intp)
    a, b = neighbours(points)
    # each pair once; two triangles share most of them
    a, b = np.divmod(np.unique(np.minimum(a, b) * n + np.maximum(a, b)), n)
    row, edge = np.nonzero(sides[:, a] == sides[:, b])
    # one copy of the tips for each river, with the neighbours that it leaves together
    graph = csr_matrix(
        (np.ones(len(row), np.int8), (row * n + a[edge], row * n + b[edge])),
        shape=(rivers * n, rivers * n),
    )
    labels = connected_components(graph, directed=False)[1].reshape(rivers, n)
    ordered = np.sort(labels, axis=1)
    surplus: NDArray[np.intp] = (ordered[:, 1:] != ordered[:, :-1]).sum(axis=1) - 1
    return surplus


def neighbours(points: NDArray[np.float64]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the neighbouring pairs of tips in their Delaunay triangulation.

    Tips that lie on one line are neighbours in their order along it.
    """
    try:
        mesh = Delaunay(points)
    except QhullError:
        along = np.lexsort(points.T)
        return along[:-1], along[1:]
    corners = mesh.simplices
    a = np.concatenate([corners[:, 0], corners[:, 1], corners[:, 2]])
    b = np.concatenate([corners[:, 1], corners[:, 2], corners[:, 0]])
    # pairs of triangles across a common side, whose far corners lie on one circle with it
    face, place = np.nonzero(mesh.neighbors > np.arange(len(corners))[:, None])
    other = mesh.neighbors[face, place]
    shared = corners[face]
    far = corners[other].sum(axis=1) - (
        shared.sum(axis=1) - shared[np.arange(len(face)), place]
    )
    q = points[shared] - points[far][:, None]
    power = np.linalg.det(np.concatenate([q, (q**2).sum(axis=2, keepdims=True)], axis=2))
    size = float(np.ptp(points, axis=0).max())
    ties = np.abs(power) < COCIRCULAR * size**4
    return (
        np.concatenate([a, shared[ties, place[ties]], mesh.coplanar[:, 0]]).astype(np.intp),
        np.concatenate([b, far[ties], mesh.coplanar[:, 2]]).astype(np.intp),
    )
