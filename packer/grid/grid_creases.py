"""The crease pattern of a grid packing.

On the lattice of half cells every triangle (half a half cell) is straight in x or straight in y:
along one of them the height over the tree changes, along the other the paper goes up and down
between the axis and half a cell above it, folded on every whole line (axial) and every half line
(between). Straight triangles of two directions meet along diagonals x + y or x - y = whole, where
both heights agree: ridges. A contour is folded where the height along the tree turns back there;
at a joint of the tree it is a hinge, folded or flat, elsewhere the paper is folded back.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from packer.creases.pattern import CreasePattern
from packer.creases.plane_graph import trace_faces
from packer.errors import PatternError
from packer.grid.contours import contours, paths_from
from packer.model.tree import node_distances

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.creases.pattern import Fold, Role
    from packer.grid.contours import Contours
    from packer.grid.grid_packing import GridPacking

NONE, BORDER, AXIAL, BETWEEN, RIDGE, HINGE, FLAT, BACK = range(8)
_WORDS: Final[dict[int, tuple[Role, Fold]]] = {
    BORDER: ("border", "B"),
    AXIAL: ("axial", "U"),
    BETWEEN: ("between", "U"),
    RIDGE: ("ridge", "U"),
    HINGE: ("hinge", "U"),
    FLAT: ("hinge", "F"),
    BACK: ("fold-back", "U"),
}
_STEPS: Final = ((1, 0), (1, 1), (0, 1), (-1, 1))
"""East, north-east, north and north-west; the other four directions are their backs."""


def grid_creases(packing: GridPacking) -> CreasePattern:
    """Return the complete crease pattern of a grid packing.

    Folds are decided only where they follow: "B" on the border and "F" on flat hinges; all other
    creases are folded and wait for a layer order ("U").

    Raises
    ------
    PatternError
        Where the packing breaks its own rules, so that the paper would not fold.
    """
    lattice = contours(packing)
    upright, lines = _straight(lattice.heights)
    codes = _codes(packing, lattice, upright, lines)
    points, edges, kinds = _merged(codes)
    at = tuple(points.T)
    half = packing.cell / 2
    coordinates = points.astype(np.float64) * half
    tree = packing.tree
    index = {tuple(point): k for k, point in enumerate(points.tolist())}
    tips = {
        name: index[2 * x, 2 * y]
        for name, (x, y) in zip(tree.flaps, packing.places, strict=True)
    }
    where = _places(packing, lattice)
    words = [_WORDS[kind] for kind in kinds.tolist()]
    return CreasePattern(
        packing.sheet,
        coordinates,
        edges,
        tuple(role for role, _ in words),
        tuple(fold for _, fold in words),
        trace_faces(coordinates, edges),
        _elevation(lattice.heights)[at] * half,
        tuple(
            (edge, offset * half)
            for edge, offset in (
                where[tip][height]
                for tip, height in zip(
                    lattice.over[at].tolist(), lattice.heights[at].tolist(), strict=True
                )
            )
        ),
        tree,
        np.array(packing.lengths) * packing.cell,
        tips,
        split_rivers=packing.split_rivers,
        title=f"{packing.figure.name}, on a grid",
    )


def _straight(
    heights: NDArray[np.intp],
) -> tuple[NDArray[np.bool_], tuple[NDArray[np.bool_], NDArray[np.bool_]]]:
    """Return for both triangles of every half cell whether height changes along x.

    Returns
    -------
    (2, 2 W, 2 H) array
        For the lower and the upper triangle.
    pair of arrays
        Whether height changes along each lattice step in x, and in y.

    Raises
    ------
    PatternError
        Where a triangle is straight in neither or in both directions.
    """
    dx, dy = np.abs(np.diff(heights, axis=0)), np.abs(np.diff(heights, axis=1))
    rising = rises(dx.shape[0], dy.shape[1])
    lower = dx[:, :-1], np.where(rising, dy[1:], dy[:-1])
    upper = dx[:, 1:], np.where(rising, dy[:-1], dy[1:])
    if any((x + y != 1).any() for x, y in (lower, upper)):
        raise PatternError(
            "two tips are nearer than their tree distance, so the paper would not fold; pack again"
        )
    return np.array([lower[0] == 1, upper[0] == 1]), (dx == 1, dy == 1)


def rises(across: int, up: int) -> NDArray[np.bool_]:
    """Return for every half cell whether its diagonal on x - y = whole, not x + y, is the one."""
    a, b = np.indices((across, up))
    rising: NDArray[np.bool_] = (a + b) % 2 == 0
    return rising


def _elevation(heights: NDArray[np.intp]) -> NDArray[np.intp]:
    """Return the height above the axis of every lattice point, 0 or 1 half cell.

    On points of x + y whole both directions agree; on the others a single one is straight.
    """
    a, b = np.indices(heights.shape)
    along_x = np.zeros(heights.shape, dtype=bool)
    steps = np.diff(heights, axis=0) != 0
    along_x[:-1] |= steps
    along_x[1:] |= steps
    elevation: NDArray[np.intp] = np.where(along_x, b, a) % 2
    return elevation


def _codes(
    packing: GridPacking,
    lattice: Contours,
    upright: NDArray[np.bool_],
    lines: tuple[NDArray[np.bool_], NDArray[np.bool_]],
) -> NDArray[np.intp]:
    """Return (4, 2 W + 1, 2 H + 1) what the lattice step in each of `_STEPS` is."""
    heights = lattice.heights
    codes = np.zeros((4, *heights.shape), dtype=np.intp)
    joint = _on_joint(packing, lattice)
    east = _line_codes(heights, joint, lines[0])
    north = _line_codes(heights.T, joint.T, lines[1].T).T
    codes[0, :-1] = east
    codes[2, :, :-1] = north
    ridge = np.where(upright[0] != upright[1], RIDGE, NONE)
    rising = rises(*ridge.shape)
    codes[1, :-1, :-1] = np.where(rising, ridge, NONE)
    codes[3, 1:, :-1] = np.where(rising, NONE, ridge)
    return codes


def _line_codes(
    heights: NDArray[np.intp], joint: NDArray[np.bool_], along: NDArray[np.bool_]
) -> NDArray[np.intp]:
    """Return what every lattice step in x is; `along` tells whether height changes along it.

    A contour step is crossed by the triangle above it and the one below; the two apexes lie
    beyond the end that a half cell's diagonal leaves free.
    """
    across, rows = along.shape
    codes = np.zeros((across, rows), dtype=np.intp)
    codes[:, 0] = codes[:, -1] = BORDER
    inner = slice(1, rows - 1)
    line = np.broadcast_to(np.where(np.arange(rows) % 2, BETWEEN, AXIAL), along.shape)
    rising = rises(across, rows)
    above = np.where(rising[:, inner], heights[1:, 2:], heights[:-1, 2:])
    below = np.where(rising[:, : rows - 2], heights[:-1, :-2], heights[1:, :-2])
    folded = above == below
    on_joint = joint[:-1, inner] & joint[1:, inner]
    contour = np.select(
        [folded & on_joint, folded, on_joint], [HINGE, BACK, FLAT], default=NONE
    )
    codes[:, inner] = np.where(along[:, inner], line[:, inner], contour)
    return codes


def _on_joint(packing: GridPacking, lattice: Contours) -> NDArray[np.bool_]:
    """Return for every lattice point whether it lies over a joint of the tree."""
    tree = packing.tree
    depth = _half_depths(packing, lattice.root)
    above = np.zeros((tree.n_tips, int(depth.max()) + 1), dtype=bool)
    for tip, way in paths_from(tree, lattice.root).items():
        nodes = {node for edge in way for node in tree.ends[edge].tolist()} - {tip}
        above[tip, depth[list(nodes)]] = True
    return above[lattice.over, lattice.heights]


def _places(packing: GridPacking, lattice: Contours) -> dict[int, list[tuple[int, int]]]:
    """Return for every tip its way from the root: (edge, offset) for each half cell of height.

    Offsets are packing_counts from the edge's first end, in half cells; a node is written as an end of
    its lowest edge.
    """
    tree = packing.tree
    depth = _half_depths(packing, lattice.root)
    table: dict[int, list[tuple[int, int]]] = {}
    for tip, way in paths_from(tree, lattice.root).items():
        rows: list[tuple[int, int]] = []
        node = lattice.root
        for edge in way:
            first, second = tree.ends[edge].tolist()
            other = second if first == node else first
            length = int(depth[other] - depth[node])
            rows.append(_as_end(packing, node))
            rows += [
                (edge, step if first == node else length - step) for step in range(1, length)
            ]
            node = other
        table[tip] = [*rows, _as_end(packing, node)]
    return table


def _as_end(packing: GridPacking, node: int) -> tuple[int, int]:
    tree = packing.tree
    edge = min(e for _, e in tree.neighbours[node])
    return edge, 0 if tree.ends[edge, 0] == node else 2 * packing.lengths[edge]


def _half_depths(packing: GridPacking, root: int) -> NDArray[np.intp]:
    lengths = 2 * np.array(packing.lengths, dtype=float)
    depths: NDArray[np.intp] = np.rint(node_distances(packing.tree, lengths)[root]).astype(
        np.intp
    )
    return depths


def _merged(
    codes: NDArray[np.intp],
) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]:
    """Join lattice steps into long straight creases.

    Returns
    -------
    (v, 2) lattice points at which a crease ends or another one meets it; (e, 2) edges; (e,)
    their codes.
    """
    around = np.zeros((8, *codes.shape[1:]), dtype=np.intp)
    around[:4] = codes
    for k, (dx, dy) in enumerate(_STEPS):
        around[k + 4] = _shifted(codes[k], dx, dy)
    used = around > 0
    passing = np.zeros(codes.shape[1:], dtype=bool)
    for k in range(4):
        passing |= used[k] & (around[k] == around[k + 4])
    kept = used.any(axis=0) & ~(passing & (used.sum(axis=0) == 2))
    points = np.argwhere(kept)
    index = np.full(kept.shape, -1, dtype=np.intp)
    index[tuple(points.T)] = np.arange(len(points))
    edges: list[tuple[int, int]] = []
    kinds: list[int] = []
    grid = index.tolist()
    for k, (dx, dy) in enumerate(_STEPS):
        for start in np.flatnonzero(codes[k][kept] > 0).tolist():
            x, y = points[start].tolist()
            kinds.append(int(codes[k, x, y]))
            x, y = x + dx, y + dy
            while grid[x][y] < 0:
                x, y = x + dx, y + dy
            edges.append((start, grid[x][y]))
    return points, np.array(edges, dtype=np.intp), np.array(kinds, dtype=np.intp)


def _shifted(code: NDArray[np.intp], dx: int, dy: int) -> NDArray[np.intp]:
    """Return at each lattice point the code of the step that arrives there."""
    shifted = np.zeros_like(code)
    across, up = code.shape
    if dx >= 0:
        shifted[dx:, dy:] = code[: across - dx, : up - dy]
    else:
        shifted[:dx, dy:] = code[-dx:, : up - dy]
    return shifted
