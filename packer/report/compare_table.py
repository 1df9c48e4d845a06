"""The tables of a comparison as text, for the terminal and for the report."""

from __future__ import annotations

from typing import TYPE_CHECKING

from packer.planning.comparison import row

if TYPE_CHECKING:
    from packer.planning.comparison import Comparison

GRIDDED = (
    "of the circles: the grid's scale as a share of the scale; worst part: the same of the part "
    "that rounding to cells made the shortest"
)
"""What a grid costs, to stand below the table."""

RANKED = (
    "rank 1: no other sheet is larger and at the same time easier: fewer creases at once, fewer "
    "layers, no finer feature"
)
"""What a rank means, to stand below the table."""


def table_heads(comparison: Comparison) -> tuple[str, ...]:
    """Return the heads of a comparison's table."""
    unit = f", {comparison.unit}" if comparison.unit else ""
    waste = ("waste",) if comparison.stock else ()
    grid = ("grid", "of the circles", "worst part") if _gridded(comparison) else ()
    flaps = ("corner", "edge", "middle")
    return (
        *("sheet", "symmetry", f"scale{unit}", "of the best", f"figure{unit}", *flaps),
        *("paper", "headroom", "loose", "layers", *waste, *grid),
    )


def table(comparison: Comparison) -> list[tuple[str, ...]]:
    """Return the lines of a comparison's table as text, in the order of the sheets."""
    lines = []
    for entry in comparison.entries:
        line = row(comparison, entry)
        headroom, waste = line["headroom"], line["waste"]
        grid: list[str] = []
        if _gridded(comparison):
            grid = ["none found", "", ""]
            if line["grid_scale"] is not None:
                cells = f"{line['grid_across']} x {line['grid_up']}"
                shares = (line["grid_share"], line["grid_least_share"])
                grid = [cells, *(f"{100 * share:.1f} %" for share in shares)]
        lines.append(
            (
                line["sheet"],
                line["symmetry"],
                f"{line['scale']:.6g}",
                f"{100 * line['relative']:.1f} %",
                f"{line['size']:.4g}",
                *(str(line[kind]) for kind in ("corner", "edge", "middle")),
                f"{100 * line['paper_used']:.0f} %",
                "" if headroom is None else f"{100 * headroom:.0f} %",
                str(line["loose"]),
                f"{line['layers']:.0f}",
                *([] if waste is None else [f"{100 * waste:.0f} %"]),
                *grid,
            )
        )
    return lines


def folding_heads(comparison: Comparison) -> tuple[str, ...]:
    """Return the heads of the table of how hard each sheet is to fold."""
    unit = f", {comparison.unit}" if comparison.unit else ""
    return (
        *("sheet", "symmetry", "rank", "creases", "at once", "vertices", "layers counted"),
        *(f"finest{unit}", "directions", "fillers", "scale given up"),
    )


def folding_table(comparison: Comparison) -> list[tuple[str, ...]]:
    """Return the lines of the table of how hard each sheet is to fold; none if none was creased."""
    if not any(entry.folding for entry in comparison.entries):
        return []
    lines: list[tuple[str, ...]] = []
    for entry in comparison.entries:
        line = row(comparison, entry)
        name = (line["sheet"], line["symmetry"])
        if entry.folding is None:
            lines.append((*name, "none found"))
            continue
        lines.append(
            (
                *name,
                *(
                    str(line[f"fold_{key}"])
                    for key in ("rank", "creases", "together", "vertices", "layers")
                ),
                f"{line['fold_feature']:.3g}",
                *(str(line[f"fold_{key}"]) for key in ("angles", "fillers")),
                f"{100 * line['fold_given']:.1f} %",
            )
        )
    return lines


def table_foot(comparison: Comparison) -> str:
    """Return what has to be said below a comparison's table, if anything."""
    return GRIDDED if _gridded(comparison) else ""


def _gridded(comparison: Comparison) -> bool:
    return any(entry.grid for entry in comparison.entries)
