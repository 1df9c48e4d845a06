"""``packer plan``: what a packing means in millimetres and in paper, or which sheet wishes need."""

from __future__ import annotations

import json
import string
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from packer.cli.beside import pattern_beside, settled_beside, settled_path
from packer.cli.groups import PaperArguments
from packer.cli.options import (
    AllowanceOption,
    ForceOption,
    JsonOption,
    PackingArgument,
    QuietOption,
    TrueSizeOption,
    WidthOption,
    option,
    stem_of,
)
from packer.cli.output import check_free, note, print_json, print_table, save, visible
from packer.errors import OptionError, SheetError, did_you_mean
from packer.model.sheet import parse_sheet
from packer.report.plan_table import (
    count_record,
    layer_heads,
    layer_rows,
    plan_lines,
    size_rows,
)
from packer.units import MM_PER_UNIT

if TYPE_CHECKING:
    from packer.creases.pattern import CreasePattern
    from packer.grid.grid_packing import GridPacking
    from packer.model.packing import Packing
    from packer.planning.paper import Paper
    from packer.planning.plan import Plan

GRID_ENDING = ".grid.json"
"""How the name of a packing on a grid ends."""

AtLeastOption = Annotated[
    list[str] | None,
    typer.Option(
        "--at-least",
        metavar="PART=MM",
        help='A part\'s least finished length, in place of --sheet: leg=60, leg=6cm, "*leg=60".',
        show_default=False,
    ),
]
FigureOption = Annotated[
    float | None,
    typer.Option(
        "--figure",
        metavar="MM",
        help="Least finished length from tip to tip, in place of --sheet.",
        show_default=False,
    ),
]
CreasesOption = Annotated[
    Path | None,
    typer.Option(
        "--creases",
        metavar="FILE",
        help="Its crease pattern, to count layers; by default NAME.creases.fold beside it, if any.",
        show_default=False,
    ),
]


def _list_papers(wanted: bool) -> None:
    if wanted:
        print_papers()
        raise typer.Exit


PapersOption = Annotated[
    bool,
    typer.Option(
        "--papers",
        help="List the papers of the table and where their calipers are from.",
        callback=_list_papers,
        is_eager=True,
    ),
]
PlanOutOption = Annotated[
    Path | None,
    typer.Option(
        "--out", metavar="DIR", help="Write NAME.plan.json there.", show_default=False
    ),
]


@dataclass(frozen=True)
class SizeArguments:
    """The sheet in true size, and what becomes of a length on it when it is folded."""

    sheet: TrueSizeOption = None
    allowance: AllowanceOption = 0.05
    width: WidthOption = None


@dataclass(frozen=True)
class WantedArguments:
    """Finished lengths that are wanted, in place of a sheet."""

    at_least: AtLeastOption = None
    figure: FigureOption = None


@dataclass(frozen=True)
class PlanOutput:
    """Where the plan is written, if anywhere, and what is told on the way."""

    out: PlanOutOption = None
    force: ForceOption = False
    quiet: QuietOption = False


def command(
    packing: PackingArgument,
    size: SizeArguments = SizeArguments(),
    wanted: WantedArguments = WantedArguments(),
    paper: PaperArguments = PaperArguments(),
    creases: CreasesOption = None,
    papers: PapersOption = False,
    output: PlanOutput = PlanOutput(),
    json_: JsonOption = False,
) -> None:
    """Plan the paper: sizes in mm, layers, what is hard by hand, what to cut the sheet from."""
    out, force, quiet = output.out, output.force, output.quiet
    on_grid = packing.name.endswith(GRID_ENDING)
    stem = packing.name.removesuffix(".json") if on_grid else stem_of(packing)
    target = None if out is None else out / f"{stem}.plan.json"
    if target:
        check_free([target], force)
    made_of = paper.chosen()
    subject, pattern = (_read_grid if on_grid else _read)(packing, creases, quiet)
    made = planned(subject, size, made_of, pattern, wanted)
    record = plan_record(made)
    text = json.dumps(record, ensure_ascii=False, indent=1) + "\n"
    if target:
        save({target: text}, force=force, quiet=quiet)
    if json_:
        print_json(text)
    elif not quiet:
        _print(subject, made)


def _read(
    path: Path, creases: Path | None, quiet: bool
) -> tuple[Packing, CreasePattern | None]:
    """Return a packing of circles, as settled where it was, and its creases if any."""
    from packer.files.packing_json import read_packing

    searched = read_packing(path)
    settled = settled_beside(path, searched)
    if settled is not None:
        note(f"sizes are those of the packing as settled, in {settled_path(path)}", quiet)
    return settled or searched, pattern_beside(path, creases, searched)


def _read_grid(path: Path, creases: Path | None, _quiet: bool) -> tuple[GridPacking, None]:
    """Return a packing on a grid, whose creases follow from it.

    Raises
    ------
    OptionError
        Where creases are named all the same.
    """
    from packer.files.grid_json import read_grid

    if creases is not None:
        raise OptionError("the creases of a grid follow from it; leave this out", "--creases")
    return read_grid(path), None


