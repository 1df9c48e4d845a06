"""The tables and sentences of a report, made of results."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from packer.drawing.writers.html import Table
from packer.errors import PackingError, ReadError
from packer.folded.checks import findings
from packer.folded.difficulty import difficulty
from packer.folded.layer_count import layer_count
from packer.folded.paper_sides import paper_sides
from packer.grid.grid_cost import grid_cost
from packer.numbers import counted
from packer.planning.advice import savings
from packer.report.compare_table import (
    RANKED,
    folding_heads,
    folding_table,
    table,
    table_heads,
)
from packer.report.grid_table import length_heads, length_rows
from packer.report.guide_table import guide_section
from packer.report.html_report import Creases, Grid, PaperPlan
from packer.report.levels_table import (
    FOOT,
    LEFT_OUT_FOOT,
    left_out_heads,
    left_out_table,
    level_heads,
    level_table,
)
from packer.report.order_table import order_table, stages_words
from packer.report.packing_table import SHORTER, cost_head, heads, rows
from packer.report.plan_table import (
    SIDE_HEADS,
    layer_heads,
    layer_rows,
    plan_lines,
    side_rows,
    size_rows,
)
from packer.units import HOLDS

if TYPE_CHECKING:
    from packer.creases.pattern import CreasePattern
    from packer.folded.layers import FlatBase
    from packer.grid.grid_packing import GridPacking
    from packer.landmarks.guide_brief import GuideBrief
    from packer.model.packing import Packing
    from packer.planning.comparison import Comparison
    from packer.planning.level_results import Levels
    from packer.planning.plan import Plan


def parts_table(packing: Packing, searched: Packing | None = None) -> Table:
    """Return the table of `packer pack`, with bars where a part costs something.

    Parameters
    ----------
    packing
        The packing that the page speaks of.
    searched
        The packing it was settled from, if it was: costs and gains are those of the search.
    """
    if searched is not None:
        return _settled_parts(packing, searched)
    gains = {name: saving.gain for saving in savings(packing) for name in saving.names}
    most = max(gains.values(), default=0.0) or 1.0
    tree = packing.tree
    groups = []
    for k, name in enumerate(tree.names):
        twin = int(tree.twin[k])
        twins = packing.symmetry != "none" and twin != k
        if not twins or twin > k:
            groups.append([name, tree.names[twin]] if twins else [name])
    titles = list(heads(packing))
    column = titles.index(SHORTER)
    titles[column] = f"gain of a {SHORTER}"
    return Table(
        "Flaps and rivers: where they lie, what share of the paper they take, what they cost",
        titles,
        rows(packing),
        left=(0, titles.index("kind"), len(titles) - 1),
        parts=groups,
        bars={column: [gains[group[0]] / most for group in groups]},
    )


def _settled_parts(settled: Packing, searched: Packing) -> Table:
    """Return the parts of a settled packing, with costs and gains as searched."""
    own, costs = parts_table(settled), parts_table(searched)
    titles = list(costs.heads)
    keep = {titles.index(cost_head(searched)), *(costs.bars or {})}
    cells = [
        [old[k] if k in keep else new[own.heads.index(title)] if title in own.heads else ""
         for k, title in enumerate(titles)]
        for new, old in zip(own.rows, costs.rows, strict=True)
    ]  # fmt: skip
    return replace(
        costs,
        caption="Flaps and rivers as settled: where they lie, and what share of the paper they "
        "take; costs and gains are those of the packing as searched",
        rows=cells,
    )


def paper_plan(packing: Packing, made: Plan) -> PaperPlan:
    """Return a plan as sentences, sizes, warnings and models."""
    sizes = Table(
        "Sizes in mm",
        ("part", "on sheet", "finished", "width", "kind"),
        size_rows(packing, made),
        left=(0, 4),
    )
    lines = [f"{line[0].upper()}{line[1:]}." for line in plan_lines(made)]
    warnings = [f"{line}." for line in made.warnings]
    return PaperPlan(lines, sizes, warnings, made.models)


def sheet_tables(comparison: Comparison) -> list[Table]:
    """Return the table of sheets and, where they were creased, of how hard each is to fold."""
    held = f"equal {comparison.equal}"
    if comparison.stock is not None:
        held = f"each cut from {comparison.stock.name}"
    best = comparison.entries[comparison.best].packing.scale
    shares = [entry.packing.scale / best for entry in comparison.entries]
    tables = [
        Table(
            f"{comparison.name} on {counted(len(comparison.entries), 'sheet')}, {held}",
            table_heads(comparison),
            table(comparison),
            left=(0, 1),
            bars={3: shares},
        )
    ]
    if creased := folding_table(comparison):
        caption = f"How hard each is to fold. {RANKED[0].upper()}{RANKED[1:]}"
        tables.append(Table(caption, folding_heads(comparison), creased, left=(0, 1)))
    return tables


def levels_tables(levels: Levels) -> list[Table]:
    """Return the table of levels of detail and that of their parts left out alone."""
    heads = level_heads(levels)
    caption = f"{levels.name} at {counted(len(levels.levels), 'level')} of detail. {FOOT}"
    tables = [Table(caption, heads, level_table(levels), left=(0, len(heads) - 1))]
    if left := left_out_table(levels):
        tables.append(Table(LEFT_OUT_FOOT, left_out_heads(), left, left=(0, 2, 6)))
    return tables


def crease_section(
    base: FlatBase,
    packing: Packing,
    plan: Plan | None = None,
    guide: GuideBrief | None = None,
) -> Creases:
    """Return a crease pattern with its folded form and what it asks of its folder.

    Parameters
    ----------
    base
        The creases of `packing`, with their layer order if one is known.
    packing
        The packing the report is on.
    plan
        The sheet and the paper, for numbers in mm.
    guide
        The fold guide of these creases, in short.

    Raises
    ------
    ReadError
        Where it is of another figure or sheet, or does not fold flat.
    """
    fits(base.pattern, packing)
    pattern = base.pattern
    wrong = findings(pattern, base.form)
    if wrong:
        raise ReadError(f"the pattern does not fold: {wrong[0]}; crease again")
    layers = _layers(pattern, plan)
    lines = [
        "Checked by folding it face by face: it folds flat at every vertex, into the figure.",
        "Mountains and valleys are those of a valid layer order."
        if base.order is not None
        else "No layer order was found, so mountains and valleys are open.",
    ]
    numbers = Table(
        "What it asks of its folder",
        ("number", "", "meaning"),
        _demand_rows(base, packing, plan, guide),
        left=(0, 1, 2),
    )
    told = None if guide is None else guide_section(guide)
    order, sides = order_table(pattern), _sides(base, plan)
    return Creases(base, lines, numbers, layers, order, sides, told)


def _demand_rows(
    base: FlatBase, packing: Packing, plan: Plan | None, guide: GuideBrief | None = None
) -> list[tuple[str, str, str]]:
    """Return what a pattern asks of its folder: each number with its name and its meaning."""
    pattern = base.pattern
    hard = difficulty(pattern, base.form, base.order.layers if base.order else None)
    sheet = pattern.sheet
    share = 100 * hard.feature / min(sheet.width, sheet.height)
    mm = _mm_per_unit(pattern, plan)
    thick = f", {hard.layers * plan.paper.mm:.1f} mm of {plan.paper.name}" if plan else ""
    size = f"{share:.2f} % of the side"
    same = sheet.width / packing.sheet.width
    asked = packing.sheet_lengths.items()
    given = 1 - min(pattern.built[name] / (same * length) for name, length in asked)
    return [
        ("scale given up", f"{max(0.0, given):.1%}", "by the part that lost most in settling"),
        ("straight creases", str(hard.creases), "a line that runs straight on counts once"),
        (
            "come together at once",
            str(hard.together),
            "the largest set that cannot be folded one after another, as far as inner vertices tell",
        ),
        ("the same in stages", *stages_words(base, hard.together, guide)),
        ("inner vertices", str(hard.vertices), "where folded creases meet inside the sheet"),
        (
            "smallest feature",
            f"{hard.feature * mm:.3g} mm, {size}" if mm else size,
            "the shortest crease, or the narrowest gap between creases side by side",
        ),
        (
            "most layers",
            f"{hard.layers}{thick}",
            "at the thickest point of the folded form as drawn; below, all that meets at a joint is laid to one side",
        ),
        ("distinct directions", str(hard.angles), "of folded creases, to a tenth of a degree"),
        ("middle flaps", str(hard.middle_flaps), "made from a whole disc of paper"),
        ("fillers", str(len(pattern.fillers)), "paper to tuck away or to use"),
        (
            "split rivers",
            ", ".join(pattern.split_rivers) or "none",
            "held by the paper in strands",
        ),
    ]


def fits(pattern: CreasePattern, packing: Packing, source: str = "") -> None:
    """Refuse a crease pattern of another figure or sheet than a packing's.

    Raises
    ------
    ReadError
        Where it is of another; `source` is the file told.
    """
    parts = set(pattern.part_of.values())
    if parts != set(packing.tree.names) or not _same_ratio(packing, pattern):
        raise ReadError(
            "this is not of the packing's figure and sheet; crease it again", source=source
        )


def _layers(pattern: CreasePattern, plan: Plan | None) -> Table:
    paper_mm = plan.paper.mm if plan else None
    return Table(
        "Layers along each flap and river, and at each joint with all its parts to one side",
        layer_heads(paper_mm),
        layer_rows(layer_count(pattern), paper_mm),
    )


def _sides(base: FlatBase, plan: Plan | None) -> Table:
    mm = _mm_per_unit(base.pattern, plan)
    return Table(
        "Which side of the paper shows on each part of the flat base, and its raw edge"
        + (" in mm" if mm else ""),
        SIDE_HEADS,
        side_rows(paper_sides(base), mm),
    )


def _mm_per_unit(pattern: CreasePattern, plan: Plan | None) -> float | None:
    return plan.sheet.width / pattern.sheet.width if plan else pattern.sheet.mm_per_unit


def grid_section(
    grid: GridPacking,
    packing: Packing,
    base: FlatBase | None = None,
    plan: Plan | None = None,
    guide: GuideBrief | None = None,
) -> Grid:
    """Return a grid packing with its lengths and what it costs against the circles.

    Parameters
    ----------
    grid
        The grid packing.
    packing
        The packing the report is on.
    base
        The creases of the grid, with their layer order if one is known.
    plan
        The sheet and the paper, for numbers in mm.
    guide
        The fold guide of these creases, in short.

    Raises
    ------
    PackingError
        Where it is of another figure.
    """
    if grid.tree.names != packing.tree.names:
        raise PackingError("this is not of the packing's figure; pack it on a grid again")
    across, up = grid.cells
    size = f"{grid.cell_mm:.4g} mm" if grid.cell_mm else f"{grid.cell:.4g} of the sheet"
    lines = [f"{across} x {up} cells of {size}, {grid.status}."]
    if grid.bound is not None:
        least = grid.bound.cells
        lines.append(f"At least {least[0]} x {least[1]} cells: {grid.bound.rule}.")
    try:
        cost = grid_cost(grid, packing)
    except PackingError:
        lines.append("It is on another sheet, so its scale is not compared with the circles'.")
    else:
        lines.append(
            f"The grid's scale is {100 * cost.share:.1f} % of the circles'; the part that rounding "
            f"made the shortest has {100 * cost.least / cost.circles:.1f} %."
        )
    split = ", ".join(grid.split_rivers)
    lines.append(f"Rivers in strands: {split}." if split else "All rivers are whole.")
    lengths = Table("Lengths asked and rounded to cells", length_heads(grid), length_rows(grid))
    if base is None:
        return Grid(grid, lines, lengths)
    if base.order is None:
        lines.append("No layer order was found, so mountains and valleys are open.")
    else:
        lines.append(
            f"Mountains and valleys are those of a valid layer order, {base.judgement}."
        )
    told = None if guide is None else guide_section(guide)
    return Grid(grid, lines, lengths, base.pattern, _layers(base.pattern, plan), told)


def _same_ratio(packing: Packing, pattern: CreasePattern) -> bool:

    ours, theirs = (s.width / s.height for s in (packing.sheet, pattern.sheet))
    return abs(ours / theirs - 1) < HOLDS
