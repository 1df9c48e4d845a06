"""A plan as sentences and as a table of sizes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from collections.abc import Sequence

    from packer.folded.layer_count import LayerCount
    from packer.folded.paper_sides import PartSides
    from packer.grid.grid_packing import GridPacking
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
        _thickest(made),
        f'narrowest flap "{slim.name}": {slim.width:.1f} mm, {made.slimness:.0f} times the paper',
        f"cut from: {stock or 'nothing that is sold'}",
    ]


def _thickest(made: Plan) -> str:
    """Return the thickest joint in words: counted where there is a pattern, else estimated."""
    if made.counted is None:
        return (
            f'thickest at "{made.joint}": roughly {made.layers:.0f} layers over its width, '
            f"{made.thickness:.1f} mm"
        )
    return (
        f'thickest at "{made.joint}": {made.layers:.0f} layers, counted on the crease pattern, '
        f"{made.thickness:.1f} mm pressed flat"
    )


def layer_rows(count: LayerCount, paper_mm: float | None = None) -> list[tuple[str, ...]]:
    """Return the layers along each part and at each joint, with their thickness in mm.

    Parameters
    ----------
    count
        The layers of a pattern.
    paper_mm
        Thickness of one layer; without it no thickness is given.
    """

    def row(name: str, most: int, *along: object) -> tuple[str, ...]:
        thick = () if paper_mm is None else (f"{most * paper_mm:.2f}",)
        return (name, *map(str, along), str(most), *thick)

    parts = [row(p.name, p.most, p.first, p.middle, p.last) for p in count.parts]
    joints = sorted(count.joints.items(), key=lambda item: (-item[1], item[0]))
    return parts + [row(f"at {name}", most, "", "", "") for name, most in joints]


def count_record(count: LayerCount) -> dict[str, Any]:
    """Return counted layers as plain keys and values."""
    return {
        "joints": dict(count.joints),
        "parts": {
            p.name: {"first": p.first, "middle": p.middle, "last": p.last, "most": p.most}
            for p in count.parts
        },
    }


def side_rows(sides: Sequence[PartSides], mm_per_unit: float | None) -> list[tuple[str, ...]]:
    """Return what shows of each part and the raw edge along it, in mm or sheet units."""
    return [
        (
            side.name,
            f"{side.front:.0%}" if side.front + side.back else "hidden",
            f"{side.back:.0%}" if side.front + side.back else "",
            f"{side.raw_edge * (mm_per_unit or 1.0):.3g}" if side.raw_edge else "",
        )
        for side in sides
    ]


SIDE_HEADS: Final = ("part", "front shows", "back shows", "raw edge")
"""Heads of the table of the paper's two sides."""


def layer_heads(paper_mm: float | None = None) -> tuple[str, ...]:
    """Return the heads of the table of layers."""
    thick = () if paper_mm is None else ("mm",)
    return ("layers", "tip", "middle", "joint", "most", *thick)


def size_rows(packing: Packing | GridPacking, made: Plan) -> list[tuple[str, ...]]:
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
