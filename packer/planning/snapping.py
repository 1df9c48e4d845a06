"""Tips moved onto marks that are easy to find, for a little scale."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.landmarks.search import landmarks
from packer.model.packing import SearchRecord

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from packer.landmarks.sequence import Landmarks
    from packer.model.packing import Packing

SHARES: Final = (0.0, 0.25, 0.5, 1.0)
"""Shares of the scale that may be given up, of the most asked, that a trade-off is shown for."""


@dataclass(frozen=True, eq=False)
class Snapped:
    """A packing with tips moved onto marks that are easy to find.

    Attributes
    ----------
    allowed
        Share of the scale that might be given up.
    given
        Share given up.
    landmarks
        The sequence; None where none was found.
    packing
        With its tips moved; where nothing may be given up, as it was.
    """

    allowed: float
    given: float
    landmarks: Landmarks | None
    packing: Packing


def snapped(
    packing: Packing,
    share: float,
    within: float,
    hand: float,
    progress: Callable[[str], None] | None = None,
) -> Snapped:
    """Move every tip onto a mark of one short sequence, for at most a share of the scale.

    At the lower scale the path between two tips has slack; each may move by half the least slack
    of its paths, whatever the others do. A tip on an edge or on the line of symmetry stays on it;
    a tip that has a mark near enough as it is, but no room to move onto it, stays where it is.

    Parameters
    ----------
    packing
        Any packing that holds.
    share
        Most of the scale to give up, in [0, 1).
    within
        How far a mark may lie from a tip that is not moved onto it, in sheet units.
    hand
        Standard deviation of each miss of an alignment by hand, in sheet units.
    progress
        Called with a few words at every depth of the search.
    """
    tips = dict(zip(packing.tree.flaps, packing.tips, strict=True))
    free = dict(zip(packing.tree.flaps, _room(packing, share).tolist(), strict=True))
    reach = {name: max(free[name], within) if share else within for name in tips}
    made = landmarks(packing.sheet, tips, reach, hand=hand, progress=progress)
    if made is None or not share:
        return Snapped(share, 0.0, made, packing)
    onto = {name for name, mark in made.tips.items() if mark.distance <= free[name]}
    kept = {
        name: replace(mark, distance=0.0) if name in onto else mark
        for name, mark in made.tips.items()
    }
    made = replace(made, tips=kept)
    moved = replace(
        packing,
        tips=tuple(made.tips[n].at if n in onto else tips[n] for n in packing.tree.flaps),
        stress=(),
        slack=(),
        bound=None,
        search=SearchRecord(),
    )
    given = 1 - moved.scale / packing.scale
    return Snapped(share, max(given, 0.0), made, moved)


def trade_off(
    packing: Packing,
    most: float,
    within: float,
    hand: float,
    *,
    shares: Sequence[float] = SHARES,
    progress: Callable[[str], None] | None = None,
) -> list[Snapped]:
    """Return what giving up more and more of the scale, up to `most`, saves in creases."""
    return [snapped(packing, most * x, within, hand, progress) for x in shares]


def _room(packing: Packing, share: float) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Return (tips,) how far each tip may move at a lower scale, whatever the others do."""
    points = packing.points
    gaps = np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1))
    slack = gaps - packing.scale * (1 - share) * packing.distances
    np.fill_diagonal(slack, np.inf)
    reach: np.ndarray[tuple[int], np.dtype[np.float64]] = np.minimum(
        slack.min(axis=1) / 2, 0.05 * min(packing.sheet.width, packing.sheet.height)
    )
    return reach
