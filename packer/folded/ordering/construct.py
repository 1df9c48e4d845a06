"""The construction as a whole: a tour from each root, and what it leaves out put in by search."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import islice
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.deadline import Deadline
from packer.folded.form import centre_of
from packer.folded.ordering.mirror import mirror_of, unlike_images, valleys
from packer.folded.ordering.mirrored import MirroredSearch
from packer.folded.ordering.mirrored_layers import MirroredLayers
from packer.folded.ordering.most_alike import most_alike
from packer.folded.ordering.rings import Molecules
from packer.folded.ordering.search import holds, put_in, without_order
from packer.folded.ordering.states import faulty_layers, states
from packer.folded.ordering.tour import Images, toured

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern
    from packer.folded.ordering.mirror import MirrorImages
    from packer.folded.ordering.tour import Tour

MOST_ROOTS: Final = 6
"""Roots from which what a tour leaves out is put in, and from which a mirrored order is searched; those
with least left over go first."""

MOST_EVEN: Final = 6
"""Roots on the mirror line whose complete tours are compared by how many creases differ."""

FEW_ROOTS: Final = 8
FEW_LEFT: Final = 2
"""Roots after which no more are looked at where one leaves out so few molecules."""

FEW_LOOKED_AT: Final = 3
"""Roots from which a polygon without an order is looked for; of those met it had none from any."""

MANY_CONFLICTS: Final = 6000
"""Contradictions after which a search ends that folds as many creases alike as can be: it takes mostly up to
some 1,500, once 4,700."""


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
    unlike
        Creases whose mirror image is folded the other way; None where nothing is mirrored.
    shown
        Of how many of these it is shown that they cannot be alike while the others stay so.
    roots
        How many roots were looked at.
    aside
        Whether the root lies off the mirror line, since none on it gave an order.
    """

    molecules: Molecules
    rank: NDArray[np.intp]
    added: int
    unlike: int | None
    shown: int
    roots: int
    aside: bool = False


def constructed(
    pattern: CreasePattern,
    deadline: Deadline | None = None,
    progress: Callable[[str], None] | None = None,
) -> Construction | None:
    """Return an order of all layers by construction, None where none was found.

    Joints of the tree are taken as roots from its centre outwards. The first from which a tour
    takes in all molecules wins; where there is none, what a tour leaves out is put in. In a mirrored
    pattern the roots on the mirror line come first, and orders are searched that fold each crease
    like its image.

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
    made = search.complete()
    if search.mirror is not None and (made is None or made.unlike):
        try:
            return search.mirrored(made)
        except KeyboardInterrupt:
            return made
    return made or search.completed()


def toured_whole(pattern: CreasePattern) -> bool:
    """Whether a tour from some root takes in all molecules, so that nothing is put in by search."""
    return _Roots(pattern, Deadline.after(), lambda _: None).complete(compared=1) is not None


def polygon_without_order(pattern: CreasePattern) -> tuple[str, ...]:
    """Return the flaps at the corners of a polygon that has no layer order by itself.

    Empty where all polygons have an order, seen from one of the first few joints as roots. One with
    a gusset at most has one, by all that is known.
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
    """Whether a molecule has no order, which is only asked where it has no ring without a fault."""
    member = molecules.all[molecule]
    if len(member.gussets) < 2:
        return False
    gaps = [gap for gap in member.ring.gaps if gap >= 0] if member.ring else []
    if any(next(states(molecules, molecule, gap, strict=True), None) for gap in gaps):
        return False
    return without_order(molecules, molecule)


def joints_outwards(pattern: CreasePattern) -> Iterator[int]:
    """Yield the joints of the pattern's tree, its centre first, neighbours before others."""
    order = [centre_of(pattern)]
    for node in order:
        yield node
        for other, _ in pattern.tree.neighbours[node]:
            if other >= pattern.tree.n_tips and other not in order:
                order.append(other)


