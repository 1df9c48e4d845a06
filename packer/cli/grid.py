"""``packer grid``: pack a figure on whole cells, with its creases."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from math import inf
from typing import TYPE_CHECKING, Annotated

import typer

from packer.cli.command_line import command_line
from packer.cli.groups import Output, Subject
from packer.cli.options import (
    DetailOption,
    GridTimeOption,
    JsonOption,
    SeedOption,
    named_options,
    option,
)
from packer.cli.output import ProgressLine, print_json, print_table, visible, warn
from packer.deadline import Deadline
from packer.errors import FigureError, OptionError, PatternError, did_you_mean
from packer.report.grid_table import length_heads, length_rows

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from packer.creases.pattern import CreasePattern
    from packer.folded.layers import FlatBase
    from packer.grid.grid_packing import GridPacking
    from packer.grid.grid_problem import GridRequest
    from packer.grid.neighbourhood_search import GridProgress
    from packer.grid.proposals import Proposal
    from packer.model.figure import Figure
    from packer.search.options import SearchOptions

UnitOption = Annotated[
    float | None,
    typer.Option(
        "--unit", metavar="LENGTH", help="Length of the figure that is one cell.",
        show_default=False,
    ),
]  # fmt: skip
ErrorOption = Annotated[
    float | None,
    typer.Option(
        "--error",
        metavar="FRACTION",
        help="How wrong a rounded length may be, such as 0.1, in place of --unit.",
        show_default=False,
    ),
]
SideOption = Annotated[
    int | None,
    typer.Option(
        "--side", metavar="N", help="Cells across; the least number up is looked for.",
        show_default=False,
    ),
]  # fmt: skip
CellsOption = Annotated[
    str | None,
    typer.Option(
        "--cells", metavar="NxM", help="Use this grid, in place of the least one.",
        show_default=False,
    ),
]  # fmt: skip
WholeRiversOption = Annotated[
    bool,
    typer.Option("--whole-rivers", help="Allow a larger grid so that each river is one band."),
]
LengthenOption = Annotated[
    float | None,
    typer.Option(
        "--lengthen",
        metavar="FRACTION",
        help="Let loose flaps grow into unused paper by so much, such as 0.25.",
        show_default=False,
    ),
]
SetOption = Annotated[
    list[str] | None,
    typer.Option(
        "--set",
        metavar="PART=CELLS",
        help="Cells of a part, as leg=5; may be given more than once.",
        show_default=False,
    ),
]
EffortOption = Annotated[
    float | None,
    typer.Option(
        "--effort",
        metavar="N",
        help="How long to search, in steps of about a second that are the same everywhere; 30 by "
        "default.",
        show_default=False,
    ),
]


@dataclass(frozen=True)
class CellArguments:
    """The grid that is asked for, and how the figure is to lie on it."""

    unit: UnitOption = None
    error: ErrorOption = None
    side: SideOption = None
    cells: CellsOption = None
    set_: SetOption = None
    whole_rivers: WholeRiversOption = False
    lengthen: LengthenOption = None

    def request(self) -> GridRequest:
        """Return the grid that is asked for as a search takes it."""
        from packer.grid.grid_problem import GridRequest

        size = None if self.cells is None else option("--cells", _read_cells, self.cells)
        return GridRequest(self.unit, self.error, self.side, size)


@dataclass(frozen=True)
class GridSearchArguments:
    """What the options say about a search on whole cells: its seed, and when it ends."""

    seed: SeedOption = 0
    time: GridTimeOption = None
    effort: EffortOption = None

    def options(self, progress: Callable[[GridProgress], None]) -> SearchOptions:
        """Return them as a search takes them."""
        from packer.search.options import SearchOptions
        from packer.search.stopping import MaxEffort, TimeLimit

        stop = (
            *(() if self.effort is None else (MaxEffort(self.effort),)),
            *(() if self.time is None else (TimeLimit(self.time),)),
        )
        return SearchOptions(self.seed, stop, progress=progress)


def command(
    subject: Subject,
    detail: DetailOption = None,
    cells: CellArguments = CellArguments(),
    search: GridSearchArguments = GridSearchArguments(),
    output: Output = Output(),
    json_: JsonOption = False,
) -> None:
    """Pack a figure on the least grid of whole cells, and crease it: box pleating."""
    request = cells.request()
    problem, stem = subject.posed(detail)
    problem = replace(problem, figure=with_cells(problem.figure, cells.set_ or []))
    ends = ("json", "svg", "png", "creases.fold", "creases.svg")
    files = output.files(stem, [f"grid.{end}" for end in ends])

    from packer.files.grid_json import grid_text
    from packer.grid.grid_creases import grid_creases
    from packer.grid.pack_grid import pack_grid
    from packer.grid.proposals import proposals
    from packer.grid.rounding import as_rounding

    warn_without_exact_solver()
    deadline = Deadline.after(inf if search.time is None else search.time)
    with ProgressLine(output.quiet, search.time) as line, named_options():
        packing = pack_grid(
            problem,
            grid=request,
            whole_rivers=cells.whole_rivers or None,
            lengthen=cells.lengthen,
            options=search.options(lambda now: line.show(progress_text(now))),
        )
    # at once: what is drawn of it takes a while, and Ctrl-C would lose it
    output.save({files[0]: grid_text(packing, command_line())})
    offered = proposals(problem, as_rounding(problem.tree, packing.unit, packing.rounded))
    base = layered(grid_creases(packing), deadline)
    output.save(dict(zip(files[1:], _contents(packing, base, offered), strict=True)))
    if packing.search.stopped == "interrupted":
        warn("interrupted: this is the best grid found until then")
    if base.order is None:
        warn(f"{base.status} in {base.seconds:.0f} s; try another --seed or more --time")
    if (cells.whole_rivers or problem.figure.whole_rivers) and not packing.rivers_whole:
        warn(f"no grid with whole rivers found; in strands: {', '.join(packing.split_rivers)}")
    if json_:
        print_json(grid_text(packing, command_line()))
    elif not output.quiet:
        asked = any(wish is not None for wish in (cells.unit, cells.error, cells.cells))
        print_grid(packing, offered, "taken" if asked else _taken(packing))
        if cells.cells is not None and cells.unit is None and cells.error is None:
            print(longest_words(packing))
        print()
        print_layers(base)


def print_layers(base: FlatBase) -> None:
    """Print what is known of the layer order, and the layers along each part and at each joint."""
    from packer.folded.layer_count import layer_count
    from packer.report.plan_table import layer_heads, layer_rows

    print(f"{base.pattern.creases} creases: {layer_order_line(base)}")
    if base.mirrored.unlike is not None:
        print(f"mirrored: {base.mirrored}")
    count = layer_count(base.pattern)
    joint, most = count.thickest
    print(visible(f'thickest at "{joint}": {most} layers'))
    print()
    print_table(layer_rows(count), layer_heads())


def layer_order_line(base: FlatBase) -> str:
    """Return in words whether a layer order is known, and how much of it was checked."""
    if base.order is None:
        return f"{base.status}, so mountains and valleys are open"
    return f"{base.status}, {base.judgement}"


def with_cells(figure: Figure, texts: Sequence[str]) -> Figure:
    """Return a figure with the cells of some parts set, each written as leg=5.

    Raises
    ------
    OptionError
        Where a text names no part or no whole number of cells.
    """
    wished: dict[str, int] = {}
    known = [part.name for parts in (figure.flaps, figure.rivers) for part in parts]
    for text in texts:
        name, equals, number = (word.strip() for word in text.rpartition("="))
        if not equals or not number.isascii() or not number.isdigit():
            raise OptionError(
                f'"{text}" sets no whole number of cells; write a part, "=" and the cells, such '
                "as leg=5",
                "--set",
            )
        if name not in known:
            raise OptionError(f'no part is called "{name}"{did_you_mean(name, known)}', "--set")
        wished[name] = int(number)
    try:
        return replace(
            figure,
            flaps=tuple(replace(f, cells=wished.get(f.name, f.cells)) for f in figure.flaps),
            rivers=tuple(replace(r, cells=wished.get(r.name, r.cells)) for r in figure.rivers),
        )
    except FigureError as error:
        raise OptionError(error.message, "--set") from None


def warn_without_exact_solver() -> None:
    """Say what a search on whole cells cannot do where OR-tools is missing."""
    from packer.grid import cp_sat

    if not cp_sat.available():
        warn(
            "OR-tools is missing, so only figures of about 12 flaps (22 mirrored) can be proven "
            'and rivers are not joined; install it with pip install "packer[grid]"'
        )


def _contents(
    packing: GridPacking, base: FlatBase, offered: Sequence[Proposal]
) -> tuple[str | bytes, ...]:
    """Return what goes into the files of a grid beside the grid itself, in their order."""
    from packer.drawing.grid_drawing import crease_role_drawing, grid_drawing
    from packer.drawing.plates.grid_plate import grid_plate
    from packer.drawing.writers.png import png_bytes
    from packer.drawing.writers.svg import svg_text
    from packer.files.fold_json import fold_text
    from packer.folded.pleats import pleat_creases, pleated_cells

    return (
        svg_text(grid_drawing(packing)),
        png_bytes(grid_plate(packing, base.pattern, offered)),
        fold_text(base, pleat_creases(base.pattern, base.form, pleated_cells(packing))),
        svg_text(crease_role_drawing(base.pattern, packing)),
    )


def _taken(packing: GridPacking) -> str:
    """Return the word for a unit that was chosen, and why where no usual one was found."""
    from packer.grid.proposals import BY_HAND, STILL_ALIKE, UNSEEN
    from packer.grid.rounding import as_rounding

    error = as_rounding(packing.tree, packing.unit, packing.rounded).error
    if error <= STILL_ALIKE and max(packing.cells) <= BY_HAND[1]:
        return f"taken: least cells x (error + {UNSEEN:.0%})"
    return f"taken: none found in {BY_HAND[1]} cells within {STILL_ALIKE:.0%}"


def longest_words(packing: GridPacking) -> str:
    """Return what the lengths on a grid that was asked for have reached."""
    from packer.grid.proposals import STILL_ALIKE
    from packer.grid.rounding import as_rounding

    tree, cells = packing.tree, packing.rounded
    error = as_rounding(tree, packing.unit, cells).error
    ratio = min(c / length for c, length in zip(cells, tree.lengths, strict=True))
    within = f" within {STILL_ALIKE:.0%}" if error <= STILL_ALIKE else ""
    ends = {
        "proven": f"proven: no lengths{within} on this grid have more",
        "interrupted": "the best until the interruption",
    }
    more = f"the best found; more {'time' if packing.search.stopped == 'time' else 'effort'} may give more"
    return (
        f"every part has at least {ratio:.4g} cells for a length of 1, errors of at most {error:.1%}; "
        f"{ends.get(packing.search.stopped, more)}"
    )


def layered(pattern: CreasePattern, deadline: Deadline) -> FlatBase:
    """Fold a pattern, check it, and construct its layer order in what is left of the time.

    Raises
    ------
    PatternError
        Where something does not hold in the folded form.
    """
    from packer.folded.checks import findings
    from packer.folded.layers import flat_base, ordering_deadline

    base = flat_base(pattern, deadline=ordering_deadline(deadline))
    wrong = findings(base.pattern, base.form)
    if wrong:
        raise PatternError(f"the pattern does not fold: {wrong[0]}; report it with the figure")
    return base


def progress_text(now: GridProgress) -> str:
    """Return what the progress line says: elapsed, best grid and what is proven."""
    best = "none yet" if now.best is None else f"{now.best[0]} x {now.best[1]}"
    least = f"{now.bound[0]} x {now.bound[1]}"
    return f"best grid {best}, proven at least {least}; {now.doing}"


def print_grid(packing: GridPacking, offered: Sequence[Proposal], taken: str) -> None:
    """Print the units to choose from, the grid taken, and asked against rounded lengths.

    `taken` is the word for the unit of the packing.
    """
    print_table(
        [
            (
                f"{p.rounding.unit:.4g}",
                f"{p.least[0]} x {p.least[1]}",
                f"{p.rounding.error:.1%}",
                "#" * round(32 * p.rounding.error / max(q.rounding.error for q in offered))
                if p.rounding.error
                else "",
                taken if p.rounding.lengths == packing.rounded else "",
            )
            for p in offered
        ],
        ("unit", "at least", "worst error", "", ""),
        (3, 4),
    )
    across, up = packing.cells
    cell = (
        f"{packing.cell_mm:.4g} mm" if packing.cell_mm else f"{packing.cell:.4g} of the sheet"
    )
    print(f"\n{across} x {up} cells of {cell}, {packing.status}")
    if packing.bound is not None:
        least = packing.bound.cells
        print(visible(f"at least {least[0]} x {least[1]}: {packing.bound.rule}"))
    print(f"one cell is {packing.unit:.4g} of the figure's length, scale {packing.scale:.5g}")
    split = ", ".join(packing.split_rivers)
    print(visible(f"rivers in strands: {split}" if split else "all rivers whole"))
    print()
    print_table(length_rows(packing), length_heads(packing))


def _read_cells(text: str) -> tuple[int, int]:
    match = re.fullmatch(r"\s*(\d{1,6})\s*(?:[x×*]\s*(\d{1,6}))?\s*", text)
    if match is None:
        raise OptionError(f'"{text}" is no grid; write cells such as 24 or 24x32')
    return int(match[1]), int(match[2] or match[1])
