"""What a packing means in paper: sizes in mm, the sheet to cut, layers, and what will be hard.

Sizes are exact: scale x length, on the sheet as cut. What gets lost in thickness and shaping is
the allowance, a few percent by common practice; layers are the estimate of `layers`.
"""

from __future__ import annotations

import fnmatch
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.errors import OptionError, SheetError, did_you_mean
from packer.folded.layer_count import layer_count
from packer.model.sheet import Sheet
from packer.planning.layer_estimate import flap_widths, joint_layers
from packer.planning.paper import DEFAULT, Paper
from packer.planning.stock import Stock, stock_for

if TYPE_CHECKING:
    from collections.abc import Mapping

    from packer.creases.pattern import CreasePattern
    from packer.folded.layer_count import LayerCount
    from packer.model.packing import Kind, Packing

ALLOWANCE: Final = 0.05
"""Share of a length lost in thickness and shaping: "a few percent" by common practice."""

SLIM: Final = 20.0
"""A flap narrower than so many calipers is hard to fold by hand (common practice)."""

SMALLEST_MM: Final = 5.0
"""A flap shorter than this is hard to fold by hand (common practice)."""

SAME_RATIO: Final = 0.005
"""Difference in side ratio at which a sheet is still the one packed on: a cutter's error."""

MODELS: Final = (
    (
        "Lengths on the sheet are exact: scale x length. Finished lengths leave out the allowance for "
        "thickness and shaping, a few percent by common practice; a figure that is shaped hard loses "
        "more."
    ),
    (
        "Layers are estimated as length of the hinge curve / folded width, added up over all parts "
        "that meet at a joint: the mean over its width, right to a twentieth for the classic bases. "
        "Thickness is layers x caliper, pressed flat. A crease pattern counts its most layers at any "
        "one point, fillers with them: 0.7 to 3.7 times the estimate on twelve samples."
    ),
    (
        "Folded widths are 0.41 of a flap's length, as in the classic bases, or the width that was "
        "asked for. A flap narrower than 20 calipers or shorter than 5 mm counts as hard by hand "
        "(common practice)."
    ),
)
"""The model behind each number and its limits, in words."""


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

    @property
    def narrowest(self) -> PartSize:
        """The narrowest flap."""
        return min((p for p in self.parts if p.width), key=lambda part: part.width or 0.0)

    @property
    def slimness(self) -> float:
        """Width of the narrowest flap, in calipers."""
        return (self.narrowest.width or 0.0) / self.paper.mm


def plan(
    packing: Packing,
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
        Any packing.
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
        The creases of the packing: its layers are then counted, not estimated.

    Raises
    ------
    SheetError
        Where no sheet is of true size, or it has another side ratio.
    OptionError
        Where a number is out of range.
    """
    _check(allowance, width)
    cut = _true_sheet(packing, sheet)
    mm = cut.width / packing.sheet.width
    widths = flap_widths(packing, None if width is None else width / mm)
    finished = _finished(packing)
    parts = tuple(
        PartSize(
            name,
            packing.kinds.get(name, "river"),
            length * mm,
            finished[name] * mm * (1 - allowance),
            widths[name] * mm if name in widths else None,
        )
        for name, length in packing.sheet_lengths.items()
    )
    apart = packing.tree.distances_with(np.array(packing.finished_lengths))
    i, j = np.unravel_index(int(apart.argmax()), apart.shape)
    counted = None if pattern is None else layer_count(pattern)
    if counted is None:
        thick = joint_layers(packing, None if width is None else width / mm)[0]
        joint, layers = thick.joint, thick.layers
    else:
        joint, layers = counted.thickest
    made = Plan(
        cut,
        paper,
        allowance,
        parts,
        float(apart[i, j]) * packing.scale * mm * (1 - allowance),
        (packing.tree.flaps[i], packing.tree.flaps[j]),
        joint,
        float(layers),
        layers * paper.mm,
        stock_for(cut),
        (),
        counted,
    )
    return _warned(made)


def sheet_for(
    packing: Packing,
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
        Where a part is unknown, a number is out of range or nothing is wished.
    """
    _check(allowance, None)
    needs = []
    for name, wish in wishes.items():
        _check_mm(wish, name)
        finished = _finished(packing)
        needs += [wish / finished[part] for part in _parts_called(packing, name)]
    if figure is not None:
        _check_mm(figure, "figure")
        apart = packing.tree.distances_with(np.array(packing.finished_lengths))
        needs.append(figure / (float(apart.max()) * packing.scale))
    if not needs:
        raise OptionError("nothing is wished; name a part or the figure's length", "wishes")
    mm = max(needs) / (1 - allowance)
    shorter = math.ceil(min(packing.sheet.width, packing.sheet.height) * mm - 1e-6)
    scale = shorter / min(packing.sheet.width, packing.sheet.height)
    return Sheet(packing.sheet.width * scale, packing.sheet.height * scale, "mm")


def _finished(packing: Packing) -> dict[str, float]:
    """Return the length of every part with its pleats folded, in sheet units, by name."""
    return {
        name: packing.scale * length
        for name, length in zip(packing.tree.names, packing.finished_lengths, strict=True)
    }


def _parts_called(packing: Packing, name: str) -> list[str]:
    tree = packing.tree
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


def _true_sheet(packing: Packing, sheet: Sheet | None) -> Sheet:
    if sheet is None:
        if not packing.sheet.unit:
            raise SheetError(
                f"the packing's sheet is only a ratio, {packing.sheet.describe()}; give one of true "
                "size, such as 350mm, or wish for a length",
                "sheet",
            )
        return packing.sheet.in_mm()
    cut = sheet.in_mm()
    ours, theirs = (s.width / s.height for s in (packing.sheet, cut))
    if abs(ours / theirs - 1) > SAME_RATIO:
        raise SheetError(
            f"a sheet of {cut.describe()} has another shape than the packing's, "
            f"{packing.sheet.describe()}; give one {1000 * ours:.0f} wide for every 1000 of height, "
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
