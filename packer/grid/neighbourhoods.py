"""The neighbourhoods of the search: which tips to place anew on a smaller grid.

The tips that stay keep the direction in which they lie from each other, so they need as many
cells as their longest chain: a critical path, tip after tip in one direction. So tips are freed
around one of them, and then from every chain that is too long, until none is.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from packer.grid.grid_params import DEFAULT
from packer.grid.relations import ways_taken

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from packer.grid.board import Board, GridPoint, Pair
    from packer.grid.grid_params import GridSearchParams


def set_free(
    board: Board,
    places: Sequence[GridPoint],
    rng: np.random.Generator,
    about: int,
    params: GridSearchParams = DEFAULT,
) -> NDArray[np.bool_]:
    """Return (n,) which tips to place anew on a board, twins with their images.

    Parameters
    ----------
    board
        The board to be filled.
    places
        A filling of a board that is no smaller.
    rng
        Chooses the middle, and randomises the distances from it.
    about
        Tips, or pairs of twins, to free around the middle; more where chains are too long.
    params
        How far distances are randomised.
    """
    at = np.array(places)
    away = np.abs(at - at[rng.integers(board.n)]).max(axis=1) * rng.uniform(
        *params.distance_factors, board.n
    )
    away = np.minimum(away, away[board.mirror])
    free = np.zeros(board.n, dtype=bool)
    for tip in np.argsort(away, kind="stable")[: 2 * about].tolist():
        if free.sum() - (free & (board.mirror > np.arange(board.n))).sum() < about:
            free[[tip, board.mirror[tip]]] = True
    for before, side, coordinate in zip(orders(board, places), board.size, at.T, strict=True):
        while chain := too_long(
            before & ~free[:, None] & ~free[None, :],
            board.distances,
            np.argsort(coordinate, kind="stable"),
            side,
        ):
            tip = min(chain, key=away.__getitem__)
            free[[tip, board.mirror[tip]]] = True
    return free


def orders(board: Board, places: Sequence[GridPoint]) -> NDArray[np.bool_]:
    """Return (2, n, n) whether a tip is kept left of, and below another one."""
    x, y = np.array(places).T
    right = x[None, :] - x[:, None] - board.extent[:, None, 0]
    up = y[None, :] - y[:, None] - board.extent[:, None, 1]
    sideways = np.maximum(right, right.T) >= np.maximum(up, up.T)
    return np.array([sideways & (right > right.T), ~sideways & (up > up.T)])


def too_long(
    before: NDArray[np.bool_], distances: NDArray[np.intp], order: NDArray[np.intp], side: int
) -> list[int]:
    """Return a longest chain of tips, each before the next, if it does not fit a side.

    Parameters
    ----------
    before
        (n, n) which tip lies before which.
    distances
        (n, n) how far apart they are kept.
    order
        (n,) the tips in an order that agrees.
    side
        Cells there are.
    """
    reach = np.zeros(len(order), dtype=np.intp)
    last = np.full(len(order), -1, dtype=np.intp)
    for tip in order.tolist():
        earlier = np.flatnonzero(before[:, tip])
        if len(earlier):
            ends = reach[earlier] + distances[earlier, tip]
            best = int(np.argmax(ends))
            reach[tip], last[tip] = ends[best], earlier[best]
    tip = int(np.argmax(reach))
    if reach[tip] <= side:
        return []
    chain = [tip]
    while last[chain[-1]] >= 0:
        chain.append(int(last[chain[-1]]))
    return chain


def kept(board: Board, places: Sequence[GridPoint], free: NDArray[np.bool_]) -> dict[Pair, int]:
    """Return for every pair of tips that are not free the way in which they lie."""
    ways = ways_taken(board, places)
    return {pair: way for pair, way in ways.items() if not free[list(pair)].any()}
