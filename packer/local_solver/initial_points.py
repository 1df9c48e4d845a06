"""Initial points: where the tips are put before the first local solve.

Points that keep the limbs of the tree together matter more than anything else in the search: the
mean scale of the optima they lead to is a quarter to a third above that from uniform points.
`python -m tests.benchmarks.search scale` compares both with another solver.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.local_solver.params import INITIAL
from packer.model.tree import walk

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.local_solver.params import InitialPointParams
    from packer.model.problem import Problem
    from packer.model.tree import Tree

Box = tuple[float, float, float, float]

LEAST_SPAN: Final = 1e-12
"""Extent below which points are not stretched over the sheet."""


def fresh_points(
    problem: Problem, rng: np.random.Generator, params: InitialPointParams = INITIAL
) -> NDArray[np.float64]:
    """Return (tips, 2) points for a new start, by one of the ways below."""
    if not problem.tree.rivers:
        if rng.random() < params.uniform_share:
            return uniform_points(problem, rng)
        return lattice_points(problem, rng, params)
    if rng.random() < params.projected_share:
        return projected_points(problem, rng, params)
    return sliced_points(problem, rng, params)


def uniform_points(problem: Problem, rng: np.random.Generator) -> NDArray[np.float64]:
    """Return tips anywhere on the sheet: a start where all flaps hang on one joint."""
    sheet = problem.sheet
    return rng.random((problem.tree.n_tips, 2)) * (sheet.width, sheet.height)


def lattice_points(
    problem: Problem, rng: np.random.Generator, params: InitialPointParams = INITIAL
) -> NDArray[np.float64]:
    """Return tips on a turned and stretched lattice of triangles, some places left empty.

    Many of the best known packings of more than 50 equal circles in a square are such a lattice
    with faults (P. G. Szabo et al., New Approaches to Circle Packing in a Square, Springer 2007).
    The lattice is turned by any angle, which finds more of them than one along the sides.
    """
    sheet, n = problem.sheet, problem.tree.n_tips
    size = np.array([sheet.width, sheet.height])
    places = n + int(rng.integers(0, 2 + n // 10))
    angle = rng.uniform(0, np.pi)
    c, s = np.cos(angle), np.sin(angle)
    reach = int(math.sqrt(places * sheet.diagonal / size.min())) + 4
    i, j = np.meshgrid(np.arange(-reach, reach + 1), np.arange(-reach, reach + 1))
    lattice = np.column_stack([(i + j / 2).ravel(), (j * math.sqrt(3) / 2).ravel()])
    lattice = (lattice + rng.random(2)) @ np.array([[c, s], [-s, c]])
    inner = np.argsort(np.abs(lattice / size).max(axis=1), kind="stable")[:places]
    points: NDArray[np.float64] = lattice[inner]
    low, high = points.min(axis=0), points.max(axis=0)
    points = (points - low) / np.maximum(high - low, LEAST_SPAN) * size
    points = points[rng.permutation(places)[:n]]
    points += params.lattice_noise * sheet.diagonal / math.sqrt(n) * rng.standard_normal((n, 2))
    return points


def projected_points(
    problem: Problem, rng: np.random.Generator, params: InitialPointParams = INITIAL
) -> NDArray[np.float64]:
    """Return a random planar projection of the tree metric, stretched over the sheet.

    The square roots of tree distances embed in Euclidean space (classical scaling, W. S.
    Torgerson, Psychometrika 17, 1952); a random plane through that embedding spreads the limbs.
    """
    d = problem.tree.distances
    n = len(d)
    centre = np.eye(n) - 1.0 / n
    values, vectors = np.linalg.eigh(-0.5 * centre @ d @ centre)
    spread = vectors * np.sqrt(np.maximum(values, 0.0))
    flat = spread @ (
        rng.standard_normal((n, 2)) * np.linspace(params.flattened, 1.0, n)[:, None]
    )
    flat -= flat.min(axis=0)
    flat /= np.maximum(flat.max(axis=0), LEAST_SPAN)
    margin = params.projection_margin
    flat = margin + (1 - 2 * margin) * flat
    flat += params.projection_noise * rng.standard_normal((n, 2))
    return onto_sheet(problem, np.clip(flat, 0.0, 1.0))


def sliced_points(
    problem: Problem, rng: np.random.Generator, params: InitialPointParams = INITIAL
) -> NDArray[np.float64]:
    """Return tips in the cells of a recursive slicing of the sheet that follows the tree."""
    tree = problem.tree
    held = np.zeros(tree.n_tips, dtype=bool)
    held[problem.leaders] = True
    root = tree.n_tips + int(rng.integers(len(tree.joints)))
    weight, children = _weights(tree, root, held)
    ratio = problem.sheet.width / problem.sheet.height
    wide = (ratio if problem.symmetry == "none" else ratio / 2) if ratio else 1.0
    out = np.full((tree.n_tips, 2), 0.5)
    todo: list[tuple[list[int], Box]] = [(list(children[root]), (0.0, 0.0, 1.0, 1.0))]
    while todo:
        nodes, box = todo.pop()
        if len(nodes) == 1:
            node = nodes[0]
            if node < tree.n_tips:
                at = params.cell_margin + (1 - 2 * params.cell_margin) * rng.random(2)
                out[node] = (
                    box[0] + at[0] * (box[2] - box[0]),
                    box[1] + at[1] * (box[3] - box[1]),
                )
                continue
            nodes = list(children[node])
            todo.append((nodes, box))
            continue
        part, rest, fraction = _halves(nodes, weight, rng)
        todo += _cut(part, rest, fraction, box, wide, rng)
    return onto_sheet(problem, out)


def _weights(
    tree: Tree, root: int, held: NDArray[np.bool_]
) -> tuple[NDArray[np.float64], dict[int, list[int]]]:
    """Return each subtree's share of paper and its children that hold any tip."""
    order = walk(tree, root)
    weight = np.zeros(tree.n_nodes)
    children: dict[int, list[int]] = {node: [] for node, _, _ in order}
    for node, parent, edge in reversed(order):
        length = float(tree.lengths[edge]) if edge >= 0 else 0.0
        if node < tree.n_tips:
            weight[node] = length**2 if held[node] else 0.0
        elif children[node]:
            weight[node] += length**2 + length * math.sqrt(weight[node])
        if parent >= 0 and weight[node] > 0:
            children[parent].append(node)
            weight[parent] += weight[node]
    return weight, children


