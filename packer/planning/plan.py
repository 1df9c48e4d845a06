"""What a packing means in paper: sizes in mm, the sheet to cut, layers, and what will be hard.

Sizes are exact: scale x length, on the sheet as cut. What gets lost in thickness and shaping is
the allowance, a few percent by common practice; layers are the estimate of `layers`.
"""

from __future__ import annotations

import fnmatch
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from packer.errors import OptionError, SheetError, did_you_mean
from packer.limits import SIDE
from packer.model.sheet import Sheet
from packer.planning.base_sizes import base_sizes, thickest
from packer.planning.paper import DEFAULT, Paper
from packer.planning.stock import Stock, stock_for

if TYPE_CHECKING:
    from collections.abc import Mapping

    from packer.creases.pattern import CreasePattern
    from packer.folded.layer_count import LayerCount
    from packer.grid.grid_packing import GridPacking
    from packer.model.packing import Kind, Packing
    from packer.model.tree import Tree

ALLOWANCE: Final = 0.05
"""Share of a length lost in thickness and shaping: "a few percent" by common practice."""

SLIM: Final = 20.0
"""A flap narrower than so many calipers is hard to fold by hand (common practice)."""

SMALLEST_MM: Final = 5.0
"""A flap shorter than this is hard to fold by hand (common practice)."""

SAME_RATIO: Final = 0.005
"""Difference in side ratio at which a sheet is still the one packed on: a cutter's error."""


@dataclass(frozen=True)
class PartSize:
    """One flap or river in mm.

    Attributes
    ----------
    name, kind
        As in the packing; kind is "corner", "edge", "middle" or "river".
    on_sheet
        Length on the sheet.
    finished
        Length in the finished figure, its pleats folded, after the allowance.
    width
        Folded width of a flap, None for a river.
    """

    name: str
    kind: Kind | str
    on_sheet: float
    finished: float
    width: float | None


@dataclass(frozen=True)
class Plan:
    """A packing on a sheet of true size, in one kind of paper.

    Attributes
    ----------
    sheet
        In mm.
    paper
        The paper.
    allowance
        Share of each length lost in thickness and shaping.
    parts
        Flaps, then rivers.
    length, ends
        The longest way from tip to tip in the finished figure, in mm, and the two flaps.
    joint, layers, thickness
        The thickest joint, its layers and how thick they lie, in mm.
    counted
        The layers of the crease pattern, where there is one; else `layers` is an estimate.
    stock
        Papers it can be cut from, with the share wasted, least waste first.
    warnings
        A sentence for everything that will be hard by hand.
    models
        The model behind each number and its limits, in sentences.
    cells, cell
        Of a grid its cells across and up, and the side of one in mm; none and None for circles.
    """

    sheet: Sheet
    paper: Paper
    allowance: float
    parts: tuple[PartSize, ...]
    length: float
    ends: tuple[str, str]
    joint: str
    layers: float
    thickness: float
    stock: tuple[tuple[Stock, float], ...]
    warnings: tuple[str, ...]
    counted: LayerCount | None = None
    models: tuple[str, ...] = ()
    cells: tuple[int, ...] = ()
    cell: float | None = None

    @property
    def narrowest(self) -> PartSize:
        """The narrowest flap."""
        return min((p for p in self.parts if p.width), key=lambda part: part.width or 0.0)

    @property
    def slimness(self) -> float:
        """Width of the narrowest flap, in calipers."""
        return (self.narrowest.width or 0.0) / self.paper.mm


def plan(
    packing: Packing | GridPacking,
    sheet: Sheet | None = None,
    paper: Paper = DEFAULT,
    *,
    allowance: float = ALLOWANCE,
    width: float | None = None,
    pattern: CreasePattern | None = None,
) -> Plan:
    """Plan a packing in paper.

    Parameters
    ----------
    packing
        Any packing, of circles or on a grid.
    sheet
        The sheet to cut, with the side ratio of the packing's; by default the packing's own.
    paper
        What it is folded from.
    allowance
        Share of each length lost in thickness and shaping, from 0 to below 1.
    width
        Width in mm that flaps are folded to; by default that of the classic bases, 0.41 of
        their length. No flap is planned wider.
    pattern
        The creases of the packing: its layers are then counted, not estimated, as those of a grid
        always are.

    Raises
    ------
    SheetError
        Where no sheet is of true size, or it has another side ratio.
    OptionError
        Where a number is out of range.
    """
    _check(allowance, width)
    own = packed_on(packing)
    cut = _true_sheet(own, sheet)
    mm = cut.width / own.width
    across = None if width is None else width / mm
    sizes = base_sizes(packing, across)
    parts = tuple(
        PartSize(
            name,
            sizes.kinds.get(name, "river"),
            length * mm,
            sizes.finished[name] * mm * (1 - allowance),
            sizes.widths[name] * mm if name in sizes.widths else None,
        )
        for name, length in sizes.on_sheet.items()
    )
    length, ends = sizes.longest()
    joint, layers, counted = thickest(packing, across, pattern)
    made = Plan(
        cut,
        paper,
        allowance,
        parts,
        length * mm * (1 - allowance),
        ends,
        joint,
        layers,
        layers * paper.mm,
        stock_for(cut),
        (),
        counted,
        sizes.models,
        sizes.cells,
        sizes.cell * mm if sizes.cells else None,
    )
    return _warned(made)


