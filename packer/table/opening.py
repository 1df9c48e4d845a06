"""What is put on the table first: a figure file, a sketch, a saved packing, or nothing."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from packer.errors import FigureError
from packer.files.figure_toml import read_figure
from packer.files.newick import is_newick, parse_newick
from packer.files.packing_json import read_packing
from packer.model.problem import pose
from packer.sketch.stick_tree import figure_of_sketch
from packer.sketch.svg_reader import read_sketch
from packer.table.draft import Draft, figure_of_draft
from packer.table.figure_layout import draft_of_figure
from packer.table.sketch_layout import draft_of_sketch
from packer.table.state import TableState, drafted, of_packing

if TYPE_CHECKING:
    from packer.model.figure import Figure


def opened(subject: str | None) -> tuple[TableState, str]:
    """Return what an argument of the command means, and the stem of the names of its files.

    Parameters
    ----------
    subject
        A figure file, a drawing (SVG), a packing file or a tree in Newick notation; None for an
        empty table.

    Raises
    ------
    PackerError
        Where the file is wrong.
    """
    if subject is None:
        return drafted(TableState(), Draft()), "figure"
    if is_newick(subject):
        return _of_figure(parse_newick(subject)), "tree"
    path = Path(subject)
    stem = path.name.partition(".")[0]
    if path.suffix == ".svg":
        sketch = read_sketch(path)
        try:
            reading = figure_of_sketch(sketch, stem.replace("_", " "))
        except FigureError as error:
            raise error.found_in(subject) from None
        return drafted(
            TableState(), draft_of_sketch(reading) or draft_of_figure(reading.figure)
        ), stem
    if path.suffix == ".json":
        packing = read_packing(path)
        draft = replace(
            draft_of_figure(packing.figure), sheet=packing.sheet, symmetry=packing.symmetry
        )
        return of_packing(draft, replace(packing, problem=pose(figure_of_draft(draft)))), stem
    return _of_figure(read_figure(path)), stem


def _of_figure(figure: Figure) -> TableState:
    return drafted(TableState(), draft_of_figure(figure))
