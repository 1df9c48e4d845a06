"""The report of a packing as one HTML page, from Python or for the command."""

from __future__ import annotations

import shlex
from dataclasses import dataclass
from typing import TYPE_CHECKING

from packer.creases.settled_packing import settled_packing
from packer.files.figure_toml import figure_text
from packer.numbers import counted
from packer.planning.advice import advice
from packer.report.html_report import Report, report_html
from packer.report.packing_table import ending, headroom, settled_summary, summary
from packer.report.sections import levels_tables, paper_plan, parts_table, sheet_tables
from packer.report.settling_table import settling_table
from packer.version import __version__

if TYPE_CHECKING:
    from collections.abc import Sequence

    from packer.model.packing import Packing
    from packer.planning.comparison import Comparison
    from packer.planning.level_results import Levels
    from packer.planning.plan import Plan
    from packer.report.html_report import Creases, Grid


@dataclass(frozen=True)
class Provenance:
    """How a page and what it shows were made.

    Attributes
    ----------
    command
        The line of a shell that made the packing; by default one that follows from it.
    made
        Lines that made the creases, the grid and the comparison.
    options
        Words that `packer report` was given.
    told
        Advice given when it was packed; by default what follows to first order.
    """

    command: str = ""
    made: Sequence[str] = ()
    options: Sequence[str] = ()
    told: Sequence[str] | None = None

    def commands(self, packing: Packing, name: str) -> list[str]:
        """Return the lines of a shell that make a packing and its page again."""
        return [
            *([self.command] if self.command else commands(packing, name)),
            *self.made,
            shlex.join(["packer", "report", f"{name}.packing.json", *self.options]),
        ]


BY_DEFAULT = Provenance()
"""Nothing is known of how a packing was made but what it says itself."""


def report_page(
    packing: Packing,
    name: str = "figure",
    *,
    plan: Plan | None = None,
    creases: Creases | None = None,
    grid: Grid | None = None,
    comparison: Comparison | None = None,
    levels: Levels | None = None,
    provenance: Provenance = BY_DEFAULT,
) -> str:
    """Return one page that says all about a packing, as self-contained HTML.

    With creases the page speaks throughout of the packing as settled, and says what settling
    changed.

    Parameters
    ----------
    packing
        Any packing.
    name
        What its files are called, for the commands that make it again.
    plan
        The paper plan to show, of `packer.plan`.
    creases, grid
        What `crease_section` and `grid_section` of `packer.report.sections` make of a crease
        pattern and of a grid packing.
    comparison
        A comparison of sheets to show, of `packer.compare`.
    levels
        Levels of detail to show, of `packer.levels`.
    provenance
        The commands that made all this; by default those that follow from the packing.
    """
    settled = None if creases is None else settled_packing(packing, creases.base.pattern)
    lines = summary(packing) if settled is None else settled_summary(packing, settled)
    cut = None if plan is None else plan.sheet
    return report_html(
        Report(
            settled or packing,
            [_sentence(line.removeprefix(f"{packing.figure.name}: ")) for line in lines],
            parts_table(packing) if settled is None else parts_table(settled, packing),
            advice(packing) if provenance.told is None else provenance.told,
            search_lines(packing),
            provenance.commands(packing, name),
            figure_text(packing.figure),
            None if plan is None else paper_plan(settled or packing, plan),
            creases,
            grid,
            comparison,
            () if comparison is None else sheet_tables(comparison),
            levels,
            () if levels is None else levels_tables(levels),
            __version__,
            None if settled is None else settling_table(packing, settled, cut),
        )
    )


def _sentence(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}."


def search_lines(packing: Packing) -> list[str]:
    """Return how a packing was found, in sentences."""
    search = packing.search
    lines = ["It was given, not searched for."]
    if search.starts:
        lines = [
            (
                f"{counted(search.starts, 'start')} with seed {search.seed} took "
                f"{search.seconds:.1f} s, and {search.hits} reached this scale. The search ended by: "
                f"{ending(search.stopped)}."
            )
        ]
        if search.stopped in {"time", "interrupted"}:
            lines.append("A search that the clock ends may come out otherwise next time.")
    if packing.bound is not None and packing.headroom is not None:
        sentence = headroom(packing.headroom)
        lines.append(f"{sentence[0].upper()}{sentence[1:]} (proven by: {packing.bound.rule}).")
    else:
        lines.append("No upper bound was computed, so nothing is known of a better packing.")
    return lines


def commands(packing: Packing, name: str) -> list[str]:
    """Return the lines of a shell that make a packing again.

    Parameters
    ----------
    packing
        The packing.
    name
        What its files are called.
    """
    search = packing.search
    words = ["packer", "pack", f"{name}.toml", "--seed", str(search.seed)]
    own = packing.figure.sheet
    if own != packing.sheet and not (own is None and packing.sheet.describe() == "1 x 1"):
        words += ["--sheet", packing.sheet.describe().replace(" ", "")]
    if packing.symmetry != packing.figure.symmetry:
        words += ["--symmetry", packing.symmetry]
    if search.stopped == "starts":
        words += ["--starts", str(search.starts)]
    if search.stopped == "time":
        words += ["--time", f"{search.seconds:.0f}"]
    return [shlex.join(words)]
