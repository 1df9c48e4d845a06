"""The construction as a whole: a tour from each root, and what it leaves out put in exactly."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import islice
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.deadline import Deadline
from packer.folded.form import centre_of
from packer.folded.ordering.mirror import mirror_of, unlike_images, valleys
from packer.folded.ordering.repair import (
    MOST_ALONE,
    faulty_molecules,
    repaired,
    without_order,
    without_state,
)
from packer.folded.ordering.rings import Molecules
from packer.folded.ordering.tour import Images, toured

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern
    from packer.folded.ordering.mirror import MirrorImages
    from packer.folded.ordering.tour import Tour

MOST_ROOTS: Final = 6
"""Roots from which what a tour leaves out is put in; those with least left over go first."""

MOST_EVEN: Final = 6
"""Roots on the mirror line whose complete tours are compared by how many creases differ."""

FEW_ROOTS: Final = 8
FEW_LEFT: Final = 2
"""Roots after which no more are looked at where one leaves out so few molecules."""

FEW_LOOKED_AT: Final = 3
"""Roots from which a polygon without an order is looked for; of those met it had none from any."""

MOST_ATTEMPTS: Final = 9
"""Attempts at putting in what a tour leaves out, from each root: in turn after a tour of whole
molecules alone, around what hangs from crossed ones, and before it."""


@dataclass(frozen=True, eq=False)
class Construction:
    """A valid order of all layers of a pattern.

    Attributes
    ----------
    molecules
        Of the pattern, seen from the root that was taken.
    rank
        (layers,) the place of each layer in the order.
    added
        How many molecules the tour left out, put in afterwards by a search.
    uneven
        Creases whose mirror image is folded the other way; None where nothing is mirrored.
    aside
        How many molecules that are no mirror pairs hang to one side.
    roots
        How many roots were looked at.
    """

    molecules: Molecules
    rank: NDArray[np.intp]
    added: int
    uneven: int | None
    aside: int
    roots: int


def constructed(
    pattern: CreasePattern,
    deadline: Deadline | None = None,
    progress: Callable[[str], None] | None = None,
) -> Construction | None:
    """Return an order of all layers by construction, None where none was found.

    Joints of the tree are taken as roots from its centre outwards. The first from which a tour
    takes in all molecules wins; in a mirrored pattern the few first ones on the mirror line are
    compared. Where there is none, what a tour leaves out is put in.

    Parameters
    ----------
    pattern
        The creases.
    deadline
        When it gives up.
    progress
        Called with a few words whenever something new is tried.
    """
    search = _Roots(pattern, deadline or Deadline.after(), progress or (lambda _: None))
    return search.complete() or search.repaired()


def toured_whole(pattern: CreasePattern) -> bool:
    """Whether a tour from some root takes in all molecules, so that nothing is put in by search."""
    return _Roots(pattern, Deadline.after(), lambda _: None).complete(compared=1) is not None


def polygon_without_order(pattern: CreasePattern) -> tuple[str, ...]:
    """Return the flaps at the corners of a polygon that has no layer order by itself.

    Or of one that is too large to tell. Empty where all polygons have an order, seen from one of
    the first few joints as roots. One with a gusset at most has one, by all that is known.
    """
    flaps: tuple[str, ...] = ()
    if pattern.roles.count("gusset") < 2:
        return flaps
    for root in islice(joints_outwards(pattern), FEW_LOOKED_AT):
        molecules = Molecules(pattern, root)
        hard = [k for k in range(len(molecules.all)) if _hard(molecules, k)]
        if not hard:
            return ()
        wrong = min(hard, key=lambda k: len(molecules.all[k].layers))
        faces = np.flatnonzero(molecules.of_face == wrong)
        corners = {v for face in faces.tolist() for v in pattern.faces[face]}
        flaps = tuple(name for name, v in pattern.tips.items() if v in corners)
    return flaps


def _hard(molecules: Molecules, molecule: int) -> bool:
    """Whether a molecule has no order, or is large and has no ring without a fault."""
    member = molecules.all[molecule]
    if len(member.gussets) < 2 or not without_state(molecules, molecule):
        return False
    return len(member.layers) > MOST_ALONE or without_order(molecules, molecule)


def joints_outwards(pattern: CreasePattern) -> Iterator[int]:
    """Yield the joints of the pattern's tree, its centre first, neighbours before others."""
    order = [centre_of(pattern)]
    for node in order:
        yield node
        for other, _ in pattern.tree.neighbours[node]:
            if other >= pattern.tree.n_tips and other not in order:
                order.append(other)


