"""``packer pack``: find the largest packing of a figure, draw it and save it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from packer.cli.cluster import executor_at
from packer.cli.command_line import command_line
from packer.cli.groups import Output, SearchArguments, Subject
from packer.cli.options import DetailOption, JsonOption
from packer.cli.output import (
    ProgressLine,
    check_free,
    note,
    print_json,
    print_table,
    visible,
    warn,
)
from packer.errors import FigureError, OptionError
from packer.files.write import rewrite
from packer.numbers import counted
from packer.search.stopping import MaxStarts, TimeLimit

if TYPE_CHECKING:
    from collections.abc import Callable

    from packer.model.packing import Packing
    from packer.model.problem import Problem
    from packer.search.pack import Progress

FlexOption = Annotated[
    float | None,
    typer.Option(
        "--flex",
        metavar="FRACTION",
        help="Let every length stray by so much, such as 0.1, their total held.",
        show_default=False,
    ),
]
WholeOption = Annotated[
    bool,
    typer.Option("--whole-rivers", help="Look for a packing whose rivers are whole."),
]
FromOption = Annotated[
    Path | None,
    typer.Option(
        "--from",
        metavar="NAME.packing.json",
        help="Begin from this packing of the same or a similar figure.",
        show_default=False,
    ),
]
GalleryOption = Annotated[
    int | None,
    typer.Option(
        "--gallery",
        metavar="N",
        help="Find up to N packings that are really different, and draw them on one plate; it "
        "takes at most about 80 s where no --time is given.",
        show_default=False,
    ),
]
ClusterOption = Annotated[
    str | None,
    typer.Option(
        "--cluster",
        metavar="ADDRESS",
        help="Search on the dask cluster whose scheduler is there, such as tcp://host:8786.",
        show_default=False,
    ),
]

INTERRUPTED = {"interrupted", "workers lost"}
"""Why a search ended before its time."""

MOVED = 1e-4
"""Share of the sheet's width from which a tip counts as moved: a thirtieth of a mm on 350 mm."""
ABOUT_SECONDS = 40.0
"""Longest time of a search, and of the further starts of a gallery, for which nothing is said."""
REPACK_SECONDS = 2.0
"""Longest time for which advice packs a changed figure again."""
REPACK_SHARE = 0.03
"""That time as a share of a given time, which a few such packings then hardly exceed."""


@dataclass(frozen=True)
class Wishes:
    """What the options say of the figure in place of its file."""

    detail: DetailOption = None
    flex: FlexOption = None
    whole_rivers: WholeOption = False

    def posed(self, subject: Subject) -> tuple[Problem, str]:
        """Return the figure so on its sheet, and the stem of the names of its results.

        Raises
        ------
        PackerError
            Where the figure is wrong, or the flex is no fraction.
        """
        problem, stem = subject.posed(self.detail)
        figure = problem.figure
        if self.flex is not None:
            try:
                figure = figure.with_flex(self.flex)
            except FigureError as error:
                raise OptionError(error.message, "--flex") from None
        if self.whole_rivers:
            figure = replace(figure, whole_rivers=True)
        return replace(problem, figure=figure), stem


@dataclass(frozen=True)
class PackArguments(SearchArguments):
    """The same for one figure: what to begin from and where to search as well."""

    from_: FromOption = None
    cluster: ClusterOption = None


