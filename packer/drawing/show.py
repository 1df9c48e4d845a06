"""Figures and packings as SVG: what a notebook shows of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from packer.drawing.figure import figure_drawing
from packer.drawing.grid import grid_drawing
from packer.drawing.packing import packing_drawing
from packer.drawing.svg import svg_text

if TYPE_CHECKING:
    from packer.figure import Figure
    from packer.grid.packing import GridPacking
    from packer.packing import Packing


def figure_svg(figure: Figure) -> str:
    """Return the stick figure as SVG."""
    return svg_text(figure_drawing(figure))


def packing_svg(packing: Packing) -> str:
    """Return the packing as SVG, in true millimetres where the sheet has a unit."""
    return svg_text(packing_drawing(packing))


def grid_svg(packing: GridPacking) -> str:
    """Return the grid packing as SVG, in true millimetres where the sheet has a unit."""
    return svg_text(grid_drawing(packing))