class _Roots:
    """The roots of one pattern and the tour from each.

    Attributes
    ----------
    tours
        The roots looked at, in that order, each with its tour where there is one.
    """

    def __init__(
        self,
        pattern: CreasePattern,
        deadline: Deadline,
        progress: Callable[[str], None],
    ) -> None:
        self.pattern, self.deadline, self.progress = pattern, deadline, progress
        self.mirror = mirror_of(pattern)
        self.tours: dict[int, Tour] = {}
        self.seen = 0

    def complete(self, compared: int = MOST_EVEN) -> Construction | None:
        """Return the best of so many orders that a tour alone gives."""
        best: Construction | None = None
        even = 0
        for root in self._ordered():
            if self.deadline.over or (best is not None and even >= compared):
                break
            if self.seen >= FEW_ROOTS and any(t.left <= FEW_LEFT for t in self.tours.values()):
                break
            self.seen += 1
            self.progress(f"layer order, root {self.seen}")
            tour = self._tour(root)
            if tour is None:
                continue
            self.tours[root] = tour
            made = None if tour.left else self._toured(tour)
            if made is None:
                continue
            if best is None or _unlike(made) < _unlike(best):
                best = made
            if not _unlike(best):
                break
            even += 1
        return best

    def completed(self) -> Construction | None:
        """Return the first order into which all that a tour left out could be put."""
        for tour in self._promising():
            if self.deadline.over:
                break
            self.progress(f"layer order, {tour.left} molecules left to put in")
            rank = put_in(tour.molecules.crossings, _sound(tour), self.deadline)
            if rank is not None:
                return self._made(tour, rank)
        return None

    def mirrored(self, made: Construction | None) -> Construction | None:
        """Return an order that folds as many creases as can be like their images.

        Parameters
        ----------
        made
            An order that does not fold all so, if there is one.
        """
        assert self.mirror is not None
        tours = self._promising()
        best = 0
        for k, tour in enumerate(tours):
            if self.deadline.over:
                break
            self.progress("layer order, folds like their mirror images")
            search = MirroredSearch(MirroredLayers(tour.molecules, self.mirror), self.deadline)
            searched = search.all_alike(_sound(tour))
            if searched.rank is not None:
                return self._made(tour, searched.rank)
            if not searched.impossible:
                best = k
                break
        for tour in (tours[best], *tours[:best], *tours[best + 1 :]):
            alike = self._most_alike(tour, made)
            if alike is not None:
                return alike
        return made or self.completed()

    def _most_alike(self, tour: Tour, made: Construction | None) -> Construction | None:
        """Return an order from one root that folds as many creases as can be like their images.

        None where no order from that root is known or found.
        """
        assert self.mirror is not None
        molecules = tour.molecules
        rank = made.rank if made is not None and made.molecules is molecules else None
        if rank is None and not self.deadline.over:
            rank = put_in(molecules.crossings, _sound(tour), self.deadline)
        if rank is None:
            return None
        layers = MirroredLayers(molecules, self.mirror)
        best = most_alike(layers, rank, MANY_CONFLICTS, self.deadline, self.progress)
        aside = not self._even(molecules.form.root)
        return replace(self._made(tour, best.rank), shown=best.shown, aside=aside)

    def _promising(self) -> list[Tour]:
        """Return the tours that leave least out, in a mirrored pattern those from its line first."""
        tours = self.tours.values()
        return sorted(tours, key=lambda t: (not self._even(t.molecules.form.root), t.left))[
            :MOST_ROOTS
        ]

    def _ordered(self) -> list[int]:
        """Return the roots to try: those on the mirror line first."""
        roots = list(joints_outwards(self.pattern))
        return sorted(roots, key=lambda root: not self._even(root))

    def _even(self, root: int) -> bool:
        tree = self.pattern.tree
        at = np.arange(tree.n_nodes)
        at[tree.ends] = tree.ends[tree.twin]
        return self.mirror is None or bool(at[root] == root)

    def _tour(self, root: int) -> Tour | None:
        molecules = Molecules(self.pattern, root)
        images = None
        if self.mirror is not None and self._even(root):
            images = images_of(molecules, self.mirror)
        return toured(molecules, images)

    def _toured(self, tour: Tour) -> Construction | None:
        """Return the order of a complete tour; None where it does not hold."""
        rank = np.argsort(np.array(tour.order()))
        return self._made(tour, rank) if holds(tour.molecules.crossings, rank) else None

    def _made(self, tour: Tour, rank: NDArray[np.intp]) -> Construction:
        """Return a complete order with the ridges as valleys."""
        molecules = tour.molecules
        if _mountain_ridges(molecules, rank):
            rank = len(rank) - 1 - rank
        unlike = None
        if self.mirror is not None:
            unlike = len(unlike_images(molecules, rank, self.mirror))
        return Construction(molecules, rank, tour.left, unlike, 0, self.seen)


def _sound(tour: Tour) -> list[int]:
    """Return the order of a tour without the molecules whose own ring is at fault."""
    molecules = tour.molecules
    wrong = {k for k, ring in tour.rings.items() if faulty_layers(molecules, k, ring)}
    return [x for x in tour.order() if int(molecules.molecule_of[x]) not in wrong]


def images_of(molecules: Molecules, mirror: MirrorImages) -> Images:
    """Return the mirror images of molecules and layers."""
    return Images(
        mirror.of_sets(molecules.of_face), mirror.of_sets(molecules.layer_of), mirror.vertices
    )


def _mountain_ridges(molecules: Molecules, rank: NDArray[np.intp]) -> bool:
    """Whether more ridges are mountains than valleys."""
    ridge = np.array(molecules.pattern.roles)[molecules.creases[:, 0]] == "ridge"
    return bool(valleys(molecules.creases, molecules.flipped, rank)[ridge].mean() < 0.5)


def _unlike(made: Construction) -> int:
    return made.unlike or 0
