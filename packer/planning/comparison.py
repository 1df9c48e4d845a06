"""A figure on several sheets, side by side: what is held equal and what came out.

The searching is done by `compare` and `sweep`; here are the values they return.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final, Literal

from packer.planning.layers import joint_layers
from packer.regions import efficiency

if TYPE_CHECKING:
    from packer.packing import Packing
    from packer.planning.stock import Stock

Equal = Literal["area", "longest side", "stock"]
EQUALS: Final[tuple[Equal, ...]] = ("area", "longest side", "stock")


@dataclass(frozen=True)
class Entry:
    """One sheet of a comparison.

    Parameters
    ----------
    shape
        The sheet as it was asked for: "3 x 2".
    packing
        The packing on it, on a sheet of the size that was held equal.
    waste
        Share of the stock left over when it is cut; None where no stock is given.
    """

    shape: str
    packing: Packing
    waste: float | None = None

    @property
    def size(self) -> float:
        """The longest way from tip to tip of the figure, in sheet units, nothing lost."""
        return self.packing.scale * float(self.packing.distances.max())

    @cached_property
    def used(self) -> float:
        """Share of the sheet inside discs and rivers."""
        return efficiency(self.packing)

    @cached_property
    def layers(self) -> float:
        """Layers at the thickest joint, an estimate (see `layers`)."""
        return joint_layers(self.packing)[0].layers


@dataclass(frozen=True)
class Comparison:
    """A figure on several sheets.

    Parameters
    ----------
    name
        The figure's.
    equal
        What is held equal.
    entries
        The sheets, in the order asked for.
    seed
        Of all searches.
    stock
        The paper that all sheets are cut from, if one was given.
    complete
        Whether every search ran to its end; Ctrl-C leaves the rest out.
    """

    name: str
    equal: Equal
    entries: tuple[Entry, ...]
    seed: int = 0
    stock: Stock | None = None
    complete: bool = True

    @property
    def best(self) -> int:
        """Index of the entry with the largest scale; the first of equals."""
        scales = [entry.packing.scale for entry in self.entries]
        most = max(scales)
        return next(k for k, scale in enumerate(scales) if scale >= most * (1 - 1e-9))

    @property
    def unit(self) -> str:
        """Unit of all sheets; empty where they are only ratios."""
        return self.entries[0].packing.sheet.unit


def row(comparison: Comparison, entry: Entry) -> dict[str, Any]:
    """Return one line of the table as plain keys and values, fit for CSV and JSON.

    Returns
    -------
    dict
        `relative` is the scale as a share of the best; `size` the longest way from tip to tip,
        in the sheet's unit; `paper_used`, `headroom` and `waste` are fractions; `layers` are
        those at the thickest joint, an estimate.
    """
    packing = entry.packing
    kinds = Counter(packing.kinds.values())
    best = comparison.entries[comparison.best].packing.scale
    return {
        "sheet": entry.shape,
        "width": packing.sheet.width,
        "height": packing.sheet.height,
        "unit": packing.sheet.unit,
        "symmetry": packing.symmetry,
        "scale": packing.scale,
        "relative": packing.scale / best,
        "size": entry.size,
        "corner": kinds["corner"],
        "edge": kinds["edge"],
        "middle": kinds["middle"],
        "paper_used": entry.used,
        "headroom": packing.headroom,
        "bound_rule": packing.bound.rule if packing.bound else None,
        "loose": len(packing.loose),
        "layers": entry.layers,
        "waste": entry.waste,
        "starts": packing.search.starts,
        "hits": packing.search.hits,
        "stopped": packing.search.stopped,
    }


@dataclass(frozen=True)
class Curve:
    """The best scale found over the side ratio, at equal area.

    Parameters
    ----------
    standing
        Whether the longer side is upright; under book symmetry that is another problem.
    ratios
        Longer side / shorter side, rising from the first to the last.
    packings
        The best packing found at each ratio.
    direct
        For each ratio the scale that a search from nothing found; None where only neighbours
        were followed.
    """

    standing: bool
    ratios: tuple[float, ...]
    packings: tuple[Packing, ...]
    direct: tuple[float | None, ...]

    @property
    def scales(self) -> tuple[float, ...]:
        """The best scale found at each ratio."""
        return tuple(packing.scale for packing in self.packings)

    @property
    def best(self) -> int:
        """Index of the best ratio; the first of equals, so the one nearest to the square."""
        most = max(self.scales)
        return next(k for k, scale in enumerate(self.scales) if scale >= most * (1 - 1e-9))


@dataclass(frozen=True)
class Sweep:
    """A figure over all side ratios of a range, at equal area.

    Parameters
    ----------
    name
        The figure's.
    curves
        One, or under book symmetry two: lying and standing sheets.
    seed
        Of all searches.
    complete
        Whether every search ran to its end.
    """

    name: str
    curves: tuple[Curve, ...]
    seed: int = 0
    complete: bool = True

    @property
    def best(self) -> tuple[Curve, int]:
        """The curve with the best ratio, and its index there."""
        curve = max(self.curves, key=lambda c: c.scales[c.best])
        return curve, curve.best
