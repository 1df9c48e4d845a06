"""Layouts of one figure ranked by scale against how hard they are to fold."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from packer.units import HOLDS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from packer.folded.difficulty import Difficulty


@dataclass(frozen=True)
class FoldingDemand:
    """What the settled crease pattern of a packing demands of its folder.

    Parameters
    ----------
    given
        Share of the scale given up in settling.
    fillers
        Extra flaps that close the pattern.
    difficulty
        Of the pattern.
    """

    given: float
    fillers: int
    difficulty: Difficulty


def ranks(layouts: Sequence[tuple[float, Difficulty]]) -> list[int]:
    """Rank layouts of one figure by scale against difficulty.

    Parameters
    ----------
    layouts
        The scale and the difficulty of each, on sheets held equal.

    Returns
    -------
    list
        For each layout one more than the number of those that beat it: of those that are no
        smaller, have no more creases that one collapse must fold, no more layers and no finer
        smallest feature, and are better in one of these. Of two layouts neither may beat the
        other; both then have rank 1, and the folder chooses between size and ease.
    """
    merits = [(scale, -hard.together, -hard.layers, hard.feature) for scale, hard in layouts]
    return [1 + sum(_beats(other, own) for other in merits) for own in merits]


def _beats(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    """Whether one dominates the other: nowhere less and somewhere more, apart from rounding."""
    tolerance = [HOLDS * max(abs(a), abs(b)) for a, b in zip(one, other, strict=True)]
    gains = [a - b for a, b in zip(one, other, strict=True)]
    least = all(gain >= -r for gain, r in zip(gains, tolerance, strict=True))
    return least and any(gain > r for gain, r in zip(gains, tolerance, strict=True))
