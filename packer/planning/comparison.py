"""A figure on several sheets, side by side: what is held equal and what came out.

The searching is done by `compare` and `sweep`; here are the values they return.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final, Literal

from packer.grid.grid_cost import grid_cost
from packer.model.regions import efficiency
from packer.planning.layer_estimate import joint_layers
from packer.planning.ranking import ranks

if TYPE_CHECKING:
    from packer.grid.grid_cost import GridCost
    from packer.grid.grid_packing import GridPacking
    from packer.model.packing import Packing
    from packer.planning.ranking import FoldingDemand
    from packer.planning.stock import Stock

Equal = Literal["area", "longest side", "stock"]
EQUALS: Final[tuple[Equal, ...]] = ("area", "longest side", "stock")

FOLDING_KEYS: Final = (
    *("fold_given", "fold_fillers", "fold_creases", "fold_vertices", "fold_together"),
    *("fold_middle_flaps", "fold_feature", "fold_layers", "fold_angles", "fold_rank"),
)
"""Columns of a comparison's table that say how hard a packing is to fold."""


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
    grid
        The same problem on whole cells; None where that was not asked for or none was found.
    folding
        How hard the packing is to fold; None where that was not asked for or its creases were
        not found.
    """

    shape: str
    packing: Packing
    waste: float | None = None
    grid: GridPacking | None = None
    folding: FoldingDemand | None = None

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

    @property
    def cost(self) -> GridCost | None:
        """What the grid costs: its scale against that of the circles."""
        return None if self.grid is None else grid_cost(self.grid, self.packing)


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

    @cached_property
    def ranks(self) -> tuple[int | None, ...]:
        """For each entry its rank by scale against difficulty; None where it is not known."""
        known = [
            (k, (entry.packing.scale * (1 - entry.folding.given), entry.folding.difficulty))
            for k, entry in enumerate(self.entries)
            if entry.folding is not None
        ]
        by_entry = dict(
            zip((k for k, _ in known), ranks([layout for _, layout in known]), strict=True)
        )
        return tuple(by_entry.get(k) for k in range(len(self.entries)))


def row(comparison: Comparison, entry: Entry) -> dict[str, Any]:
    """Return one line of the table as plain keys and values, fit for CSV and JSON.

    Returns
    -------
    dict
        `relative` is the scale as a share of the best; `size` the longest way from tip to tip,
        in the sheet's unit; `paper_used`, `headroom` and `waste` are fractions; `layers` are
        those at the thickest joint, an estimate. `grid_share` is the grid's scale as a share of
        the circles', `grid_least_share` that of the part which rounding made the shortest. What begins with `fold_` is that of the settled creases: `fold_given` the
        share of scale given up, `fold_feature` the smallest feature in the sheet's unit,
        `fold_layers` the most layers, counted, and `fold_rank` 1 where no other sheet is both
        larger and easier (see `packer.planning.ranking.ranks`).
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
        **_grid_row(entry),
        **_folding_row(comparison, entry),
        "starts": packing.search.starts,
        "hits": packing.search.hits,
        "stopped": packing.search.stopped,
    }


def _grid_row(entry: Entry) -> dict[str, Any]:
    grid, cost = entry.grid, entry.cost
    cells = grid.cells if grid is not None else (None, None)
    return {
        "grid_across": cells[0],
        "grid_up": cells[1],
        "grid_status": grid.status if grid is not None else None,
        "grid_scale": cost.grid if cost is not None else None,
        "grid_share": cost.share if cost is not None else None,
        "grid_least_share": cost.least / cost.circles if cost is not None else None,
    }


def _folding_row(comparison: Comparison, entry: Entry) -> dict[str, Any]:
    demand = entry.folding
    if demand is None:
        return dict.fromkeys(FOLDING_KEYS)
    hard = demand.difficulty
    values = (
        *(demand.given, demand.fillers, hard.creases, hard.vertices, hard.together),
        *(hard.middle_flaps, hard.feature, hard.layers, hard.angles),
        next(
            r for e, r in zip(comparison.entries, comparison.ranks, strict=True) if e is entry
        ),
    )
    return dict(zip(FOLDING_KEYS, values, strict=True))


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
        The scale that the search at each ratio found, before its neighbours were followed.
    """

    standing: bool
    ratios: tuple[float, ...]
    packings: tuple[Packing, ...]
    direct: tuple[float, ...]

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
