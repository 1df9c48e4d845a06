"""What settling changed: every part as searched and as settled, side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from packer.drawing.writers.html import Table

if TYPE_CHECKING:
    from packer.model.packing import Packing
    from packer.model.sheet import Sheet


def settling_table(searched: Packing, settled: Packing, cut: Sheet | None = None) -> Table:
    """Return how settling changed each part, in mm where the sheet has a true size.

    Parameters
    ----------
    searched, settled
        Two packings of one problem.
    cut
        The sheet to cut in mm; by default the packing's own.
    """
    mm = cut.width / settled.sheet.width if cut else settled.sheet.mm_per_unit
    factor, unit = (mm, "mm") if mm else (1.0, "of the sheet")
    tree = settled.tree
    before, after = searched.sheet_lengths, settled.sheet_lengths
    moved = np.hypot(*(settled.points - searched.points).T) * factor
    rows = []
    for k, name in enumerate(tree.names):
        twins = settled.symmetry != "none" and tree.twin[k] != k
        if twins and tree.twin[k] < k:
            continue
        kind = settled.kinds.get(name, "river")
        was = searched.kinds.get(name, "river")
        rows.append(
            (
                f"{tree.written[k]} x2" if twins else name,
                _size(before[name] * factor, mm),
                _size(after[name] * factor, mm),
                f"{_size((after[name] - before[name]) * factor, mm, '+')}",
                f"{after[name] / before[name] - 1:+.1%}",
                _size(float(moved[k]), mm) if k < tree.n_tips else "",
                kind if kind == was else f"{kind}, was {was}",
            )
        )
    heads = ("part", f"searched, {unit}", f"settled, {unit}", f"change, {unit}", "change",
             f"tip moved, {unit}", "kind")  # fmt: skip
    return Table("What settling changed, part by part", heads, rows, left=(0, 6))


def _size(value: float, mm: float | None, sign: str = "") -> str:
    """Return a length in tenths of a mm, or in four digits of a sheet without a true size."""
    return f"{value:{sign}.1f}" if mm else f"{value:{sign}.4f}"
