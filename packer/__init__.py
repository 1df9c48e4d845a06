"""Plan complex folded-paper figures: from a stick figure to packing, creases and printed page.

>>> from packer import pack, read_figure
>>> packing = pack(read_figure("samples/shore_crab.toml"))
>>> packing.scale, packing.costs

Names are loaded when they are first used, so that a saved packing can be read, drawn and printed
without loading a solver.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from packer.cli.report_page import report_page as report_page
    from packer.creases.complete import crease_pattern as crease_pattern
    from packer.creases.pattern import CreasePattern as CreasePattern
    from packer.creases.settle import Settled as Settled
    from packer.creases.settle import settle as settle
    from packer.drawing.compare_plate import compare_plate as compare_plate
    from packer.drawing.figure import figure_drawing as figure_drawing
    from packer.drawing.packing import packing_drawing as packing_drawing
    from packer.drawing.pages import tiled_pdf as tiled_pdf
    from packer.drawing.pages import whole_pdf as whole_pdf
    from packer.drawing.plate import gallery_plate as gallery_plate
    from packer.drawing.plate import packing_plate as packing_plate
    from packer.drawing.plots import png_bytes as png_bytes
    from packer.drawing.plotter import plotter_drawing as plotter_drawing
    from packer.drawing.svg import svg_text as svg_text
    from packer.errors import PackerError as PackerError
    from packer.figure import Figure as Figure
    from packer.figure import Flap as Flap
    from packer.figure import River as River
    from packer.files.figure_toml import read_figure as read_figure
    from packer.files.grid_json import read_grid as read_grid
    from packer.files.packing_json import read_packing as read_packing
    from packer.files.sketch_svg import read_sketch as read_sketch
    from packer.files.sketch_tree import figure_of_sketch as figure_of_sketch
    from packer.grid.creases import grid_creases as grid_creases
    from packer.grid.pack import pack_grid as pack_grid
    from packer.grid.packing import GridPacking as GridPacking
    from packer.packing import Packing as Packing
    from packer.planning.compare import compare as compare
    from packer.planning.plan import plan as plan
    from packer.planning.plan import sheet_for as sheet_for
    from packer.planning.sweep import sweep as sweep
    from packer.problem import Problem as Problem
    from packer.problem import pose as pose
    from packer.search.bounds.best import upper_bound as upper_bound
    from packer.search.gallery import gallery as gallery
    from packer.search.likeness import difference as difference
    from packer.search.search import Progress as Progress
    from packer.search.search import pack as pack
    from packer.sheet import Sheet as Sheet
    from packer.sheet import parse_sheet as parse_sheet

__version__ = "0.1.0"

_HOMES = {
    "CreasePattern": "packer.creases.pattern",
    "Figure": "packer.figure",
    "Flap": "packer.figure",
    "GridPacking": "packer.grid.packing",
    "PackerError": "packer.errors",
    "Packing": "packer.packing",
    "Problem": "packer.problem",
    "Progress": "packer.search.search",
    "River": "packer.figure",
    "Settled": "packer.creases.settle",
    "Sheet": "packer.sheet",
    "compare": "packer.planning.compare",
    "compare_plate": "packer.drawing.compare_plate",
    "crease_pattern": "packer.creases.complete",
    "difference": "packer.search.likeness",
    "figure_drawing": "packer.drawing.figure",
    "figure_of_sketch": "packer.files.sketch_tree",
    "gallery": "packer.search.gallery",
    "gallery_plate": "packer.drawing.plate",
    "grid_creases": "packer.grid.creases",
    "pack": "packer.search.search",
    "pack_grid": "packer.grid.pack",
    "packing_drawing": "packer.drawing.packing",
    "packing_plate": "packer.drawing.plate",
    "parse_sheet": "packer.sheet",
    "plan": "packer.planning.plan",
    "plotter_drawing": "packer.drawing.plotter",
    "png_bytes": "packer.drawing.plots",
    "pose": "packer.problem",
    "read_figure": "packer.files.figure_toml",
    "read_grid": "packer.files.grid_json",
    "read_packing": "packer.files.packing_json",
    "read_sketch": "packer.files.sketch_svg",
    "report_page": "packer.cli.report_page",
    "settle": "packer.creases.settle",
    "sheet_for": "packer.planning.plan",
    "svg_text": "packer.drawing.svg",
    "sweep": "packer.planning.sweep",
    "tiled_pdf": "packer.drawing.pages",
    "upper_bound": "packer.search.bounds.best",
    "whole_pdf": "packer.drawing.pages",
}

__all__ = sorted(_HOMES)  # noqa: PLE0605 - a list of names, kept in one place


def __getattr__(name: str) -> object:
    if name not in _HOMES:
        raise AttributeError(f"module 'packer' has no attribute {name!r}")
    return getattr(import_module(_HOMES[name]), name)