def command(
    subject: Subject,
    wishes: Wishes = Wishes(),
    gallery: GalleryOption = None,
    search: PackArguments = PackArguments(),
    output: Output = Output(),
    json_: JsonOption = False,
) -> None:
    """Pack a figure: find where every tip goes so that it comes out as large as possible."""
    problem, stem = wishes.posed(subject)
    files = _Files(output.out, stem, gallery)
    check_free(files.all, output.force)
    near = None if search.from_ is None else _like(problem, search.from_)
    packings = _searched(problem, near, gallery or 1, search, output.quiet)
    contents = files.contents(packings)
    output.save(contents)
    if gallery and len(packings) < gallery:
        note(
            f"only {len(packings)} packings were found that are really different", output.quiet
        )
    packing = packings[0]
    if near is not None:
        for line in moved_lines(near, packing):
            note(line, output.quiet)
    if packing.search.stopped in INTERRUPTED:
        warn(f"{packing.search.stopped}: this is the best packing found until then")
    if json_:
        text = str(contents[files.best[0]])
        print_json(text if not gallery else _listed(contents, [files.best[0], *files.others]))
    elif not output.quiet:
        advice = _tell(packing, search.time)
        if advice:  # the report is to give the same
            from packer.files.packing_json import packing_text

            before = str(contents[files.best[0]])
            rewrite(files.best[0], before, packing_text(packing, command_line(), advice))


def _tell(packing: Packing, time: float | None) -> list[str]:
    """Print a packing with advice, and return the advice."""
    interrupted = packing.search.stopped in INTERRUPTED
    short = TimeLimit(min(REPACK_SECONDS, math.inf if time is None else REPACK_SHARE * time))
    advice = print_packing(packing, None if interrupted else _repack(packing, short))
    if packing.figure.whole_rivers and not interrupted:
        note(whole_rivers_cost(packing, short))
    return advice


@dataclass(frozen=True)
class _Files:
    """The files of a search, by what is in them."""

    out: Path
    stem: str
    gallery: int | None

    @property
    def best(self) -> list[Path]:
        """The best packing: record, drawing and plate."""
        return [self.out / f"{self.stem}.packing.{kind}" for kind in ("json", "svg", "png")]

    @property
    def others(self) -> list[Path]:
        """The records of the other packings of a gallery."""
        return [
            self.out / f"{self.stem}.{k}.packing.json"
            for k in range(2, (self.gallery or 1) + 1)
        ]

    @property
    def plate(self) -> list[Path]:
        """The plate of a gallery, if one was asked for."""
        return [self.out / f"{self.stem}.gallery.png"] if self.gallery else []

    @property
    def all(self) -> list[Path]:
        """All that may be written."""
        return [*self.best, *self.others, *self.plate]

    def contents(self, packings: tuple[Packing, ...]) -> dict[Path, str | bytes]:
        """Return what to write for the packings found, the best first."""
        from packer.drawing.packing_drawing import packing_drawing
        from packer.drawing.plates.packing_plate import gallery_plate, packing_plate
        from packer.drawing.writers.png import png_bytes
        from packer.drawing.writers.svg import svg_text
        from packer.files.packing_json import packing_text

        best = packings[0]
        pictures = (svg_text(packing_drawing(best)), png_bytes(packing_plate(best)))
        contents: dict[Path, str | bytes] = dict(
            zip(self.best, (packing_text(best, command_line()), *pictures), strict=True)
        )
        for path, other in zip(self.others, packings[1:], strict=False):
            contents[path] = packing_text(other)
        for path in self.plate:
            contents[path] = png_bytes(gallery_plate(packings))
        return contents


def moved_lines(near: Packing, packing: Packing) -> list[str]:
    """Return what changed against the packing that a search began from: scale and tips moved."""
    import numpy as np

    before, after = near.scale / near.sheet.width, packing.scale / packing.sheet.width
    # in the unit of the new sheet, which may be another size
    was = before * packing.sheet.width
    lines = [f"scale {was:.6g} before, {packing.scale:.6g} now ({after / before - 1:+.1%})"]
    places = dict(zip(near.tree.flaps, near.points / near.sheet.width, strict=True))
    mm = packing.sheet.in_mm().width if packing.sheet.unit else None
    moved = {
        name: float(np.hypot(*(point - places[name])))
        for name, point in zip(
            packing.tree.flaps, packing.points / packing.sheet.width, strict=True
        )
        if name in places
    }
    far = sorted((way, name) for name, way in moved.items() if way > MOVED)[::-1]
    if not far:
        return [*lines, "no tip moved"]
    told = [
        f"{name} {way * mm:.1f} mm" if mm else f"{name} {100 * way:.1f} % of the width"
        for way, name in far
    ]
    return [*lines, f"moved: {', '.join(told)}"]


