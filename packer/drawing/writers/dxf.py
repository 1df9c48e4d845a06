"""A plotter's drawing as DXF, the open interchange format of drafting programs.

Written by the library ezdxf, which is installed with the extra ``dxf``.
"""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Final

from packer.drawing.marks.strokes import Path, plain
from packer.drawing.writers.plotter import PEN_STYLES
from packer.errors import OptionError

if TYPE_CHECKING:
    from packer.drawing.marks.strokes import Drawing

MILLIMETRES: Final = 4
"""The code of millimetres in a DXF header."""


def dxf_text(drawing: Drawing) -> str:
    """Return a drawing of paths as DXF in true millimetres, one layer a group.

    Straight sides and arcs stay what they are (a polyline with bulges); marks that are no paths
    are passed over.

    Raises
    ------
    OptionError
        Where ezdxf is not installed.
    """
    try:
        import ezdxf  # noqa: PLC0415 - an extra that most users do without
    except ImportError:
        raise OptionError(
            "DXF needs the library ezdxf; install it with: pip install 'packer[dxf]'", "--as"
        ) from None
    fixed = ezdxf.options.write_fixed_meta_data_for_testing
    # Without dates and random ids the same input gives the same bytes.
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        document = ezdxf.new("R2010", units=MILLIMETRES)
        space = document.modelspace()
        for name, marks in drawing.groups:
            layer = layer_name(name)
            document.layers.add(layer)
            for mark in marks:
                if isinstance(mark, Path):
                    bulges = (*(mark.bulges or (0.0,) * len(mark.points)), 0.0)
                    points = [
                        (x, y, bulge)
                        for (x, y), bulge in zip(mark.points, bulges, strict=False)
                    ]
                    space.add_lwpolyline(
                        points, format="xyb", close=mark.closed, dxfattribs={"layer": layer}
                    )
            colour = next((PEN_STYLES[m.kind].line for m in marks), "#000000")
            document.layers.get(layer).rgb = tuple(bytes.fromhex(colour[1:]))
        out = io.StringIO()
        document.write(out)
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = fixed
    return out.getvalue()


def layer_name(name: str) -> str:
    """Return a name without the characters that DXF forbids in the names of layers."""
    return "".join("_" if c in '<>/\\":;?*|=`,' else c for c in plain(name)) or "lines"
