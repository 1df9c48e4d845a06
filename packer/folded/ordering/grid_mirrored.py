"""Orders of a mirrored box-pleated pattern that fold as many creases as can be like their images.

Only roots on the mirror line are looked at from which the folded form is its own image. From each some
tours are grown in mirror pairs, which is quick, and the one with fewest creases unlike their image is
where searches begin: near it, then from each root in which an order that is its own image contradicts
nothing at first sight, then for as many creases as can be (`packer.folded.ordering.most_alike`).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import zip_longest
from random import Random
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.folded.ordering.grid_images import images_of
from packer.folded.ordering.grid_mirrored_tour import grown_mirrored
from packer.folded.ordering.grid_rings import GridRings
from packer.folded.ordering.grid_tour import starts
from packer.folded.ordering.mirror import unlike_images
from packer.folded.ordering.mirrored import MirroredSearch
from packer.folded.ordering.mirrored_layers import MirroredLayers
from packer.folded.ordering.most_alike import most_alike

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern
    from packer.deadline import Deadline
    from packer.folded.ordering.grid_tour import GridTour
    from packer.folded.ordering.mirror import MirrorImages

MOST_TOURS: Final = 24
FEW_TOURS: Final = 3
TOURED_FACES: Final = 150_000
"""Tours grown from one root, and the faces of all these together, but never fewer than the few."""

TOURING: Final = 0.3
"""Share of the time for these tours: where none takes in all rings, others must be tried."""

GRID_CONFLICTS: Final = 100_000
"""Contradictions after which a search for as many creases alike as can be ends."""

STARTS_A_TOUR: Final = 8
"""Places at which tours are begun for each tour that is asked for."""

WEIGHTS: Final = (0.0, 3.0)
"""What creases above a place count for, in turns (`grown_mirrored`): with none some patterns have no tour
that takes in all rings, with more the others have more creases unlike their image."""


@dataclass(frozen=True, eq=False)
class RootedOrder:
    """An order of all layers with the rings of the root it was made from.

    Attributes
    ----------
    rings
        Of the pattern, seen from the root.
    rank
        (layers,) the place of each layer.
    shown
        Of how many creases unlike their image it is shown that they must be.
    """

    rings: GridRings
    rank: NDArray[np.intp]
    shown: int = 0


class MirroredRoots:
    """The roots of a mirrored pattern from which its folded form is its own image.

    Attributes
    ----------
    rings
        The pattern as each of these roots sees it.
    nearest
        Of each root the tour that leaves least out, and of these one with fewest creases unlike.
    """

    def __init__(
        self,
        pattern: CreasePattern,
        roots: list[int],
        mirror: MirrorImages,
        deadline: Deadline,
        progress: Callable[[str], None],
    ) -> None:
        self.mirror, self.deadline, self.progress = mirror, deadline, progress
        self._touring = deadline.share(TOURING)
        self.most = max(FEW_TOURS, min(MOST_TOURS, TOURED_FACES // len(pattern.faces)))
        self.rings = []
        for root in roots:
            if not self._touring.over:
                rings = GridRings(pattern, root)
                if rings.whole and images_of(rings, mirror) is not None:
                    self.rings.append(rings)
        self.nearest: dict[int, GridTour] = {}

    def toured(self) -> list[RootedOrder]:
        """Return the best order of each root that tours alone give, the one with fewest creases unlike first."""
        best: dict[int, tuple[int, int]] = {}
        for k, tour in self._in_turns():
            here = (
                len(tour.left),
                0 if tour.left else self._unlike(self.rings[k], _rank(tour)),
            )
            if k not in best or here < best[k]:
                best[k], self.nearest[k] = here, tour
            if not any(here):
                break
        rows = sorted((unlike, k) for k, (left, unlike) in best.items() if not left)
        return [RootedOrder(self.rings[k], _rank(self.nearest[k])) for _, k in rows]

    def searched(self, known: RootedOrder) -> RootedOrder:
        """Return an order that folds more creases like their images; the known one where none is found."""
        self.progress("layer order, folds like their mirror images")
        layers = MirroredLayers(known.rings, self.mirror)
        search = MirroredSearch(layers, self.deadline)
        rank = search.alike_near(np.argsort(known.rank).tolist()).rank
        if rank is not None:
            return RootedOrder(known.rings, rank)
        whole = self._near_others(known) or self._own_image()
        if whole is not None:
            return whole
        most = most_alike(layers, known.rank, GRID_CONFLICTS, self.deadline, self.progress)
        return RootedOrder(known.rings, most.rank, most.shown)

    def _near_others(self, known: RootedOrder) -> RootedOrder | None:
        """Return an order near the tours of other roots that folds every crease alike."""
        for k, rings in enumerate(self.rings):
            tour = self.nearest.get(k)
            if tour is None or tour.left or rings is known.rings or self.deadline.over:
                continue
            self.progress(f"layer order, folds like their mirror images, root {k + 1}")
            search = MirroredSearch(MirroredLayers(rings, self.mirror), self.deadline)
            rank = search.alike_near(tour.order()).rank
            if rank is not None:
                return RootedOrder(rings, rank)
        return None

    def _own_image(self) -> RootedOrder | None:
        """Return an order that is its own image, from any root; None where none was found.

        Roots are tried from which least is unknown then.
        """
        searches = []
        for k, rings in enumerate(self.rings):
            self.progress(f"layer order that is its own image, root {k + 1}")
            search = MirroredSearch(MirroredLayers(rings, self.mirror), self.deadline)
            if k in self.nearest and not self.deadline.over:
                conditions = search.own_image_conditions
                if conditions is not None:
                    searches.append((len(conditions.unknowns), k, search))
        for unknowns, k, search in sorted(searches):
            if not self.deadline.over:
                self.progress(f"layer order that is its own image, {unknowns} unknowns")
                rank = search.own_image_order(self.nearest[k].order()).rank
                if rank is not None:
                    return RootedOrder(self.rings[k], rank)
        return None

    def _in_turns(self) -> Iterator[tuple[int, GridTour]]:
        """Yield tours with the number of their root, one from each root in turn: any may be the best."""
        for number, tours in enumerate(zip_longest(*map(self._tours, self.rings))):
            self.progress(
                f"layer order, mirrored tour {number + 1} from {len(self.rings)} roots"
            )
            yield from ((k, tour) for k, tour in enumerate(tours) if tour is not None)

    def _tours(self, rings: GridRings) -> Iterator[GridTour]:
        """Yield tours from one root; such that soon find no place for most rings are not counted."""
        images = images_of(rings, self.mirror)
        assert images is not None
        places = starts(rings, images, self._touring)
        count = 0
        for k, place in enumerate(places[: STARTS_A_TOUR * self.most]):
            if self._touring.over or count == self.most:
                return
            tour = grown_mirrored(rings, place, images, WEIGHTS[k % len(WEIGHTS)], Random(k))
            count += len(tour.left) < len(rings.polygon_of) / 2
            yield tour

    def _unlike(self, rings: GridRings, rank: NDArray[np.intp]) -> int:
        return len(unlike_images(rings, rank, self.mirror))


def _rank(tour: GridTour) -> NDArray[np.intp]:
    return np.argsort(np.array(tour.order()))
