"""Proven bounds: grids that are too small for a figure, and why."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from packer.grid.area_bound import overfull

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from packer.grid.board import Board, Size
    from packer.model.tree import Tree


def smallest_left(
    sizes: Sequence[Size], tree: Tree, lengths: tuple[int, ...]
) -> tuple[int, str]:
    """Return the first grid that neither counting nor area proves too small, and the last proof.

    Every grid before it is refuted by itself. An index past the last one means that all are.

    Parameters
    ----------
    sizes
        Grids, each holding the ones before.
    tree, lengths
        The figure with whole lengths of its parts in cells.
    """
    distances = np.rint(tree.distances_with(np.array(lengths, float))).astype(np.intp)
    counts = packing_counts(distances)
    reasons: list[Callable[[Size], str]] = [lambda size: too_small(size, counts)]
    reasons += [
        partial(overfull, tree, lengths, root=tree.n_tips + k) for k in range(len(tree.joints))
    ]
    first, rule = 0, "no grid is smaller"
    for reason in reasons:
        while first < len(sizes) and (why := reason(sizes[first])):
            first, rule = first + 1, why
    return first, rule


def most_apart(
    distances: NDArray[np.intp], depths: NDArray[np.intp], apart: int
) -> tuple[int, ...]:
    """Return a largest set of tips of a tree that are pairwise at least `apart` from each other.

    Tips are taken by falling depth, each if it is far from all taken before. That is exact: of
    the tips nearer than `apart` to the deepest one v, any two are no farther from each other
    than from v (four-point condition with the root), so at most one of them can be in a set, and
    v can take its place.

    Parameters
    ----------
    distances
        (n, n) tree distances.
    depths
        (n,) distance of each tip from any one node of the tree.
    apart
        The least distance.
    """
    taken: list[int] = []
    for tip in sorted(range(len(depths)), key=lambda k: (-int(depths[k]), k)):
        if not taken or distances[tip, taken].min() >= apart:
            taken.append(tip)
    return tuple(taken)


def packing_counts(distances: NDArray[np.intp]) -> tuple[tuple[int, int], ...]:
    """Return (d, m) for every tree distance d that matters: m tips are pairwise d apart.

    Of equal m only the greatest d is kept.
    """
    depths = distances[0]
    best: dict[int, int] = {}
    for apart in np.unique(distances[distances > 0]).tolist():
        best[len(most_apart(distances, depths, apart))] = apart
    return tuple((apart, m) for m, apart in sorted(best.items()) if m > 1)


def most_points(size: Size, apart: int) -> int:
    """Return how many points pairwise `apart` in max metric a grid holds at most.

    Half-open cells of side `apart` cover the grid, and each holds one point at most.
    """
    return (size[0] // apart + 1) * (size[1] // apart + 1)


def too_small(size: Size, counts: tuple[tuple[int, int], ...]) -> str:
    """Return why a grid cannot hold tips by counting, or an empty text."""
    for apart, m in counts:
        most = most_points(size, apart)
        if most < m:
            return f"counting: {m} tips are pairwise {apart} cells apart, and it has room for {most}"
    return ""


def widely_spaced(board: Board, most: int) -> tuple[int, ...]:
    """Return some tips that are far apart from each other in the tree, twins with their images.

    Tips are added one by one, each time the one whose least distance to those taken is greatest,
    longer flaps first: leaving tips out never makes a board too small.
    """
    far = board.distances.sum(axis=1)
    taken = _with_image(board, int(np.argmax(far)))
    while True:
        left = [k for k in range(board.n) if k not in taken]
        if not left:
            break
        near = board.distances[np.ix_(left, taken)].min(axis=1)
        best = max(range(len(left)), key=lambda r: (int(near[r]), int(far[left[r]]), -left[r]))
        more = _with_image(board, left[best])
        if len(taken) + len(more) > most:
            break
        taken += more
    return tuple(sorted(taken))


def _with_image(board: Board, tip: int) -> list[int]:
    return sorted({tip, int(board.mirror[tip])})
