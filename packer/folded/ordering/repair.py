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
from packer.folded.ordering.insertion import impossible, inserted
from packer.folded.ordering.states import faulty_layers, states
from packer.folded.ordering.tour import toured

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from packer.deadline import Deadline
    from packer.folded.ordering.rings import Molecules
    from packer.folded.ordering.tour import Tour

MOST_LOOSENED: Final = 2
"""Neighbours of a molecule that are taken out and put in again with it."""

MOST_TOGETHER: Final = 60
"""Layers that are put in together, at most: 18 to 48 sufficed where any did, and an attempt at more takes
ten times as long as one from another root."""


MOST_ALONE: Final = 24
"""Layers of a molecule up to which it is asked whether it has an order at all: of 18 layers 20 to 240 steps
tell, while with 50 each step takes a twentieth of a second."""


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


def without_state(molecules: Molecules, molecule: int) -> bool:
    """Whether a molecule has no ring without a fault, from whichever gap."""
    ring = molecules.all[molecule].ring
    gaps = [gap for gap in ring.gaps if gap >= 0] if ring else []
    return not any(next(states(molecules, molecule, gap, strict=True), None) for gap in gaps)


def without_order(molecules: Molecules, molecule: int) -> bool:
    """Whether a molecule of few layers has no order, not even by itself, as a search shows."""
    layers = sorted(molecules.all[molecule].layers)
    return len(layers) <= MOST_ALONE and impossible(molecules.conditions, layers)


def neighbours(molecules: Molecules, molecule: int) -> set[int]:
    """Return the molecules that share a gap with another."""
    ring = molecules.all[molecule].ring
    gaps = [gap for gap in ring.gaps if gap >= 0] if ring else []
    return {k for gap in gaps for k in molecules.joined_by_gap[gap]} - {molecule}


class _Repair:
    """An order that grows, the molecules put in one by one, and those that found no place."""

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
        self.added: set[int] = set()

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
                self._again(molecule, self._groups(molecule, count))
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
        if not self._put_in([molecule], all_places=self.all_places):
            self.alone.append(molecule)

    def _put_in(self, group: Sequence[int], *, all_places: bool = True) -> bool:
        """Put in some molecules together, taking out first those of them that are in."""
        molecules = self.molecules
        new = [x for k in group for x in sorted(molecules.all[k].layers)]
        rest = [x for x in self.order if int(molecules.molecule_of[x]) not in group]
        order = inserted(molecules.conditions, rest, new, self.rng, all_places=all_places)
        if order is None:
            return False
        self.order = order
        self.added |= set(group)
        return True

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
        return self._around_one(min(left), left)

    def _around_one(self, molecule: int, among: set[int]) -> set[int]:
        """Return a molecule and those of some others that hang together with it."""
        component: set[int] = set()
        todo = {molecule}
        while todo:
            k = todo.pop()
            component.add(k)
            todo |= (neighbours(self.molecules, k) & among) - component
        return component

    def _groups(self, molecule: int, count: int) -> Iterator[Sequence[int]]:
        """Yield what is put in together with a molecule: more and more of what was put in round it.

        That may have taken its only place. With a `count` so many of its neighbours are taken out
        instead, whether they were put in or hang in the tree.
        """
        near = neighbours(self.molecules, molecule)
        if count == 0:
            yield (molecule,)
            group = [molecule]
            while wider := sorted(self._put_in_beside(group)):
                group += wider
                if sum(len(self.molecules.all[k].layers) for k in group) > MOST_TOGETHER:
                    return
                yield tuple(group)
            return
        for chosen in combinations(sorted(near - set(self.alone)), count):
            yield molecule, *chosen

    def _put_in_beside(self, group: Sequence[int]) -> set[int]:
        """Return the molecules that were put in and share a gap with one of a group."""
        near = set().union(*(neighbours(self.molecules, k) for k in group))
        return (near & self.added) - set(group)

    def _again(self, molecule: int, groups: Iterator[Sequence[int]]) -> None:
        """Put in a molecule that found no place, together with the first of some groups."""
        for group in groups:
            if self.deadline.over:
                return
            if self._put_in(group):
                self.alone.remove(molecule)
                return
