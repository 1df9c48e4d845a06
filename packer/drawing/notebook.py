"""Figures and packings as SVG: what a notebook shows of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from packer.drawing.figure_drawing import figure_drawing
from packer.drawing.grid_drawing import grid_drawing
from packer.drawing.packing_drawing import packing_drawing
from packer.drawing.writers.svg import svg_text

if TYPE_CHECKING:
    from packer.grid.grid_packing import GridPacking
    from packer.model.figure import Figure
    from packer.model.packing import Packing


def figure_svg(figure: Figure) -> str:
    """Return the stick figure as SVG."""
    return svg_text(figure_drawing(figure))


def packing_svg(packing: Packing) -> str:
    """Return the packing as SVG, in true millimetres where the sheet has a unit."""
    return svg_text(packing_drawing(packing))


def grid_svg(packing: GridPacking) -> str:
    """Return the grid packing as SVG, in true millimetres where the sheet has a unit."""
    return svg_text(grid_drawing(packing))
