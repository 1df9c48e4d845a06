"""Advice that a packing's own numbers give: what to shorten, what could be longer for nothing."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from packer.model.parts import stretched
from packer.model.problem import Problem

if TYPE_CHECKING:
    from collections.abc import Callable

    from packer.model.figure import Figure
    from packer.model.packing import Packing

CUT: Final = 0.1
"""The share of a part's length that advice speaks of: a tenth, hardly seen in the figure."""

WORTH: Final = 0.01
"""Least gain in scale that is worth a sentence: below it the paper's own faults count for more."""


TRIED: Final = 3
"""How many parts, the most promising first, are packed again a tenth shorter."""


@dataclass(frozen=True)
class Saving:
    """What a tenth off one part of the figure would gain.

    Attributes
    ----------
    part
        Its name as written in the figure; twins are one part.
    names
        The flaps or rivers it stands for, one or two.
    gain
        Fraction by which the scale would grow, to first order.
    """

    part: str
    names: tuple[str, ...]
    gain: float


def savings(packing: Packing) -> tuple[Saving, ...]:
    """Return what a tenth off each part would gain, greatest first.

    The multipliers lambda of the active paths, of tree distances d, sum to one as lambda d. By
    the envelope theorem a part with the share s of that sum, shortened by the fraction c, takes
    the constraints' weighted sum to 1 - c s, and so the scale to 1 / (1 - c s) of itself: exact
    to first order, and where every part is shortened.
    """
    lengths = dict(zip(packing.tree.names, packing.lengths, strict=True))
    names: dict[str, list[str]] = {}
    for name, part in zip(packing.tree.names, packing.tree.written, strict=True):
        names.setdefault(part, []).append(name)
    rows = []
    for part, edges in names.items():
        share = sum(-packing.costs[name] * lengths[name] for name in edges) / packing.scale
        rows.append(Saving(part, tuple(edges), 1 / (1 - CUT * share) - 1))
    return tuple(sorted(rows, key=lambda saving: -saving.gain))


def shortened(figure: Figure, part: str) -> Figure:
    """Return a figure with one part, as written, a tenth shorter."""
    return replace(
        figure,
        flaps=tuple(
            stretched(flap, 1 - CUT) if flap.name == part else flap for flap in figure.flaps
        ),
        rivers=tuple(
            stretched(river, 1 - CUT) if river.name == part else river
            for river in figure.rivers
        ),
    )


def advice(packing: Packing, repack: Callable[[Problem], Packing] | None = None) -> list[str]:
    """Return a sentence for each thing that the numbers of a packing suggest; perhaps none.

    Parameters
    ----------
    packing
        What to give advice on.
    repack
        Packs a changed problem, best from `packing` on: the gain told is then the one it
        reaches beside that of `savings`, which other paths that become active on the way can
        make too high; without it the latter alone. Each is told by its name, "packed again"
        and "to first order".
    """
    return [*_shorten(packing, repack), *_lengthen(packing), *_whole(packing)]


def _shorten(packing: Packing, repack: Callable[[Problem], Packing] | None) -> list[str]:
    worthwhile = [saving for saving in savings(packing)[:TRIED] if saving.gain >= WORTH]
    if not worthwhile:
        return []
    best, gain = worthwhile[0], worthwhile[0].gain
    if repack is not None:
        reached = [(_reached(packing, saving, repack), saving) for saving in worthwhile]
        gain, best = max(reached, key=lambda pair: pair[0])
    if gain < WORTH:
        return []
    part = f'both "{best.part}"' if len(best.names) > 1 else f'"{best.part}"'
    first = f"{100 * best.gain:.1f} % to first order"
    told = first if repack is None else f"{100 * gain:.1f} % packed again ({first})"
    return [f"Shortening {part} by a tenth would gain scale: {told}."]


def _reached(packing: Packing, saving: Saving, repack: Callable[[Problem], Packing]) -> float:
    figure = shortened(packing.figure, saving.part)
    return repack(Problem(figure, packing.sheet, packing.symmetry)).scale / packing.scale - 1


def _lengthen(packing: Packing) -> list[str]:
    """Name the loose flap that could grow most, seen against its own length."""
    lengths = packing.lengths
    grown = [(slack / lengths[tip], tip, slack) for tip, slack in packing.slack]
    growth, tip, slack = max(grown, default=(0.0, 0, 0.0))
    if growth < CUT:
        return []
    part = packing.tree.written[tip]
    which = f'Both "{part}"' if packing.tree.twin[tip] != tip else f'"{part}"'
    return [f"{which} could be {slack:.2g} longer ({100 * growth:.0f} %) at no cost."]


def _whole(packing: Packing) -> list[str]:
    if not packing.split_rivers:
        return []
    tree = packing.tree
    parts = dict(zip(tree.names, tree.written, strict=True))
    names = list(dict.fromkeys(f'"{parts[name]}"' for name in packing.split_rivers))
    shown = ", ".join(names[:3]) + (f" and {len(names) - 3} more" if len(names) > 3 else "")
    return [
        f"The paper would hold {shown} in strands; --whole-rivers looks for a packing without."
    ]
