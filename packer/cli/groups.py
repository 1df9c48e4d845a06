"""Groups of options that several commands share: what to work on, how to search, where to write."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, cast

from packer.cli.options import (
    HERE,
    BulkOption,
    CaliperOption,
    CourseTimeOption,
    FigureArgument,
    ForceOption,
    OutOption,
    PaperOption,
    QuietOption,
    SeedOption,
    SheetOption,
    StartsOption,
    SymmetryOption,
    TimeOption,
    WeightOption,
    WorkersOption,
    option,
    read_subject,
)
from packer.cli.output import check_free, save
from packer.errors import FigureError, OptionError, SheetError
from packer.files.newick import is_newick
from packer.model.sheet import parse_sheet

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from concurrent.futures import Executor
    from pathlib import Path

    from packer.model.figure import Symmetry
    from packer.model.problem import Problem
    from packer.planning.paper import Paper
    from packer.search.options import SearchOptions


@dataclass(frozen=True)
class Subject:
    """The figure to work on, with what the options say in place of it."""

    figure: FigureArgument
    sheet: SheetOption = None
    symmetry: SymmetryOption = None

    def posed(self, detail: int | None = None) -> tuple[Problem, str]:
        """Return the figure on its sheet, and the stem of the names of its results.

        Of a figure with finer parts only those up to a detail, where one is given.

        Raises
        ------
        PackerError
            Where the file, the sheet or the symmetry is wrong, or they do not go together.
        """
        from packer.model.problem import pose

        figure, stem = read_subject(self.figure)
        size = None if self.sheet is None else option("--sheet", parse_sheet, self.sheet)
        try:
            level = figure if detail is None else figure.at(detail)
            return pose(level, size, cast("Symmetry | None", self.symmetry)), stem
        except (FigureError, SheetError) as error:
            if error.entry == "symmetry" and self.symmetry is not None:
                raise OptionError(error.message, "--symmetry") from None
            tree = is_newick(self.figure)
            raise error.found_in("the Newick tree" if tree else self.figure) from None


@dataclass(frozen=True)
class SearchArguments:
    """What the options say about a search: its seed, when it ends, its processes."""

    seed: SeedOption = 0
    starts: StartsOption = None
    time: TimeOption = None
    workers: WorkersOption = None

    def options(
        self, progress: Callable[[Any], None], executor: Executor | None = None
    ) -> SearchOptions:
        """Return them as a search takes them."""
        from packer.search.options import SearchOptions
        from packer.search.stopping import MaxStarts, TimeLimit

        stop = (
            *(() if self.starts is None else (MaxStarts(self.starts),)),
            *(() if self.time is None else (TimeLimit(self.time),)),
        )
        return SearchOptions(self.seed, stop, self.workers, executor, progress)


@dataclass(frozen=True)
class CourseArguments(SearchArguments):
    """The same for many searches one after the other, which share the time."""

    time: CourseTimeOption = None


@dataclass(frozen=True)
class Output:
    """Where results go, and what is told on the way."""

    out: OutOption = HERE
    force: ForceOption = False
    quiet: QuietOption = False

    def files(self, stem: str, ends: Sequence[str]) -> list[Path]:
        """Return where to write files whose names begin and end so.

        Raises
        ------
        ReadError
            Where one cannot be written, or exists and may not be replaced.
        """
        paths = [self.out / f"{stem}.{end}" for end in ends]
        check_free(paths, self.force)
        return paths

    def save(self, files: Mapping[Path, str | bytes]) -> None:
        """Write files whole or not at all, and say where they are."""
        save(files, force=self.force, quiet=self.quiet)


@dataclass(frozen=True)
class PaperArguments:
    """The paper to plan with, given in one of three ways."""

    paper: PaperOption = None
    caliper: CaliperOption = None
    weight: WeightOption = None
    bulk: BulkOption = 1.2

    def chosen(self) -> Paper:
        """Return the paper that the options mean.

        Raises
        ------
        OptionError
            Where they mean two, or one is wrong.
        """
        from packer.planning.paper import DEFAULT, Paper, named_paper, paper_of_weight

        given = {"--paper": self.paper, "--caliper": self.caliper, "--weight": self.weight}
        named = [name for name, value in given.items() if value is not None]
        if len(named) > 1:
            raise OptionError(
                "a paper is given in one way only; leave one out", " and ".join(named)
            )
        try:
            if self.paper is not None:
                return named_paper(self.paper)
            if self.caliper is not None:
                return Paper(f"{self.caliper:g} um paper", self.caliper)
            if self.weight is not None:
                return paper_of_weight(self.weight, self.bulk)
        except OptionError as error:
            raise OptionError(error.message, f"--{error.entry}") from None
        return DEFAULT
