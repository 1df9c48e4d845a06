"""The use of slack on a grid: longer flaps, and rivers joined into single bands."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from packer.errors import OptionError
from packer.grid.board import board_of
from packer.grid.contours import tips_below
from packer.model.tree import walk
from packer.units import HOLDS

if TYPE_CHECKING:
    from packer.grid.cp_sat import JointBranches
    from packer.grid.grid_packing import GridPacking
    from packer.model.tree import Tree


def lengthened(packing: GridPacking, most: float) -> GridPacking:
    """Return the packing with its loose flaps lengthened, tips where they are.

    Cell by cell the flap that is the shortest for what was asked goes first, twins together,
    until no flap can grow.

    Parameters
    ----------
    packing
        Any grid packing.
    most
        How far a flap may grow beyond the length asked, as a fraction.

    Raises
    ------
    OptionError
        Where `most` is no fraction of zero or more.
    """
    if not most >= 0:
        raise OptionError(f"{most:g} is no fraction; write a number such as 0.25", "lengthen")
    tree = packing.tree
    asked = tree.lengths / packing.unit
    lengths = list(packing.lengths)
    mirror = packing.board.mirror
    stuck: set[int] = set()
    while True:
        flaps = [
            k
            for k in range(tree.n_tips)
            if mirror[k] >= k
            and k not in stuck
            and lengths[k] + 1 <= asked[k] * (1 + most) * (1 + HOLDS)
        ]
        if not flaps:
            return replace(packing, lengths=tuple(lengths))
        flap = min(flaps, key=lambda k: (lengths[k] / asked[k], k))
        longer = list(lengths)
        for twin in {flap, int(mirror[flap])}:
            longer[twin] += 1
        if board_of(packing.problem, longer, packing.cells, packing.upright).violations(
            packing.places
        ):
            stuck.add(flap)
        else:
            lengths = longer


def joints_to_join(tree: Tree, root: int) -> tuple[JointBranches, ...]:
    """Return the branches of every joint that a river joins to the root, as groups of tips.

    A river is one band exactly where touching squares join the branches beyond its far joint,
    and those beyond each joint further out.
    """
    below = tips_below(tree, root)
    return tuple(
        tuple(tuple(below[child]) for child, _ in tree.neighbours[node] if child != parent)
        for node, parent, _ in walk(tree, root)
        if parent >= 0 and node >= tree.n_tips
    )
