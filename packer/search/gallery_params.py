"""What can be set about the gallery and the packings from which it is chosen."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final


@dataclass(frozen=True)
class EnumerationParams:
    """Parameters of the local optima that starts pass through; none of them was varied.

    Attributes
    ----------
    most_solves
        Local solves of one start, times flaps: half a minute for five packings of 80 flaps.
    kept
        Local optima kept of each start, the largest.
    """

    most_solves: int = 10_000
    kept: int = 12


@dataclass(frozen=True)
class GalleryParams:
    """Parameters of a gallery.

    Attributes
    ----------
    different
        Least difference of two packings, so that a designer sees it at a glance: that share of all
        flap length lies elsewhere. At half of it the plates of two samples showed packings that
        differed by small flaps only: toes that had changed places, an eye that had moved.
    worst
        Loss of scale, against the best, up to which a packing is shown; not varied.
    starts_each
        Further starts for each packing asked for; not varied.
    enumeration
        Of the local optima to choose from.
    """

    different: float = 0.3
    worst: float = 0.25
    starts_each: int = 4
    enumeration: EnumerationParams = field(default_factory=EnumerationParams)


DEFAULT: Final = GalleryParams()
"""Those in use."""