def planned(
    packing: Packing | GridPacking,
    size: SizeArguments,
    paper: Paper,
    pattern: CreasePattern | None,
    wanted: WantedArguments = WantedArguments(),
) -> Plan:
    """Return the plan that the options ask for, from a sheet or backwards from wishes.

    Raises
    ------
    PackerError
        Where an option is wrong, or both ways are given.
    """
    from packer.planning.plan import plan, sheet_for

    wishes = dict(_wish(text) for text in wanted.at_least or [])
    backwards = bool(wishes) or wanted.figure is not None
    if backwards and size.sheet is not None:
        raise OptionError(
            "either the sheet is given or it is what wishes need; leave one out", "--sheet"
        )
    cut = None if size.sheet is None else option("--sheet", parse_sheet, size.sheet)
    try:
        if backwards:
            cut = sheet_for(packing, wishes, wanted.figure, allowance=size.allowance)
        return plan(
            packing, cut, paper, allowance=size.allowance, width=size.width, pattern=pattern
        )
    except SheetError as error:
        raise OptionError(error.message, "--sheet") from None
    except OptionError as error:
        known = {"allowance", "width", "figure"}
        name = error.entry if error.entry in known else "at-least"
        raise OptionError(error.message, f"--{name}") from None


def _wish(text: str) -> tuple[str, float]:
    """Return the part and the length in mm of a wish such as leg=60, leg=60mm or leg=2.5in.

    Raises
    ------
    OptionError
        Where the text is neither.
    """
    part, equals, size = (word.strip() for word in text.rpartition("="))
    number = size.rstrip(string.ascii_letters)
    unit = size[len(number) :] or "mm"
    if not equals or not part:
        raise OptionError(
            f'"{text}" names no part with its length; write a part, "=" and the length in mm, '
            "such as leg=60",
            "--at-least",
        )
    if unit not in MM_PER_UNIT:
        raise OptionError(
            f'"{unit}" in "{text}" is not a unit of length{did_you_mean(unit, MM_PER_UNIT)}',
            "--at-least",
        )
    try:
        return part, float(number) * MM_PER_UNIT[unit]
    except ValueError:
        raise OptionError(
            f'"{size}" in "{text}" is not a length; write a number of mm, such as {part}=60',
            "--at-least",
        ) from None


def plan_record(made: Plan) -> dict[str, Any]:
    """Return a plan as plain keys and values; all lengths are in mm."""
    return {
        "sheet_mm": [made.sheet.width, made.sheet.height],
        "paper": {
            "name": made.paper.name,
            "caliper_um": made.paper.caliper,
            "weight_g_m2": made.paper.weight,
            "source": made.paper.source,
        },
        **({} if made.cell is None else {"cells": list(made.cells), "cell_mm": made.cell}),
        "allowance": made.allowance,
        "figure_mm": made.length,
        "from": made.ends[0],
        "to": made.ends[1],
        "parts": [
            {
                "name": part.name,
                "kind": part.kind,
                "on_sheet_mm": part.on_sheet,
                "finished_mm": part.finished,
                "width_mm": part.width,
            }
            for part in made.parts
        ],
        "thickest_joint": made.joint,
        "layers": made.layers,
        "thickness_mm": made.thickness,
        "layers_counted": None if made.counted is None else count_record(made.counted),
        "narrowest_flap": made.narrowest.name,
        "narrowest_in_calipers": made.slimness,
        "stock": [{"name": stock.name, "waste": waste} for stock, waste in made.stock],
        "warnings": list(made.warnings),
        "models": list(made.models),
    }


def _print(packing: Packing | GridPacking, made: Plan) -> None:
    print(visible(f"{packing.figure.name}: {plan_lines(made)[0]}"))
    if made.cell is not None:
        (across, up), side = made.cells, made.cell
        print(f"{across} x {up} cells of {side:.4g} mm")
    for line in plan_lines(made)[1:]:
        print(visible(line))
    print()
    rows = size_rows(packing, made)
    print_table(
        rows, ("part", "on sheet, mm", "finished, mm", "width, mm", "kind"), left=(0, 4)
    )
    if made.counted is not None:
        mm = made.paper.mm
        print()
        print_table(layer_rows(made.counted, mm), layer_heads(mm))
    print()
    for line in (*(f"warning: {text}" for text in made.warnings), *made.models):
        print(visible(line))


def print_papers() -> None:
    """Print the table of papers to stdout."""
    from packer.planning.paper import PAPERS

    rows = [
        (
            paper.name,
            f"{paper.caliper:g}",
            f"{paper.weight:g}" if paper.weight else "",
            paper.source,
        )
        for paper in PAPERS.values()
    ]
    print_table(rows, ("paper", "caliper, um", "g/m2", "source"), left=(0, 3))
