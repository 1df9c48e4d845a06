"""A proven bound by area: squares and river bands need more paper than a grid has.

Hang the tree from a joint. For a point v of the tree let U(v) be the union of the squares of
radius d(tip, v) around the tips at or beyond it. The pair rule keeps the insides of these regions
apart for branches of one joint, and a step of length r towards the root grows U by a square of
radius r. The sheet and a margin of m cells around it is the box B, here p x q. What lies in B of
U has an area of at least:

- nothing at a tip, and 2 r (2 r + w) after growing one that is a line of w cells by r; at a joint the sum over its branches;
- (sqrt(a) + 2 r)^2 after growing an area a by r, while no tip beyond is farther than m away: all of
  U lies in B then, and this is the inequality of Brunn and Minkowski in the plane;
- after that, where the edge of B may cut the growth off, `clipped_growth` (proof there).

At the root this can be no more than p q. Without a margin squares at the edge would count only
a quarter; with one as wide as their radius they count fully, as N = 2 L (ceil(sqrt n) - 1) for n
equal flaps needs, which this bound gives for square numbers n. So several margins are tried.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from packer.model.tree import walk
from packer.units import HOLDS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.grid.board import Size
    from packer.model.tree import Tree


def overfull(tree: Tree, lengths: tuple[int, ...], size: Size, root: int) -> str:
    """Return why a grid has too little paper for a figure, or an empty text.

    Parameters
    ----------
    tree, lengths
        The figure with whole lengths of its parts in cells.
    size
        Cells across and up.
    root
        The joint (a node of the tree) to hang the tree from; each gives a bound of its own.
    """
    depth = dict.fromkeys(range(len(tree.neighbours)), 0)
    order = walk(tree, root)[::-1]
    for node, parent, edge in order:
        if parent >= 0:
            depth[parent] = max(depth[parent], depth[node] + lengths[edge])
    margin = np.arange(1, 2 * depth[root] + 1) / 2
    across, up = size[0] + 2 * margin, size[1] + 2 * margin
    least = {node: np.zeros(len(margin)) for node in depth}
    for node, parent, edge in order:
        if parent >= 0:
            free = np.clip(margin - depth[node], 0, lengths[edge])
            whole = (np.sqrt(least[node]) + 2 * free) ** 2
            if node < tree.n_tips and tree.widths:
                whole += 2 * free * tree.widths[node]
            least[parent] += clipped_growth(whole, lengths[edge] - free, across, up)
    filled = least[root] / (across * up)
    worst = int(np.argmax(filled))
    if filled[worst] <= 1 + HOLDS:
        return ""
    return (
        f"area: flaps and rivers seen from {tree.joints[root - tree.n_tips]} take "
        f"{filled[worst]:.1%} of the grid and {margin[worst]:g} cells around it"
    )


def clipped_growth(
    area: NDArray[np.float64],
    step: NDArray[np.float64],
    across: NDArray[np.float64],
    up: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return the least area in a box p x q after a region in it grows by a square of radius r.

    The least of (sqrt(a) + r)^2, a + p r, a + q r and p q - (sqrt(p q - a) - r)^2: a region in a
    corner, along a side, and all but a corner grow that little.

    Proof. In one dimension a part S of [0, p] grows by r to at least min(|S| + r, p): at one of its
    ends, or where it comes near both ends of [0, p], into its widest gap. So if each row of a
    region is pushed to the left to become one piece, no row of the grown region becomes longer
    (it is at least as long as each of the rows it grew from, grown). The same holds for
    columns; so the region may be taken to be a staircase in the corner, w wide, h high, w h >= a.

    1. w + r <= p, h + r <= q: rows grow by r h, then columns by r (w + r), together to
       a + r (w + h) + r^2 >= (sqrt(a) + r)^2.
    2. w + r > p, h + r <= q: once rows are grown there is something in every column, and each grows
       by r: at least a + p r. Likewise a + q r with sides exchanged.
    3. w + r > p, h + r > q: what is left over is a staircase in the opposite corner, of area b and
       at least r from the two sides here. Grown by r back towards this corner it stays in the box
       and clear of the region, and by 1 it has (sqrt(b) + r)^2 <= p q - a.

    Parameters
    ----------
    area, step, across, up
        Arrays of one shape: a, r, p and q; an area beyond p q counts as p q.
    """
    whole = across * up
    area = np.minimum(area, whole)
    left = np.maximum(np.sqrt(whole - area) - step, 0)
    corner, side = (np.sqrt(area) + step) ** 2, area + np.minimum(across, up) * step
    least: NDArray[np.float64] = np.minimum(np.minimum(corner, side), whole - left**2)
    return least
