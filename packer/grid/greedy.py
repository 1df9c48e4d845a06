"""A greedy filling of a board: one tip after the other where it blocks fewest points."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from packer.grid.grid_params import DEFAULT
from packer.grid.relations import leaders

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.grid.board import Board, GridPoint
    from packer.grid.grid_params import GridSearchParams


TIE_BREAK: Final = 0.5
"""Random amount added to the number of points that a place takes; below 1, so that it only breaks
ties."""


def greedy(
    board: Board, rng: np.random.Generator, tries: int, params: GridSearchParams = DEFAULT
) -> tuple[GridPoint, ...] | None:
    """Return places for all tips, or None where no try of several random orders succeeds.

    Tips far from the others in the tree go first, in an order that is randomised; each goes to
    the grid point that takes fewest open points from the tips that follow.
    """
    if not all(board.boxes):
        return None
    weight = board.distances.sum(axis=1).astype(float)
    start = {k: _open_points(board, k) for k in leaders(board)}
    for _ in range(tries):
        shuffled = (weight * rng.uniform(*params.shuffle, board.n)).tolist()
        order = sorted(start, key=shuffled.__getitem__, reverse=True)
        places = _fill(board, {k: start[k].copy() for k in order}, rng)
        if places is not None:
            return tuple(places[k] for k in range(board.n))
    return None


def _open_points(board: Board, tip: int) -> NDArray[np.bool_]:
    """Return (W + 1, H + 1) where a tip may lie as far as its place and its own image say."""
    w, h = board.size
    x, y = np.indices((w + 1, h + 1))
    open_points = np.zeros((w + 1, h + 1), dtype=bool)
    for a, b, c, d in board.open_boxes(tip):
        open_points[a : b + 1, c : d + 1] = True
    twin = int(board.mirror[tip])
    across, high = board.extent[tip].tolist()
    if board.symmetry == "diagonal":
        apart = np.maximum(x - y - high, y - x - across)  # to the image, which stands crosswise
        open_points &= (x == y) if twin == tip else apart >= board.distances[tip, twin]
    elif twin != tip:
        apart = np.maximum(w - 2 * x - 2 * across, 2 * x - w)
        open_points &= apart >= board.distances[tip, twin]
    return open_points


def _fill(
    board: Board, open_to: dict[int, NDArray[np.bool_]], rng: np.random.Generator
) -> dict[int, GridPoint] | None:
    places: dict[int, GridPoint] = {}
    todo = list(open_to)
    while todo:
        tip = todo.pop(0)
        here = open_to.pop(tip)
        if not here.any():
            return None
        taken = rng.uniform(0, TIE_BREAK, here.shape)
        twin = int(board.mirror[tip])
        taken += _taken(board, tip, open_to)
        if twin != tip:
            image = _taken(board, twin, open_to)
            taken += image.T if board.symmetry == "diagonal" else _turned(board, tip, image)
        taken[~here] = np.inf
        x, y = np.unravel_index(int(np.argmin(taken)), taken.shape)
        places[tip] = int(x), int(y)
        places[twin] = board.image(tip, places[tip])
        for other in todo:
            for one in {tip, twin}:
                a, b, c, d = _near(board, one, other, places[one])
                open_to[other][max(a, 0) : max(b, 0), max(c, 0) : max(d, 0)] = False
    return places


def _near(board: Board, tip: int, other: int, place: GridPoint) -> tuple[int, int, int, int]:
    """Return the half-open box of points of `other` that are too near to a tip at a place."""
    d = int(board.distances[tip, other])
    x, y = place
    (a, b), (u, v) = board.extent[tip].tolist(), board.extent[other].tolist()
    return x - d - u + 1, x + a + d, y - d - v + 1, y + b + d


def _turned(board: Board, tip: int, image: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return for every place of a tip what an array says of the place of its image."""
    where = np.arange(board.size[0], -1, -1) - int(board.extent[tip, 0])
    turned: NDArray[np.float64] = image[np.maximum(where, 0)]
    return turned


def _taken(
    board: Board, tip: int, open_to: dict[int, NDArray[np.bool_]]
) -> NDArray[np.float64]:
    """Return for every place of a tip how many open points it takes from the other ones.

    Others that lose a box of the same size and side are counted together.
    """
    alike: dict[tuple[int, int, int, int], list[int]] = {}
    for other in open_to:
        alike.setdefault(_near(board, tip, other, (0, 0)), []).append(other)
    w, h = board.size
    x, y = np.arange(w + 1), np.arange(h + 1)
    taken = np.zeros((w + 1, h + 1))
    total = np.zeros((w + 2, h + 2))
    for (a, b, c, d), others in alike.items():
        here = sum((open_to[other] for other in others), np.zeros((w + 1, h + 1)))
        total[1:, 1:] = here.cumsum(axis=0).cumsum(axis=1)
        left, right = np.clip(x + a, 0, len(x)), np.clip(x + b, 0, len(x))
        low, high = np.clip(y + c, 0, len(y)), np.clip(y + d, 0, len(y))
        rows = total[right] - total[left]
        taken += rows[:, high] - rows[:, low]
    return taken
