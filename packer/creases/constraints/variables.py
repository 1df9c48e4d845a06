"""The variables of a layout: which of them are free, and which follow others by symmetry.

A change of a layout is one vector: x and y of every tip, then the length of every edge.
`FreeVariables` names the entries that may be chosen, so that optimisers know nothing of borders
and mirror lines.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from packer.units import ON_EDGE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from packer.creases.tip_layout import TipLayout


def fixed_coordinates(layout: TipLayout) -> NDArray[np.bool_]:
    """Return (tips, 2): the coordinates fixed by a border of the sheet or by a placement."""
    size = np.array([layout.sheet.width, layout.sheet.height])
    tolerance = ON_EDGE * size.min()
    on_border: NDArray[np.bool_] = (layout.points <= tolerance) | (
        layout.points >= size - tolerance
    )
    placed: NDArray[np.bool_] = layout.high - layout.low <= tolerance
    return on_border | placed


@dataclass(frozen=True, eq=False)
class FreeVariables:
    """The free variables of a layout, each with the entry that follows it by symmetry, if any.

    Attributes
    ----------
    size
        Entries of a change: 2 tips + edges.
    lead
        (k,) the entry of each free variable.
    mate
        (k,) the entry that follows it, its own index where none does.
    sign
        (k,) 1 or -1 by which it follows, 0 where none does.
    """

    size: int
    lead: NDArray[np.intp]
    mate: NDArray[np.intp]
    sign: NDArray[np.float64]

    def reduce(self, rows: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return (..., k) derivatives by the free variables from (..., size) ones by all."""
        reduced: NDArray[np.float64] = rows[..., self.lead] + self.sign * rows[..., self.mate]
        return reduced

    def expand(self, free: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the (size,) change that (k,) free variables make."""
        change = np.zeros(self.size)
        change[self.mate] = self.sign * free
        change[self.lead] = free
        return change

    @property
    def norms(self) -> NDArray[np.float64]:
        """(k,) length of the change that one unit of each free variable makes."""
        return np.sqrt(1 + self.sign**2)


def free_variables(layout: TipLayout) -> FreeVariables:
    """Return the free variables of a layout."""
    n = layout.tree.n_tips
    rows: list[tuple[int, int, float]] = []
    fixed = fixed_coordinates(layout) | _fixed_by_axis(layout)
    diagonal = layout.symmetry == "diagonal"
    for tip, image in enumerate(layout.mirror.tolist()):
        for axis in range(2):
            if image < tip or fixed[tip, axis]:
                continue
            mate = 2 * image + (1 - axis if diagonal else axis)
            sign = -1.0 if layout.symmetry == "book" and axis == 0 else 1.0
            here = 2 * tip + axis
            rows.append((here, mate, 0.0 if mate == here else sign))
    twins = (
        layout.tree.twin.tolist() if layout.symmetry != "none" else range(len(layout.lengths))
    )
    rows += [
        (2 * n + edge, 2 * n + twin, float(edge != twin))
        for edge, twin in enumerate(twins)
        if twin >= edge
    ]
    lead, mates, signs = zip(*rows, strict=True)
    return FreeVariables(
        2 * n + len(layout.lengths),
        np.array(lead, dtype=np.intp),
        np.array(mates, dtype=np.intp),
        np.array(signs),
    )


def _fixed_by_axis(layout: TipLayout) -> NDArray[np.bool_]:
    """(tips, 2) coordinates that the mirror line fixes; on a diagonal y follows x."""
    fixed = np.zeros((layout.tree.n_tips, 2), dtype=bool)
    if layout.symmetry != "none":
        own = layout.mirror == np.arange(layout.tree.n_tips)
        fixed[own, 0 if layout.symmetry == "book" else 1] = True
        if layout.symmetry == "diagonal":
            fixed[own, 0] = fixed_coordinates(layout)[own].any(axis=1)
    return fixed


def slack_jacobian(
    layout: TipLayout, i: NDArray[np.intp], j: NDArray[np.intp]
) -> NDArray[np.float64]:
    """Return (pairs, 2 tips + edges): the derivative of the slack of each pair of tips."""
    n = layout.tree.n_tips
    k = np.arange(len(i))
    ways = (layout.points[i] - layout.points[j]) / layout.gaps[i, j][:, None]
    rows = np.zeros((len(i), 2 * n + len(layout.lengths)))
    for axis in range(2):
        rows[k, 2 * i + axis] = ways[:, axis]
        rows[k, 2 * j + axis] = -ways[:, axis]
    beyond = layout.tree.beyond
    rows[:, 2 * n :] = -(beyond[:, i] != beyond[:, j]).T.astype(float)
    return rows


def shifted(layout: TipLayout, change: NDArray[np.float64]) -> TipLayout:
    """Return the layout after a change."""
    n = layout.tree.n_tips
    return replace(
        layout,
        points=layout.points + change[: 2 * n].reshape(n, 2),
        lengths=layout.lengths + change[2 * n :],
    )


def symmetrised(layout: TipLayout) -> TipLayout:
    """Return the layout with rounding taken out of its mirror images."""
    if layout.symmetry == "none":
        return layout
    points = (layout.points + layout.reflect(layout.points[layout.mirror])) / 2
    twin = layout.tree.twin
    return replace(layout, points=points, lengths=(layout.lengths + layout.lengths[twin]) / 2)
