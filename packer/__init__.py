"""Plan complex folded-paper figures: from a stick figure to packing, creases and printed page.

>>> from packer import MaxStarts, SearchOptions, pack, read_figure
>>> figure = read_figure("samples/sea_star.toml")
>>> packing = pack(figure, options=SearchOptions(seed=1, stop=MaxStarts(2)))
>>> packing.violations()  # recomputed: no rule is broken
[]
>>> sorted(packing.kinds.values())  # by the part of its disc that a tip takes
['corner', 'corner', 'corner', 'corner', 'middle']

Names are loaded when they are first used, so that a saved packing can be read, drawn and printed
without loading a solver.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

from packer.notebook import register_svg
from packer.version import __version__ as __version__

if TYPE_CHECKING:
    from packer.bounds.upper_bound import upper_bound as upper_bound
    from packer.creases.completion.complete import crease_pattern as crease_pattern
    from packer.creases.pattern import CreasePattern as CreasePattern
    from packer.creases.settling.settle import Settled as Settled
    from packer.creases.settling.settle import settle as settle
    from packer.deadline import Deadline as Deadline
    from packer.drawing.figure_drawing import figure_drawing as figure_drawing
    from packer.drawing.packing_drawing import packing_drawing as packing_drawing
    from packer.drawing.plates.compare_plate import compare_plate as compare_plate
    from packer.drawing.plates.levels_plate import levels_plate as levels_plate
    from packer.drawing.plates.packing_plate import gallery_plate as gallery_plate
    from packer.drawing.plates.packing_plate import packing_plate as packing_plate
    from packer.drawing.writers.plotter import plotter_drawing as plotter_drawing
    from packer.drawing.writers.png import png_bytes as png_bytes
    from packer.drawing.writers.svg import svg_text as svg_text
    from packer.drawing.writers.tiled_pdf import tiled_pdf as tiled_pdf
    from packer.drawing.writers.tiled_pdf import whole_pdf as whole_pdf
    from packer.errors import PackerError as PackerError
    from packer.files.figure_toml import read_figure as read_figure
    from packer.files.grid_json import read_grid as read_grid
    from packer.files.packing_json import read_packing as read_packing
    from packer.grid.grid_creases import grid_creases as grid_creases
    from packer.grid.grid_packing import GridPacking as GridPacking
    from packer.grid.grid_problem import GridRequest as GridRequest
    from packer.grid.pack_grid import pack_grid as pack_grid
    from packer.model.figure import Figure as Figure
    from packer.model.figure import Flap as Flap
    from packer.model.figure import River as River
    from packer.model.packing import Packing as Packing
    from packer.model.problem import Problem as Problem
    from packer.model.problem import pose as pose
    from packer.model.sheet import Sheet as Sheet
    from packer.model.sheet import parse_sheet as parse_sheet
    from packer.planning.compare import compare as compare
    from packer.planning.level_results import Levels as Levels
    from packer.planning.levels import levels as levels
    from packer.planning.plan import plan as plan
    from packer.planning.plan import sheet_for as sheet_for
    from packer.planning.sweep import sweep as sweep
    from packer.report.report_page import report_page as report_page
    from packer.search.from_here import better_packings as better_packings
    from packer.search.from_here import from_here as from_here
    from packer.search.gallery import gallery as gallery
    from packer.search.options import SearchOptions as SearchOptions
    from packer.search.pack import Progress as Progress
    from packer.search.pack import pack as pack
    from packer.search.result.packing_distance import difference as difference
    from packer.search.stopping import MaxEffort as MaxEffort
    from packer.search.stopping import MaxStarts as MaxStarts
    from packer.search.stopping import NoImprovement as NoImprovement
    from packer.search.stopping import ProvenOptimal as ProvenOptimal
    from packer.search.stopping import TimeLimit as TimeLimit
    from packer.sketch.stick_tree import figure_of_sketch as figure_of_sketch
    from packer.sketch.svg_reader import read_sketch as read_sketch

for _kind, _function in (
    ("Figure", "figure_svg"),
    ("Packing", "packing_svg"),
    ("GridPacking", "grid_svg"),
):
    register_svg(_kind, "packer.drawing.notebook", _function)

_HOMES = {
    "CreasePattern": "packer.creases.pattern",
    "Deadline": "packer.deadline",
    "Figure": "packer.model.figure",
    "Flap": "packer.model.figure",
    "GridPacking": "packer.grid.grid_packing",
    "GridRequest": "packer.grid.grid_problem",
    "MaxEffort": "packer.search.stopping",
    "MaxStarts": "packer.search.stopping",
    "NoImprovement": "packer.search.stopping",
    "PackerError": "packer.errors",
    "Packing": "packer.model.packing",
    "Problem": "packer.model.problem",
    "Progress": "packer.search.pack",
    "ProvenOptimal": "packer.search.stopping",
    "River": "packer.model.figure",
    "SearchOptions": "packer.search.options",
    "Settled": "packer.creases.settling.settle",
    "Sheet": "packer.model.sheet",
    "TimeLimit": "packer.search.stopping",
    "better_packings": "packer.search.from_here",
    "compare": "packer.planning.compare",
    "compare_plate": "packer.drawing.plates.compare_plate",
    "crease_pattern": "packer.creases.completion.complete",
    "difference": "packer.search.result.packing_distance",
    "figure_drawing": "packer.drawing.figure_drawing",
    "figure_of_sketch": "packer.sketch.stick_tree",
    "from_here": "packer.search.from_here",
    "gallery": "packer.search.gallery",
    "gallery_plate": "packer.drawing.plates.packing_plate",
    "grid_creases": "packer.grid.grid_creases",
    "Levels": "packer.planning.level_results",
    "levels": "packer.planning.levels",
    "levels_plate": "packer.drawing.plates.levels_plate",
    "pack": "packer.search.pack",
    "pack_grid": "packer.grid.pack_grid",
    "packing_drawing": "packer.drawing.packing_drawing",
    "packing_plate": "packer.drawing.plates.packing_plate",
    "parse_sheet": "packer.model.sheet",
    "plan": "packer.planning.plan",
    "plotter_drawing": "packer.drawing.writers.plotter",
    "png_bytes": "packer.drawing.writers.png",
    "pose": "packer.model.problem",
    "read_figure": "packer.files.figure_toml",
    "read_grid": "packer.files.grid_json",
    "read_packing": "packer.files.packing_json",
    "read_sketch": "packer.sketch.svg_reader",
    "report_page": "packer.report.report_page",
    "settle": "packer.creases.settling.settle",
    "sheet_for": "packer.planning.plan",
    "svg_text": "packer.drawing.writers.svg",
    "sweep": "packer.planning.sweep",
    "tiled_pdf": "packer.drawing.writers.tiled_pdf",
    "upper_bound": "packer.bounds.upper_bound",
    "whole_pdf": "packer.drawing.writers.tiled_pdf",
}

__all__ = sorted(_HOMES)  # noqa: PLE0605 - a list of names, kept in one place


def __getattr__(name: str) -> object:
    if name not in _HOMES:
        raise AttributeError(f"module 'packer' has no attribute {name!r}")
    return getattr(import_module(_HOMES[name]), name)