def sheet_for(
    packing: Packing | GridPacking,
    wishes: Mapping[str, float],
    figure: float | None = None,
    *,
    allowance: float = ALLOWANCE,
) -> Sheet:
    """Return the smallest sheet on which wishes for finished lengths come true, in whole mm.

    Parameters
    ----------
    packing
        Any packing; only the ratio of its sheet matters.
    wishes
        Least finished length in mm by part; twins may be named as written, and ``*`` stands
        for any letters: ``{"*leg": 60}``.
    figure
        Least finished length in mm of the longest way from tip to tip.
    allowance
        Share of each length lost in thickness and shaping.

    Raises
    ------
    OptionError
        Where a part is unknown, a number is out of range, nothing is wished, or what is needs a
        sheet larger than any may be.
    """
    _check(allowance, None)
    sizes = base_sizes(packing)
    needs = []
    for name, wish in wishes.items():
        _check_mm(wish, name)
        needs += [wish / sizes.finished[part] for part in _parts_called(sizes.tree, name)]
    if figure is not None:
        _check_mm(figure, "figure")
        needs.append(figure / sizes.longest()[0])
    if not needs:
        raise OptionError("nothing is wished; name a part or the figure's length", "wishes")
    mm = max(needs) / (1 - allowance)
    own = sizes.sheet
    shorter = math.ceil(min(own.width, own.height) * mm - 1e-6)
    scale = shorter / min(own.width, own.height)
    longer = max(own.width, own.height) * scale
    if not SIDE.hold(longer):
        raise OptionError(
            f"what is wished needs a sheet of {longer:.6g} mm, and the largest has {SIDE.most:.6g} mm; "
            f"ask for less, or for a packing of larger scale",
            "wishes",
        )
    return Sheet(own.width * scale, own.height * scale, "mm")


def packed_on(packing: Packing | GridPacking) -> Sheet:
    """Return the sheet that a packing is for; a grid may cut a strip off it."""
    return packing.problem.sheet


def _parts_called(tree: Tree, name: str) -> list[str]:
    pairs = list(zip(tree.names, tree.written, strict=True))
    exact = [part for part, written in pairs if name in {part, written}]
    parts = exact or [
        part for part, written in pairs if fnmatch.fnmatchcase(written.lower(), name.lower())
    ]
    if not parts:
        raise OptionError(
            f'no part is called "{name}"{did_you_mean(name, dict.fromkeys(tree.written))}',
            "wishes",
        )
    return parts


def _true_sheet(own: Sheet, sheet: Sheet | None) -> Sheet:
    if sheet is None:
        if not own.unit:
            raise SheetError(
                f"the packing's sheet is only a ratio, {own.describe()}; give one of true "
                "size, such as 350mm, or wish for a length",
                "sheet",
            )
        return own.in_mm()
    cut = sheet.in_mm()
    ours, theirs = (s.width / s.height for s in (own, cut))
    if abs(ours / theirs - 1) > SAME_RATIO:
        raise SheetError(
            f"a sheet of {cut.describe()} has another shape than the packing's, "
            f"{own.describe()}; give one {1000 * ours:.0f} wide for every 1000 of height, "
            "or pack again",
            "sheet",
        )
    return cut


def _warned(made: Plan) -> Plan:
    slim, short = made.narrowest, min(made.parts, key=lambda part: part.finished)
    warnings = []
    if made.slimness < SLIM:
        warnings.append(
            f'"{slim.name}" is {slim.width:.2g} mm wide, {made.slimness:.0f} times the paper; below '
            f"{SLIM:.0f} times it is hard by hand: take thinner paper or a larger sheet"
        )
    if short.finished < SMALLEST_MM:
        warnings.append(
            f'"{short.name}" comes out {short.finished:.2g} mm long; below {SMALLEST_MM:g} mm it is '
            "hard by hand: lengthen it or take a larger sheet"
        )
    if made.thickness > (slim.width or 0.0):
        warnings.append(
            f'the layers at "{made.joint}" lie {made.thickness:.2g} mm thick, more than '
            f'"{slim.name}" is wide: it will not lie flat over them'
        )
    if not made.stock:
        warnings.append(
            f"no paper sold is large enough for {made.sheet.describe()}: join papers, or make one"
        )
    return replace(made, warnings=tuple(warnings))


def _check(allowance: float, width: float | None) -> None:
    if not 0 <= allowance < 1:
        raise OptionError(
            f"{allowance:g} is no allowance; write a share from 0 to below 1", "allowance"
        )
    if width is not None:
        _check_mm(width, "width")


def _check_mm(value: float, name: str) -> None:
    if not (value > 0 and math.isfinite(value)):
        raise OptionError(
            f"a length of {value:g} mm cannot be wished for; write a number above zero", name
        )
