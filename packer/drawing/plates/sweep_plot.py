"""The scale over the side ratio as a curve, the best ratio marked, with matplotlib."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator

from packer.drawing.marks.strokes import plain
from packer.drawing.marks.styles import BLUE, GREY, INK, VERMILION
from packer.drawing.packing_drawing import packing_drawing
from packer.drawing.writers.png import FONTS, draw, figure_png
from packer.drawing.writers.settings import own_settings

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from packer.planning.comparison import Curve, Sweep

_LOOKS: Final = {False: (BLUE, "-", "o"), True: (VERMILION, "--", "s")}
"""Lying and standing sheets differ by colour, line and mark."""

PICTURE_WIDTH: Final = 60.0
"""Width in mm that the picture of the best packing is drawn for, before it is fitted."""


def draw_sweep(sweep: Sweep, axes: Axes) -> None:
    """Draw the curves onto axes, with what direct searches found and the best ratio."""
    for curve in sweep.curves:
        _draw_curve(curve, axes, named=len(sweep.curves) > 1)
    curve, k = sweep.best
    ratio, scale = curve.ratios[k], curve.scales[k]
    axes.axvline(ratio, color=GREY, linewidth=0.8, linestyle=":")
    unit = curve.packings[k].sheet.unit
    side = "right" if ratio > max(curve.ratios) ** 0.5 else "left"
    axes.annotate(
        f"best {ratio:.3g} : 1{' standing' if curve.standing else ''}\nscale {scale:.5g}"
        + (f" {unit}" if unit else ""),
        (ratio, scale),
        xytext=(-8 if side == "right" else 8, 8),
        textcoords="offset points",
        ha=side,
        va="bottom",
        fontfamily=list(FONTS),
        color=INK,
    )
    axes.set_xscale("log")
    last = max(max(c.ratios) for c in sweep.curves)
    ticks = [t for t in (1, 1.25, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10, 15, 20) if t <= last * 1.001]
    axes.xaxis.set_major_locator(FixedLocator(ticks))
    axes.xaxis.set_minor_locator(NullLocator())
    axes.xaxis.set_major_formatter(FuncFormatter(lambda x, _: f"{x:g} : 1"))
    axes.margins(y=0.22)
    axes.set_xlabel("longer side : shorter side, at equal area", fontfamily=list(FONTS))
    axes.set_ylabel(
        f"scale{f', {unit} per unit of length' if unit else ''}", fontfamily=list(FONTS)
    )
    axes.grid(visible=True, color="#E3E3E3", linewidth=0.6)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.legend(frameon=False, loc="lower left", prop={"family": list(FONTS), "size": 8})


def _draw_curve(curve: Curve, axes: Axes, named: bool) -> None:
    colour, dash, mark = _LOOKS[curve.standing]
    name = ("standing sheets" if curve.standing else "lying sheets") if named else "best found"
    axes.plot(curve.ratios, curve.scales, dash, color=colour, linewidth=1.6, label=name)
    axes.plot(
        curve.ratios,
        curve.direct,
        linestyle="none",
        marker=mark,
        markersize=6,
        markerfacecolor="none",
        color=colour,
        label=f"{name}: searched from nothing" if named else "searched from nothing",
    )
    axes.plot(
        curve.ratios[curve.best],
        curve.scales[curve.best],
        marker="*",
        markersize=13,
        color=colour,
    )


@own_settings()
def sweep_png(sweep: Sweep, dpi: float = 150.0) -> bytes:
    """Return the curves beside the packing at the best ratio, as PNG."""
    figure = Figure(figsize=(10.5, 4.8), layout="constrained")
    left, right = figure.subplots(1, 2, width_ratios=(1.75, 1))
    draw_sweep(sweep, left)
    left.set_title(plain(sweep.name, 60), loc="left", fontweight="bold", parse_math=False)
    curve, k = sweep.best
    packing = curve.packings[k]
    picture = packing_drawing(packing, PICTURE_WIDTH / packing.sheet.width)
    draw(picture, right)
    right.set_xlim(-1, picture.width + 1)
    right.set_ylim(-1, picture.height + 1)
    right.set_aspect("equal")
    right.set_axis_off()
    right.set_title(f"{curve.ratios[k]:.3g} : 1", fontsize=10)
    return figure_png(figure, dpi)