def _like(problem: Problem, path: Path) -> Packing:
    """Read a packing to begin from, and refuse one of other flaps altogether."""
    from packer.files.packing_json import read_packing

    near = read_packing(path)
    if not set(near.tree.flaps) & set(problem.tree.flaps):
        raise OptionError(
            f'no flap of "{path}" has a name of this figure; give a packing of the same or a '
            "similar figure",
            "--from",
        )
    return near


def _searched(
    problem: Problem,
    near: Packing | None,
    count: int,
    search: PackArguments,
    quiet: bool,
) -> tuple[Packing, ...]:
    """Return so many packings, the best first, and show on the way how the search stands."""
    from packer.search.gallery import gallery

    usual = ABOUT_SECONDS if count == 1 else 2 * ABOUT_SECONDS
    about = search.time or (None if search.starts else usual)
    if count > 1:
        takes = f"at most {about:g} s; --time sets it" if about else "as long as the starts do"
        note(f"looking for {count} packings takes {takes}", quiet)
    with executor_at(search.cluster, quiet) as workers, ProgressLine(quiet, about) as line:
        search = replace(search, workers=search.workers or workers.count)
        options = search.options(lambda now: line.show(progress_text(now)), workers.executor)
        return gallery(problem, count, options=options, near=near)


def whole_rivers_cost(packing: Packing, short: TimeLimit) -> str:
    """Return what the wish for whole rivers cost, against a short search without it."""
    from packer.search.options import SearchOptions
    from packer.search.pack import pack

    options = SearchOptions(stop=short, workers=1)
    free = pack(packing.problem, options=options, near=packing, whole_rivers=False)
    cost = max(0.0, free.scale / packing.scale - 1)
    left = len(packing.split_rivers)
    rivers = f"{counted(left, 'river')} still in strands" if left else "all rivers are whole"
    if cost < 5e-4:
        return f"{rivers}; a short search without that wish found nothing larger"
    return f"{rivers}; a short search without that wish gained {100 * cost:.1f} % scale"


def progress_text(now: Progress) -> str:
    """Return what the progress line says: packings tried, best scale and what is proven."""
    from packer.report.packing_table import headroom

    text = f"{counted(now.tried, 'packing')} tried"
    if now.scale > 0:
        text += f", scale {now.scale:.6g}"
        if now.bound is not None:
            text += f"; {headroom(max(0.0, now.bound / now.scale - 1))}"
    return text


def _listed(contents: dict[Path, str | bytes], paths: list[Path]) -> str:
    """Return the packings of a gallery as one JSON array, the best first."""
    return "[" + ",\n".join(str(contents[p]).rstrip() for p in paths if p in contents) + "]\n"


def _repack(packing: Packing, short: TimeLimit) -> Callable[[Problem], Packing]:
    """Return a short search from a packing on, by which advice is checked."""
    from packer.search.options import SearchOptions
    from packer.search.pack import pack

    options = SearchOptions(stop=(MaxStarts(1), short), workers=1)

    def repack(problem: Problem) -> Packing:
        return pack(problem, options=options, near=packing)

    return repack


def print_packing(
    packing: Packing, repack: Callable[[Problem], Packing] | None = None
) -> list[str]:
    """Print summary, table and advice, checked by `repack` where given; return the advice."""
    from packer.planning.advice import advice
    from packer.report.packing_table import heads, rows, summary

    for line in summary(packing):
        print(visible(line))
    print()
    print_table(rows(packing), heads(packing), left=(0, len(heads(packing)) - 1))
    sentences = advice(packing, repack)
    if sentences:
        print()
    for sentence in sentences:
        print(visible(sentence))
    return sentences
