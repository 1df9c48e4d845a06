"""What was read of a drawing: strokes, captions, and what was passed over."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    Points = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Stroke:
    """One stroke of the pen.

    Parameters
    ----------
    points
        (n, 2) polyline in pixels, y down; first and last are equal where it is closed.
    name
        What the drawing calls it; empty where it does not.
    """

    points: Points
    name: str = ""


@dataclass(frozen=True)
class Caption:
    """A piece of text and the middle of its line, in pixels."""

    text: str
    at: tuple[float, float]
    size: float


@dataclass(frozen=True, eq=False)
class Sketch:
    """A drawing as it was read.

    Attributes
    ----------
    strokes, captions
        What can be seen, in drawing order.
    frame
        (2, 3) matrix from the drawing's own units to pixels.
    mm
        Millimetres in a pixel; None where the drawing gives itself no size.
    source
        The drawing's bytes, for a marked-up copy.
    passed
        How much of what was passed over: "hidden", "fills", "pictures", "style rules".
    names_passed
        The names of what was passed over, where it has any.
    """

    strokes: tuple[Stroke, ...]
    captions: tuple[Caption, ...]
    frame: Points
    mm: float | None
    source: bytes = b""
    passed: Counter[str] = field(default_factory=Counter)
    names_passed: Mapping[str, Sequence[str]] = field(default_factory=dict)

    def own_units(self, point: Points | tuple[float, float]) -> tuple[float, float]:
        """Return a point in the drawing's own units, as an editor shows them (y down)."""
        x, y = np.linalg.solve(self.frame[:, :2], np.asarray(point, float) - self.frame[:, 2])
        return float(x), float(y)


TOLD: Final = 4


def passed_over(
    counts: Mapping[str, int], names: Mapping[str, Sequence[str]] | None = None
) -> str:
    """Return in words what of a drawing was passed over, by name; empty where nothing was."""

    def called(what: str) -> str:
        known = list(dict.fromkeys((names or {}).get(what, ())))
        shown = ", ".join(f'"{name}"' for name in known[:TOLD])
        more = ", ..." if len(known) > TOLD else ""
        return f" ({shown}{more})" if known else ""

    words = [
        f"{count} {what.removesuffix('s') if count == 1 else what}{called(what)}"
        for what, count in sorted(counts.items())
        if count
    ]
    return f"passed over: {', '.join(words)}" if words else ""
