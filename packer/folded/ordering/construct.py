"""The whole construction: roots, tours, what is left over put in."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from packer.folded.ordering.blocks import with_block
from packer.folded.ordering.insertion import inserted
from packer.folded.ordering.tour import toured

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.folded.ordering.rings import Molecules
    from packer.folded.ordering.tour import Tour


def completed(molecules: Molecules, tour: Tour, most: int = 0) -> list[int] | None:
    """Return the order of a tour with all molecules put in that it leaves out, else None."""
    order = tour.order()
    left = set(range(len(molecules.all))) - tour.rings.keys()
    alone: list[int] = []
    while left:
        part = _component(molecules, left)
        block = toured(molecules, part)
        if block is None or len(block.rings) < 2:
            left -= part
            alone += sorted(part)
            continue
        longer = with_block(molecules, order, block.order())
        left -= block.rings.keys()
        if longer is None:
            alone += sorted(block.rings)
        else:
            order = longer
    return _with_singles(molecules, order, alone, most)


def _with_singles(molecules: Molecules, order: list[int], alone: list[int], most: int) -> list[int] | None:
    """Put in molecules one by one, where needed with neighbours taken out and put in again."""
    for loosened in range(most + 1):
        for molecule in list(alone):
            longer = _with_one(molecules, order, molecule, loosened, set(alone))
            if longer is not None:
                order = longer
                alone.remove(molecule)
    return None if alone else order


def _with_one(
    molecules: Molecules, order: list[int], molecule: int, loosened: int, alone: set[int]
) -> list[int] | None:
    for others in combinations(_neighbours(molecules, molecule) - alone, loosened):
        new = [x for k in (molecule, *others) for x in sorted(molecules.all[k].layers)]
        rest = [x for x in order if int(molecules.molecule_of[x]) not in others]
        longer = inserted(molecules, rest, new)
        if longer is not None:
            return longer
    return None


def _neighbours(molecules: Molecules, molecule: int) -> set[int]:
    """Return the molecules that share a gap with another."""
    ring = molecules.all[molecule].ring
    gaps = [gap for gap in ring.gaps if gap >= 0] if ring else []
    return {k for gap in gaps for k in molecules.joined_by_gap[gap]} - {molecule}


def _component(molecules: Molecules, left: set[int]) -> set[int]:
    """Return the molecules that hang together with the first of those left."""
    found, todo = set(), [min(left)]
    while todo:
        k = todo.pop()
        if k in found:
            continue
        found.add(k)
        todo += _neighbours(molecules, k) & left
    return found
