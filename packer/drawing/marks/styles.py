"""One table of colours, widths and dashes for every format, and one colour for every part.

Colours are those of the colour-blind-safe palette of Okabe and Ito (2008). Mountain and valley
folds differ by dash first and by colour second, as in the standard published notation (valley:
dashes; mountain: dashes and dots), so that a black-and-white print loses nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from packer.model.tree import walk

if TYPE_CHECKING:
    from packer.model.tree import Tree

BLACK: Final = "#000000"
ORANGE: Final = "#E69F00"
SKY: Final = "#56B4E9"
GREEN: Final = "#009E73"
YELLOW: Final = "#F0E442"
BLUE: Final = "#0072B2"
VERMILION: Final = "#D55E00"
PURPLE: Final = "#CC79A7"
GREY: Final = "#767676"
PALE: Final = "#D9D9D9"
INK: Final = "#222222"

PART: Final = "part"
"""In a style: the colour of the part the mark belongs to."""


@dataclass(frozen=True)
class Style:
    """How a kind of mark looks; all lengths in mm.

    Parameters
    ----------
    line, fill
        A colour, `PART`, or empty for none.
    width
        Of the line.
    dash
        Lengths of strokes and gaps in turn; empty for a whole line.
    opacity
        Of the fill, in [0, 1].
    bold
        Weight of text.
    halo
        Whether text stands on a pale edge of its own, so that it is read over lines.
    """

    line: str = ""
    width: float = 0.25
    dash: tuple[float, ...] = ()
    fill: str = ""
    opacity: float = 1.0
    bold: bool = False
    halo: bool = False


HALO: Final = 0.22
"""Width of the edge round text on lines, as a share of its size."""
HALO_OPACITY: Final = 0.6
WHITE: Final = "#FFFFFF"

MOUNTAIN: Final = (3, 0.8, 0.4, 0.8)
VALLEY: Final = (1.6, 0.9)

_BY_ROLE: Final = {
    "axial": Style(line=INK, width=0.35),
    "ridge": Style(line=GREEN, width=0.3),
    "hinge": Style(line=PURPLE, width=0.3),
    "gusset": Style(line=SKY, width=0.35),
    "between": Style(line=GREY, width=0.2),
    "fold-back": Style(line=ORANGE, width=0.35),
}


ROLES: Final = ("hinge", "between", "fold-back", "gusset", "ridge", "axial")
"""Roles of creases in the order drawn, the most telling last."""

FOLDS: Final = {"M": "mountain", "V": "valley"}


def line_kind(role: str, fold: str) -> str:
    """Return the kind of a crease's line: "ridge valley", "flat hinge", "ridge" while undecided.

    Parameters
    ----------
    role
        One of `ROLES`, or "border".
    fold
        "M", "V", "F" for a crease that the flat base leaves unfolded, "U" or "B".
    """
    if fold == "B":
        return "border"
    if fold == "F":
        return f"flat {role}"
    return f"{role} {FOLDS[fold]}" if fold in FOLDS else role


def _by_role() -> dict[str, Style]:
    """Return a style for each role and fold: the role's colour, the fold's dash."""
    styles = {}
    for role, style in _BY_ROLE.items():
        styles[line_kind(role, "M")] = replace(style, dash=MOUNTAIN)
        styles[line_kind(role, "V")] = replace(style, dash=VALLEY)
        styles[line_kind(role, "F")] = replace(style, width=0.12)
        styles[line_kind(role, "U")] = style
    return styles


STYLES: Final[dict[str, Style]] = {
    # the packing
    "paper": Style(fill="#FFFFFF"),
    "sheet": Style(line=BLACK, width=0.5),
    "river": Style(line=PART, width=0.2, fill=PART, opacity=0.55),
    "disc": Style(line=PART, width=0.3, fill=PART, opacity=0.22),
    "loose disc": Style(line=PART, width=0.3, dash=(1.4, 0.9), fill=PART, opacity=0.1),
    "active path": Style(line=INK, width=0.3),
    "axis": Style(line=GREY, width=0.2, dash=(4, 1.5, 0.5, 1.5)),
    "tip": Style(line=INK, width=0.2, fill=INK),
    "blunt tip": Style(line=INK, width=0.6),
    "loose tip": Style(line=INK, width=0.35, fill="#FFFFFF"),
    "name": Style(fill=BLACK, halo=True),
    "river name": Style(fill="#3A3A3A", halo=True),
    "leader": Style(line=GREY, width=0.15),
    # the stick figure
    "stick flap": Style(line=PART, width=1.0),
    "stick river": Style(line=PART, width=2.0),
    "joint": Style(line=INK, width=0.3, fill="#FFFFFF"),
    # the crease pattern
    "border": Style(line=BLACK, width=0.5),
    "mountain": Style(line=VERMILION, width=0.35, dash=MOUNTAIN),
    "valley": Style(line=BLUE, width=0.35, dash=VALLEY),
    "undecided": Style(line=BLACK, width=0.2),
    "pleat mountain": Style(line=ORANGE, width=0.25, dash=MOUNTAIN),
    "pleat valley": Style(line=ORANGE, width=0.25, dash=VALLEY),
    "filler tip": Style(line=GREY, width=0.25, fill="#FFFFFF"),
    **_by_role(),
    # the folded form
    "layer": Style(line=PART, width=0.05, fill=PART, opacity=0.06),
    "axis level": Style(line=BLACK, width=0.4),
    "joint level": Style(line=GREY, width=0.12, dash=(0.6, 1.0)),
    "flap bar": Style(fill=PART, opacity=0.6),
    "filler bar": Style(line=GREY, width=0.2, dash=(0.8, 0.8)),
    # the fold guide
    "old crease": Style(line=GREY, width=0.18),
    "new valley": Style(line=BLUE, width=0.55, dash=(2.2, 1.2)),
    "new mountain": Style(line=VERMILION, width=0.55, dash=(3.6, 1.0, 0.5, 1.0)),
    "new crease": Style(line=BLACK, width=0.4),
    "rest of crease": Style(line=BLUE, width=0.25, dash=(0.3, 1.1)),
    "other side": Style(line=BLUE, width=0.35, dash=(1.2, 1.2)),
    "fold arrow": Style(line=BLACK, width=0.35),
    "arrow head": Style(line=BLACK, width=0.2, fill=BLACK),
    "watch": Style(line=BLACK, width=0.35),
    "mark": Style(line=BLACK, width=0.2, fill=BLACK),
    "measure": Style(line=BLACK, width=0.2),
    "moving paper": Style(fill="#E4E4E4"),
    "paper front": Style(line=INK, width=0.25, fill="#FFFFFF"),
    "paper back": Style(line=INK, width=0.25, fill="#C9C9C9"),
    "toned paper": Style(line=INK, width=0.1, fill=PART),
    "front shows": Style(line=INK, width=0.1, fill=PART),
    "back shows": Style(line=INK, width=0.1, fill=PART),
    "axial crease": Style(line=BLACK, width=0.4),
    "raw edge": Style(line=VERMILION, width=1.0),
    "paper seen through": Style(line=GREY, width=0.08, fill=GREY, opacity=0.12),
    # the grid
    "grid line": Style(line=PALE, width=0.1),
    "grid step": Style(line="#ABABAB", width=0.2),
    "gap paper": Style(fill="#EFEFEF"),
    # words, frames and rulers on plates and pages
    "heading": Style(fill=BLACK, bold=True),
    "note": Style(fill="#444444"),
    "warning": Style(fill="#A84300", bold=True),
    "frame": Style(line=PALE, width=0.25),
    "ruler": Style(line=BLACK, width=0.25),
    "ruler fill": Style(fill=BLACK),
    "cut mark": Style(line=BLACK, width=0.15),
    "join mark": Style(line=GREY, width=0.2),
    "join line": Style(line=GREY, width=0.12, dash=(0.5, 1.0)),
    "page name": Style(fill="#C8C8C8", bold=True),
    "page": Style(line=GREY, width=0.2, fill="#F4F4F4"),
    "blank page": Style(line=PALE, width=0.2, dash=(1.0, 1.0)),
    # the same marks as lines alone, for fold sheets and plotters
    "disc line": Style(line=BLUE, width=0.2),
    "river line": Style(line=GREEN, width=0.2),
}
"""Every kind of mark there is."""

PALETTE: Final = (BLUE, VERMILION, GREEN, PURPLE, ORANGE, SKY, YELLOW)
"""Colours of parts while they suffice: the palette of Okabe and Ito (2008) without black."""


def part_colours(tree: Tree) -> dict[str, str]:
    """Return a colour for every flap and river, by name; twins share one.

    Up to seven kinds of part take the palette; more are spread over matplotlib's perceptually
    uniform map viridis in the order in which they are met along the tree, so that neighbours
    in the figure are neighbours in colour.
    """
    order = _along(tree)
    count = len(order)
    colours = PALETTE[:count] if count <= len(PALETTE) else _spread(count)
    colour_of: dict[str, str] = {}
    for edge, colour in zip(order, colours, strict=True):
        colour_of[tree.names[edge]] = colour_of[tree.names[int(tree.twin[edge])]] = colour
    return {name: colour_of[name] for name in tree.names}


def _along(tree: Tree) -> list[int]:
    """Return one edge of each pair and every unpaired edge, in order along the tree."""
    seen: dict[int, None] = {}
    for _, _, edge in walk(tree, tree.n_tips):
        if edge >= 0:
            seen.setdefault(min(edge, int(tree.twin[edge])))
    return list(seen)


def _spread(count: int) -> tuple[str, ...]:
    from matplotlib import colormaps  # noqa: PLC0415 - slow to load, and few parts need none
    from matplotlib.colors import to_hex  # noqa: PLC0415

    shades = colormaps["viridis"]
    return tuple(to_hex(shades(0.93 * k / (count - 1))).upper() for k in range(count))
