"""The lengths of a grid packing as a table: asked, rounded, used."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from packer.grid.grid_packing import GridPacking


def length_heads(packing: GridPacking) -> tuple[str, ...]:
    """Return the heads of the table of lengths."""
    longer = ("lengthened",) if packing.lengths != packing.rounded else ()
    return ("part", "asked", "in cells", "rounded", "error", *longer)


def length_rows(packing: GridPacking) -> list[tuple[str, ...]]:
    """Return name, length asked, the same in cells, rounded, its error, and what it became."""
    tree = packing.tree
    longer = packing.lengths != packing.rounded
    return [
        (
            name,
            f"{length:g}",
            f"{length / packing.unit:.2f}",
            str(rounded),
            f"{packing.errors[name]:+.1%}",
            *([str(used) if used != rounded else ""] if longer else []),
        )
        for name, length, rounded, used in zip(
            tree.names, tree.lengths.tolist(), packing.rounded, packing.lengths, strict=True
        )
    ]
