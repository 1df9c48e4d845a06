"""How short and how long the parts of a figure may become while it is settled."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from packer.units import ROUNDING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from packer.creases.tip_layout import TipLayout


@dataclass(frozen=True, eq=False)
class LengthBounds:
    """The lengths between which the parts of a figure may be settled.

    Attributes
    ----------
    shortest, longest
        Least and greatest length of each part, by name, in sheet units.
    """

    shortest: Mapping[str, float]
    longest: Mapping[str, float]

    def pieces(self, layout: TipLayout) -> NDArray[np.float64]:
        """Return (parts, edges): 1 where an edge of a layout is a piece of a part, else 0."""
        number = {name: k for k, name in enumerate(self.shortest)}
        pieces = np.zeros((len(number), len(layout.lengths)))
        for edge, name in enumerate(layout.tree.names):
            if name in layout.part_of:
                pieces[number[layout.part_of[name]], edge] = 1.0
        return pieces

    @property
    def least(self) -> NDArray[np.float64]:
        """(parts,) least lengths, in the order of `pieces`."""
        return np.array(list(self.shortest.values()))

    @property
    def most(self) -> NDArray[np.float64]:
        """(parts,) greatest lengths, in the order of `pieces`."""
        return np.array([self.longest[name] for name in self.shortest])

    def violated(self, layout: TipLayout) -> NDArray[np.bool_]:
        """Return (parts,) whether a part of a layout is too short."""
        too_short: NDArray[np.bool_] = self.pieces(layout) @ layout.lengths < self.least * (
            1 - ROUNDING
        )
        return too_short