def _halves(
    nodes: list[int], weight: NDArray[np.float64], rng: np.random.Generator
) -> tuple[list[int], list[int], float]:
    """Split shuffled subtrees into two groups of about equal weight."""
    order = [nodes[k] for k in rng.permutation(len(nodes))]
    sums = np.cumsum(weight[order])
    at = 1 + int(np.argmin(np.abs(sums[:-1] - sums[-1] / 2)))
    return order[:at], order[at:], float(sums[at - 1] / sums[-1])


def _cut(
    part: list[int],
    rest: list[int],
    fraction: float,
    box: Box,
    wide: float,
    rng: np.random.Generator,
) -> list[tuple[list[int], Box]]:
    """Cut a box in two in the ratio of two groups, more often across its longer side."""
    x0, y0, x1, y1 = box
    across, up = (x1 - x0) * wide, y1 - y0
    if rng.random() < across**2 / (across**2 + up**2):
        x = x0 + fraction * (x1 - x0)
        return [(part, (x0, y0, x, y1)), (rest, (x, y0, x1, y1))]
    y = y0 + fraction * (y1 - y0)
    return [(part, (x0, y0, x1, y)), (rest, (x0, y, x1, y1))]


def onto_sheet(problem: Problem, unit: NDArray[np.float64]) -> NDArray[np.float64]:
    """Stretch points of the unit square over the sheet, or over half of it under a symmetry.

    Under diagonal symmetry the square becomes the triangle above the diagonal: the first
    coordinate runs along the diagonal, the second away from it.
    """
    sheet = problem.sheet
    if problem.symmetry == "none":
        return unit * (sheet.width, sheet.height)
    if problem.symmetry == "book":
        return unit * (sheet.width / 2, sheet.height)
    along, off = unit[:, 0], unit[:, 1] * np.minimum(unit[:, 0], 1 - unit[:, 0])
    return np.column_stack([along - off, along + off]) * sheet.width
