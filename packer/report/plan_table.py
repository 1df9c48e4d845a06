"""A plan as sentences and as a table of sizes."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from packer.model.packing import Packing
    from packer.planning.plan import Plan


def plan_lines(made: Plan) -> list[str]:
    """Return the plan in a few sentences."""
    slim = made.narrowest
    stock = ", ".join(f"{s.name} ({100 * waste:.0f} % waste)" for s, waste in made.stock[:4])
    return [
        (
            f"sheet {made.sheet.describe()}, {made.paper.name}, {made.paper.caliper:g} um a layer "
            f"({made.paper.source})"
        ),
        (
            f'finished {made.length:.0f} mm from "{made.ends[0]}" to "{made.ends[1]}", '
            f"{100 * made.allowance:g} % allowed for thickness and shaping"
        ),
        f'thickest at "{made.joint}": roughly {made.layers:.0f} layers over its width, {made.thickness:.1f} mm',
        f'narrowest flap "{slim.name}": {slim.width:.1f} mm, {made.slimness:.0f} times the paper',
        f"cut from: {stock or 'nothing that is sold'}",
    ]


def size_rows(packing: Packing, made: Plan) -> list[tuple[str, ...]]:
    """Return name, mm on the sheet, finished mm, width and kind; twins under a symmetry once."""
    tree = packing.tree
    rows: list[tuple[str, ...]] = []
    for k, part in enumerate(made.parts):
        paired = packing.symmetry != "none" and tree.twin[k] != k
        if not paired or tree.twin[k] > k:
            name = f"{tree.written[k]} x2" if paired else part.name
            width = "" if part.width is None else f"{part.width:.1f}"
            rows.append(
                (name, f"{part.on_sheet:.1f}", f"{part.finished:.1f}", width, part.kind)
            )
    return rows
