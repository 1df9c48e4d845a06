"""The wall: variants that were kept, each with its drawing and its packing."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from packer.errors import FigureError
from packer.files.json_values import as_list, as_object
from packer.files.packing_json import packing_of, packing_record
from packer.search.result.packing_distance import oriented_like
from packer.table.draft_json import draft_of, draft_record

if TYPE_CHECKING:
    from packer.model.packing import Packing
    from packer.table.draft import Draft

TELLING: Final = 5e-4
"""Relative change of a length below which a comparison keeps silent."""
MOVED: Final = 0.005
"""Share of the sheet's shorter side below which a tip counts as where it was."""


@dataclass(frozen=True, eq=False)
class Card:
    """A variant: a drawing, the packing at rest beside it, and its name."""

    number: int
    name: str
    draft: Draft
    packing: Packing


@dataclass(frozen=True)
class Wall:
    """Cards in the order in which they were kept."""

    cards: tuple[Card, ...] = ()
    last: int = 0

    def kept(self, name: str, draft: Draft, packing: Packing) -> Wall:
        """Return the wall with another card; one without a name is given a number."""
        number = self.last + 1
        card = Card(number, name.strip() or f"variant {number}", draft, packing)
        return Wall((*self.cards, card), number)

    def card(self, number: int) -> Card:
        """Return a card; a FigureError says that there is none."""
        for card in self.cards:
            if card.number == number:
                return card
        raise FigureError("that card is no longer on the wall")

    def called(self, number: int, name: str) -> Wall:
        """Return the wall with a card renamed."""
        if not name.strip():
            raise FigureError("a card needs a name; write some text")
        old = self.card(number)
        fresh = replace(old, name=name.strip())
        return replace(self, cards=tuple(fresh if c is old else c for c in self.cards))

    def without(self, number: int) -> Wall:
        """Return the wall with a card taken down."""
        gone = self.card(number)
        return replace(self, cards=tuple(card for card in self.cards if card is not gone))


@dataclass(frozen=True)
class VariantComparison:
    """How two cards differ.

    Attributes
    ----------
    scale
        Relative difference of their scales, the second against the first.
    parts
        (name, before, after) of parts that differ, lengths on a sheet of side 1 (the square root of
        its area); None where one has no such part.
    tips
        (name, from, to, share of the sheet's shorter side) of tips that moved, the farthest first.
    """

    scale: float
    parts: tuple[tuple[str, float | None, float | None], ...]
    tips: tuple[tuple[str, tuple[float, float], tuple[float, float], float], ...]


def compared(one: Packing, other: Packing) -> VariantComparison:
    """Return how two packings differ, the second turned to lie as the first does."""
    if other.problem == one.problem:
        other = oriented_like(other, one)
    sizes = [
        {
            name: length / packing.sheet.area**0.5
            for name, length in packing.sheet_lengths.items()
        }
        for packing in (one, other)
    ]
    names = list(dict.fromkeys([*sizes[0], *sizes[1]]))
    parts = [(name, sizes[0].get(name), sizes[1].get(name)) for name in names]
    stretch = np.array(
        [one.sheet.width / other.sheet.width, one.sheet.height / other.sheet.height]
    )
    theirs = dict(zip(other.tree.flaps, other.points * stretch, strict=True))
    side = min(one.sheet.width, one.sheet.height)
    tips = [
        (name, (float(a[0]), float(a[1])), (float(b[0]), float(b[1])), away)
        for name, a in zip(one.tree.flaps, one.points, strict=True)
        if (b := theirs.get(name)) is not None
        and (away := float(np.hypot(*(b - a))) / side) > MOVED
    ]
    return VariantComparison(
        other.scale * one.sheet.area**0.5 / (one.scale * other.sheet.area**0.5) - 1,
        tuple(p for p in parts if _differs(p[1], p[2])),
        tuple(sorted(tips, key=lambda tip: -tip[3])),
    )


def _differs(before: float | None, after: float | None) -> bool:
    if before is None or after is None:
        return True
    return abs(after / before - 1) > TELLING


def wall_record(wall: Wall) -> dict[str, Any]:
    """Return the wall as keys and values; `wall_of` gives an equal one back."""
    return {
        "last": wall.last,
        "cards": [
            {
                "number": card.number,
                "name": card.name,
                "draft": draft_record(card.draft),
                "packing": packing_record(card.packing),
            }
            for card in wall.cards
        ],
    }


def wall_of(value: object) -> Wall:
    """Make the wall of its record.

    Raises
    ------
    PackerError
        At the first entry that is missing or wrong.
    """
    record = as_object(value, "wall")
    try:
        cards = tuple(
            Card(
                int(row["number"]),
                str(row["name"]),
                draft_of(row["draft"]),
                packing_of(as_object(row["packing"], "wall.cards")),
            )
            for row in as_list(record["cards"], "wall.cards")
        )
        return Wall(cards, int(record["last"]))
    except (KeyError, TypeError, ValueError) as error:
        raise FigureError(f"a card is not as the table writes it ({error})", "wall") from None
