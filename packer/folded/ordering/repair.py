"""What a tour leaves out, put into its order: larger parts as blocks, single molecules exactly.

A molecule some of whose layers have no place in its ring, or whose ring is at fault, is put in whole
by a search: into the order of all others, or before what hangs from it; that then follows as one
block, in its own order, or else molecule by molecule. Where a molecule finds no place some of its
neighbours are taken out and put in again with it.
"""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.folded.ordering.blocks import with_block
from packer.folded.ordering.insertion import inserted
from packer.folded.ordering.states import faulty_layers
from packer.folded.ordering.tour import toured

if TYPE_CHECKING:
    from packer.deadline import Deadline
    from packer.folded.ordering.rings import Molecules
    from packer.folded.ordering.tour import Tour

MOST_LOOSENED: Final = 2
"""Neighbours of a molecule that are taken out and put in again with it."""


def repaired(
    molecules: Molecules, tour: Tour, attempt: int, deadline: Deadline
) -> list[int] | None:
    """Return an order of all layers, None where something found no place.

    Parameters
    ----------
    molecules
        Of the pattern.
    tour
        A tour that leaves out molecules or layers of them.
    attempt
        The greater, the more neighbours of a molecule are taken out with it; every third puts
        in what is missing before what hangs from it, the others around that. From 3 on places are
        taken at random.
    deadline
        When to give up.
    """
    repair = _Repair(molecules, tour, attempt, deadline)
    repair.run()
    return None if repair.alone else repair.order


def faulty_molecules(tour: Tour) -> list[int]:
    """Return the molecules of a tour in whose own ring a crease crosses a layer."""
    rings = tour.rings.items()
    return [k for k, ring in rings if faulty_layers(tour.molecules, k, ring)]


def neighbours(molecules: Molecules, molecule: int) -> set[int]:
    """Return the molecules that share a gap with another."""
    ring = molecules.all[molecule].ring
    gaps = [gap for gap in ring.gaps if gap >= 0] if ring else []
    return {k for gap in gaps for k in molecules.joined_by_gap[gap]} - {molecule}


class _Repair:
    """An order that grows, and the molecules that found no place in it."""

    def __init__(
        self, molecules: Molecules, tour: Tour, attempt: int, deadline: Deadline
    ) -> None:
        self.molecules, self.tour, self.deadline = molecules, tour, deadline
        self.rng = np.random.default_rng(attempt) if attempt > 2 and attempt % 3 else None
        self.loosened = min(attempt // 3, MOST_LOOSENED)
        self.in_place = attempt % 3 != 2
        self.all_places = attempt % 3 != 0
        self.order: list[int] = []
        self.alone: list[int] = []

    def run(self) -> None:
        """Put in the tree from its top down, then what is not in it."""
        if self.in_place:
            self._around()
        else:
            self._downwards()
        left = set(range(len(self.molecules.all))) - self.tour.rings.keys()
        while left:
            left -= self._with_part(left)
        for count in range(self.loosened + 1):
            for molecule in list(self.alone):
                self._again(molecule, count)
        if self.deadline.over:
            self.alone = self.alone or [self.tour.start]

    def _around(self) -> None:
        """Put in what is missing while all that hangs from it keeps its place."""
        missing = [*self.tour.missing, *faulty_molecules(self.tour)]
        self.order = [
            x for x in self.tour.order() if int(self.molecules.molecule_of[x]) not in missing
        ]
        for molecule in missing:
            self._with_one(molecule)

    def _downwards(self) -> None:
        """Put in what is missing before what hangs from it."""
        todo = [self.tour.start]
        while todo and not self.deadline.over:
            top = todo.pop(0)
            if top in self.tour.missing or not self._with_block(self.tour.order(top)):
                self._with_one(top)
                todo += self.tour.below(top)
            else:
                todo += self._torn_off(top)

    def _with_block(self, block: list[int]) -> bool:
        order = with_block(self.molecules, self.order, block) if self.order else block
        if order is not None:
            self.order = order
        return order is not None

    def _with_one(self, molecule: int) -> None:
        """Put in a molecule, or note that it found no place."""
        new = sorted(self.molecules.all[molecule].layers)
        conditions = self.molecules.conditions
        order = inserted(conditions, self.order, new, self.rng, all_places=self.all_places)
        if order is None:
            self.alone.append(molecule)
        else:
            self.order = order

    def _torn_off(self, top: int) -> list[int]:
        """Return the first molecules with missing layers on each way down from another."""
        torn: list[int] = []
        todo = [top]
        while todo:
            for other in self.tour.below(todo.pop()):
                (torn if other in self.tour.missing else todo).append(other)
        return torn

    def _with_part(self, left: set[int]) -> set[int]:
        """Put in a part of what is not in the tree; return what was dealt with."""
        molecules = self.molecules
        part = self._component(left)
        block = toured(molecules, part, whole=True)
        if block is None or len(block.rings) < 2:
            self.alone += sorted(part)
            return part
        if not self._with_block(block.order()):
            self.alone += sorted(block.rings)
        return set(block.rings)

    def _component(self, left: set[int]) -> set[int]:
        """Return the molecules that hang together with the first of those left."""
        component: set[int] = set()
        todo = {min(left)}
        while todo:
            k = todo.pop()
            component.add(k)
            todo |= (neighbours(self.molecules, k) & left) - component
        return component

    def _again(self, molecule: int, loosened: int) -> None:
        """Put in one molecule, with so many neighbours taken out and put in again."""
        molecules, order = self.molecules, self.order
        near = neighbours(molecules, molecule) - set(self.alone)
        for others in combinations(sorted(near), loosened):
            if self.deadline.over:
                return
            new = [x for k in (molecule, *others) for x in sorted(molecules.all[k].layers)]
            rest = [x for x in order if int(molecules.molecule_of[x]) not in others]
            longer = inserted(
                molecules.conditions, rest, new, self.rng, all_places=self.all_places
            )
            if longer is not None:
                self.order = longer
                self.alone.remove(molecule)
                return