class _Roots:
    """The roots of one pattern and what the tour from each leaves out."""

    def __init__(
        self,
        pattern: CreasePattern,
        deadline: Deadline,
        progress: Callable[[str], None],
    ) -> None:
        self.pattern, self.deadline, self.progress = pattern, deadline, progress
        self.mirror = mirror_of(pattern)
        self.left: list[tuple[int, int, int]] = []
        self.hopeless: dict[int, bool] = {}
        self.seen = 0

    def complete(self, compared: int = MOST_EVEN) -> Construction | None:
        """Return the best of so many orders that a tour alone gives."""
        best: Construction | None = None
        even = 0
        for root in self._ordered():
            if self.deadline.over or (best is not None and even >= compared):
                break
            if self.seen >= FEW_ROOTS and self.left and min(self.left)[0] <= FEW_LEFT:
                break
            self.seen += 1
            self.progress(f"layer order, root {self.seen}")
            molecules, tour = self._tour(root, whole=True)
            if tour is None:
                continue
            if tour.left:
                self.left.append((tour.left, self.seen, root))
                continue
            made = self._made(molecules, tour, tour.order())
            if made is None:
                self.left.append((len(faulty_molecules(tour)), self.seen, root))
            if made is not None and (best is None or _uneven(made) < _uneven(best)):
                best = made
            if best is not None and not _uneven(best):
                break
            even += 1
        return best

    def repaired(self) -> Construction | None:
        """Return the first order into which all that a tour left out could be put."""
        known: dict[int, Molecules] = {}
        tours: dict[tuple[int, bool], Tour | None] = {}
        for attempt in range(MOST_ATTEMPTS):
            whole = attempt % 3 == 0
            for *_, root in sorted(self.left)[:MOST_ROOTS]:
                if self.deadline.over:
                    return None
                key = root, whole
                if key not in tours:
                    known[root], tours[key] = self._tour(root, known.get(root), whole=whole)
                molecules, tour = known[root], tours[key]
                if tour is None or self._hopeless(root, tour):
                    continue
                self.progress(f"layer order, {tour.left} molecules left to put in")
                order = repaired(molecules, tour, attempt, self.deadline)
                made = None if order is None else self._made(molecules, tour, order)
                if made is not None:
                    return made
        return None

    def _hopeless(self, root: int, tour: Tour) -> bool:
        """Whether a molecule that a tour from a root leaves out has no order, even by itself."""
        if root not in self.hopeless:
            left = set(range(len(tour.molecules.all))) - tour.rings.keys() | tour.missing.keys()
            self.hopeless[root] = any(without_order(tour.molecules, k) for k in sorted(left))
        return self.hopeless[root]

    def _ordered(self) -> list[int]:
        """Return the roots to try: those on the mirror line first."""
        roots = list(joints_outwards(self.pattern))
        return sorted(roots, key=lambda root: not self._even(root))

    def _even(self, root: int) -> bool:
        tree = self.pattern.tree
        at = np.arange(tree.n_nodes)
        at[tree.ends] = tree.ends[tree.twin]
        return self.mirror is None or bool(at[root] == root)

    def _tour(
        self, root: int, molecules: Molecules | None = None, *, whole: bool = False
    ) -> tuple[Molecules, Tour | None]:
        if molecules is None:
            molecules = Molecules(self.pattern, root)
        images = None
        if self.mirror is not None and self._even(root):
            images = images_of(molecules, self.mirror)
        return molecules, toured(molecules, None, images, whole=whole)

    def _made(self, molecules: Molecules, tour: Tour, order: list[int]) -> Construction | None:
        """Return a complete order with the ridges as valleys; None where it does not hold."""
        rank = np.empty(len(order), dtype=np.intp)
        rank[order] = np.arange(len(order))
        if any(len(faults) for faults in molecules.crossings.faults(rank)):
            return None
        if _mountain_ridges(molecules, rank):
            rank = len(order) - 1 - rank
        uneven = None
        if self.mirror is not None:
            uneven = len(unlike_images(molecules, rank, self.mirror))
        return Construction(molecules, rank, tour.left, uneven, tour.aside, self.seen)


def images_of(molecules: Molecules, mirror: MirrorImages) -> Images:
    """Return the mirror images of molecules and layers."""
    return Images(
        mirror.of_sets(molecules.of_face), mirror.of_sets(molecules.layer_of), mirror.vertices
    )


def _mountain_ridges(molecules: Molecules, rank: NDArray[np.intp]) -> bool:
    """Whether more ridges are mountains than valleys."""
    ridge = np.array(molecules.pattern.roles)[molecules.creases[:, 0]] == "ridge"
    return bool(valleys(molecules.creases, molecules.flipped, rank)[ridge].mean() < 0.5)


def _uneven(made: Construction) -> int:
    return made.uneven or 0
