"""The mirror line of a pattern: which vertices, creases and layers are each other's images."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.spatial import cKDTree

from packer.units import SAME_PLACE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern
    from packer.folded.ordering.grid_rings import GridRings
    from packer.folded.ordering.rings import Molecules


@dataclass(frozen=True, eq=False)
class MirrorImages:
    """The images of a pattern's parts in its mirror line.

    Attributes
    ----------
    vertices, edges, faces
        The image of each vertex, edge and face.
    """

    vertices: NDArray[np.intp]
    edges: NDArray[np.intp]
    faces: NDArray[np.intp]

    def of_sets(self, number: NDArray[np.intp]) -> NDArray[np.intp]:
        """Return the image of each set of faces, given by the number of each face's set."""
        images = np.zeros(int(number.max()) + 1, dtype=np.intp)
        images[number] = number[self.faces]
        return images


def mirror_of(pattern: CreasePattern) -> MirrorImages | None:
    """Return the images of a mirrored figure's parts in its mirror line.

    None where the figure has no pairs: what is asked of a mirrored figure's folds is not asked of a
    classic base that happens to lie so. Looked at are the upright line through the sheet's middle
    and, on a square, its rising diagonal: those of book and diagonal symmetry.
    """
    if (pattern.tree.twin == np.arange(len(pattern.tree.twin))).all():
        return None
    width, height = pattern.sheet.width, pattern.sheet.height
    book = np.column_stack([width - pattern.points[:, 0], pattern.points[:, 1]])
    images = [book] if width != height else [book, pattern.points[:, ::-1]]
    for image in images:
        mirror = _mirror(pattern, image)
        if mirror is not None:
            return mirror
    return None


def valleys(
    creases: NDArray[np.intp], flipped: NDArray[np.bool_], rank: NDArray[np.intp]
) -> NDArray[np.bool_]:
    """Return (c,) whether each crease is a valley, seen from the paper's front.

    Parameters
    ----------
    creases
        (c, 3) edges with the layers on their left and right.
    flipped
        (layers,) whether a layer shows its back.
    rank
        (layers,) the place of each layer in the order.
    """
    left, right = creases[:, 1:].T
    folded_up: NDArray[np.bool_] = (rank[right] > rank[left]) != flipped[left]
    return folded_up


def unlike_images(
    base: Molecules | GridRings, rank: NDArray[np.intp], mirror: MirrorImages
) -> NDArray[np.intp]:
    """Return the edges that an order folds otherwise than their mirror image."""
    letter = np.zeros(len(mirror.edges), dtype=np.int8)
    letter[base.creases[:, 0]] = 1 + valleys(base.creases, base.flipped, rank)
    unlike: NDArray[np.intp] = np.flatnonzero(letter != letter[mirror.edges])
    return unlike


def crease_pairs(
    base: Molecules | GridRings, mirror: MirrorImages
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return (k, 3) creases beside the mirror line, one of each pair, and their images."""
    edges = base.creases[:, 0]
    row = np.full(len(mirror.edges), -1)
    row[edges] = np.arange(len(edges))
    image = row[mirror.edges[edges]]
    here = np.flatnonzero((edges < mirror.edges[edges]) & (image >= 0))
    return base.creases[here], base.creases[image[here]]


def _mirror(pattern: CreasePattern, image: NDArray[np.float64]) -> MirrorImages | None:
    tolerance = SAME_PLACE * pattern.sheet.diagonal
    far, vertices = cKDTree(pattern.points).query(image)
    if far.max() > tolerance or (vertices[vertices] != np.arange(len(vertices))).any():
        return None
    if (np.abs(pattern.heights[vertices] - pattern.heights) > tolerance).any():
        return None
    number = {frozenset(pair): k for k, pair in enumerate(pattern.edges.tolist())}
    edges = [number.get(frozenset(pair), -1) for pair in vertices[pattern.edges].tolist()]
    if min(edges) < 0 or any(pattern.roles[a] != pattern.roles[b] for a, b in enumerate(edges)):
        return None
    loops = {frozenset(loop): k for k, loop in enumerate(pattern.faces)}
    faces = [loops.get(frozenset(vertices[list(loop)].tolist()), -1) for loop in pattern.faces]
    if min(faces) < 0:
        return None
    return MirrorImages(vertices, np.array(edges), np.array(faces))
