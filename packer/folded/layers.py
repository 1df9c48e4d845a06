"""A layer order of the whole flat base: for any two layers that overlap, which one is above.

An order is valid where no layer passes through another. Deciding that for any pattern of creases is
hard (Bern & Hayes, "The complexity of flat origami", SODA 1996); a uniaxial base has a structure
that gives an order nearly always (`packer.folded.ordering`).
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from packer.creases.mountain_valley import assigned
from packer.deadline import Deadline
from packer.folded.form import fold
from packer.folded.ordering.construct import constructed
from packer.folded.ordering.crossings import Crossings
from packer.folded.ordering.grid_construct import constructed_on_grid, on_grid
from packer.folded.ordering.judge import Judgement, judged
from packer.folded.overlaps import layers_of

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern
    from packer.folded.form import FoldedForm
    from packer.folded.overlaps import Layers

Status = Literal["valid layer order", "foldable at every vertex, layer order not found"]


@dataclass(frozen=True, eq=False)
class LayerOrder:
    """A valid order of the layers of a folded form.

    Attributes
    ----------
    layers
        The layers ordered.
    rank
        (n,) the place of each layer; of two that overlap the one with the greater rank is above.
    """

    layers: Layers
    rank: NDArray[np.intp]

    @cached_property
    def of_faces(self) -> NDArray[np.intp]:
        """(f,) the rank of the layer that each face belongs to."""
        return self.rank[self.layers.layer_of]

    def seen(self, *, back: bool = False) -> Mapping[int, object]:
        """Return what is seen of each layer that is not hidden, from above or from below."""
        return self._below if back else self._above

    @cached_property
    def _above(self) -> Mapping[int, object]:
        return self.layers.seen(self.rank)

    @cached_property
    def _below(self) -> Mapping[int, object]:
        return self.layers.seen(self.rank, back=True)


@dataclass(frozen=True, eq=False)
class FlatBase:
    """A pattern with its folds, the form it folds into, and its layer order if one was found.

    Attributes
    ----------
    pattern
        With "M", "V" and "F" where an order was found, else with every crease "U".
    form
        The folded form at the root that was used.
    order
        None where no order was found.
    seconds
        Taken.
    roots
        How many roots were tried.
    repaired
        Molecules that the construction left out and that a search put in.
    mirrored
        How mirrored the folds are.
    judgement
        What a judge that knows nothing of the construction found, and how much it looked at.
    """

    pattern: CreasePattern
    form: FoldedForm
    order: LayerOrder | None
    seconds: float = 0.0
    roots: int = 0
    repaired: int = 0
    mirrored: Mirrored = field(default_factory=lambda: Mirrored(None))
    judgement: Judgement = field(default_factory=lambda: Judgement(0))

    @property
    def status(self) -> Status:
        """What was found, in words that claim no more than was checked."""
        if self.order is None:
            return "foldable at every vertex, layer order not found"
        return "valid layer order"


@dataclass(frozen=True)
class Mirrored:
    """How many creases of a mirrored pattern are folded the other way than their mirror image.

    Attributes
    ----------
    unlike
        Their number; None where the pattern has no mirror line or no layer order.
    shown
        Of how many of them a search has shown that they cannot be folded like their image while all
        others that are stay so, in any order in one row with all flaps pointing away from the same
        joint. From another joint it may be fewer.
    aside
        Whether the flaps point away from a joint off the mirror line, since from none on it an order
        was found; hinges are then folded whose images are flat.
    boxed
        Whether the pattern is box-pleated: its strips are hung in mirror pairs where they can be.
    """

    unlike: int | None
    shown: int = 0
    aside: bool = False
    boxed: bool = False

    def __str__(self) -> str:
        if self.unlike is None:
            return "not looked at, or no mirror line"
        if not self.unlike:
            return "left as right"
        creases = f"{self.unlike} creases are folded the other way than their mirror image"
        if self.shown == self.unlike:
            why = (
                "a search of all orders with the flaps pointing away from this joint shows that none "
                "of them can be like it while the rest are"
            )
            if self.aside:
                why += "; from the joints on the mirror line no order was found"
        elif self.shown:
            why = (
                f"of {self.shown} of them a search of all orders with the flaps pointing away from "
                f"this joint shows that they cannot be like it while the rest are; for the others it "
                f"ended first"
            )
        elif self.boxed:
            why = (
                "strips on the mirror line without a place on it hang to one side; whether they "
                "could be like it was not decided, and more time may show"
            )
        else:
            why = "whether they could be like it was not decided"
        return f"{creases}: {why}"


SECONDS: Final = 60.0
"""Time after which the search for a layer order gives up where no deadline is given."""

LEAST_SECONDS: Final = 5.0
"""Time that it is given at least where others have used up theirs; it takes below 1 s for most figures."""


def ordering_deadline(deadline: Deadline) -> Deadline:
    """Return when a search for a layer order gives up that has what is left of some time, if there is a limit."""
    return Deadline.after(max(LEAST_SECONDS, deadline.left if deadline.limited else SECONDS))


def flat_base(
    pattern: CreasePattern,
    *,
    deadline: Deadline | None = None,
    progress: Callable[[str], None] | None = None,
) -> FlatBase:
    """Find mountain, valley and a valid layer order for a pattern.

    Parameters
    ----------
    pattern
        The creases; folds that it may have are decided anew.
    deadline
        When the search gives up; a minute from now by default.
    progress
        Called with a few words whenever something new is tried.

    Returns
    -------
    FlatBase
        After a KeyboardInterrupt with the order known until then, or without one, which its status says.
    """
    deadline = deadline or Deadline.after(SECONDS)
    clock = Deadline.after()
    base = None
    with suppress(KeyboardInterrupt):
        way = _on_grid if on_grid(pattern) else _off_grid
        base = way(pattern, deadline, progress)
    if base is None:
        plain = pattern.with_folds(["B" if role == "border" else "U" for role in pattern.roles])
        base = FlatBase(plain, fold(plain), None)
    return replace(base, seconds=clock.elapsed)


def _off_grid(
    pattern: CreasePattern, deadline: Deadline, progress: Callable[[str], None] | None
) -> FlatBase | None:
    made = constructed(pattern, deadline, progress)
    if made is None:
        return None
    form = made.molecules.form
    order = LayerOrder(layers_of(pattern, form), made.rank)
    decided = pattern.with_folds(folds_of(pattern, form, order))
    mirrored = Mirrored(made.unlike, made.shown, made.aside)
    return FlatBase(
        decided, form, order, roots=made.roots, repaired=made.added, mirrored=mirrored
    )


def _on_grid(
    pattern: CreasePattern, deadline: Deadline, progress: Callable[[str], None] | None
) -> FlatBase | None:
    made = constructed_on_grid(pattern, deadline, progress)
    if made is None:
        return None
    form = made.rings.form
    order = LayerOrder(layers_of(pattern, form), made.rank)
    decided = pattern.with_folds(folds_of(pattern, form, order))
    mirrored = Mirrored(made.unlike, made.shown, boxed=True)
    return FlatBase(
        decided,
        form,
        order,
        repaired=made.added,
        roots=made.roots,
        mirrored=mirrored,
        judgement=made.judgement,
    )


def base_of_ranks(pattern: CreasePattern, ranks: NDArray[np.intp] | None) -> FlatBase:
    """Return a folded pattern with the order that ranks of its faces give.

    Parameters
    ----------
    pattern
        With its folds decided.
    ranks
        (f,) of two faces that overlap the one with the greater rank is above; None where no order
        is known.

    Returns
    -------
    FlatBase
        Without an order where the ranks give none, layers would cross or the folds are others.
    """
    form = fold(pattern)
    base = FlatBase(pattern, form, None)
    if ranks is None or ranks.shape != (len(pattern.faces),):
        return base
    layers = layers_of(pattern, form)
    rank = np.zeros(len(layers.regions), dtype=np.intp)
    rank[layers.layer_of] = ranks
    if (rank[layers.layer_of] != ranks).any() or len(np.unique(rank)) != len(rank):
        return base
    rank = np.argsort(np.argsort(rank))
    order = LayerOrder(layers, rank)
    crossings = Crossings(pattern, form, layers.layer_of, layers.creases, layers.flipped)
    judgement = judged(crossings, rank)
    if judgement.faults or folds_of(pattern, form, order) != pattern.folds:
        return base
    return FlatBase(pattern, form, order, judgement=judgement)


def folds_of(
    pattern: CreasePattern, form: FoldedForm, order: LayerOrder
) -> tuple[Literal["B", "M", "V", "F", "U"], ...]:
    """Return the fold of every edge under a layer order."""
    left, right = pattern.edge_faces.T
    rank = order.of_faces
    return assigned(pattern, form.folded, form.flipped[left], rank[right] > rank[left])
