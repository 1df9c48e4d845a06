"""A packing as a designer reads it: a summary, one line a part, and advice."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Final

from packer.model.figure import SYMMETRY_NAMES
from packer.model.regions import efficiency, paper_taken
from packer.numbers import counted
from packer.planning.advice import savings
from packer.search.result.kkt_certificate import MOST_CONTACTS, beyond_certificate

if TYPE_CHECKING:
    from packer.model.packing import Packing


SHORTER: Final = "tenth shorter, first order"
"""Head of the column of what a tenth off a part gains, reckoned from the multipliers."""


def summary(packing: Packing) -> list[str]:
    """Return scale, paper used, kinds, headroom and search, a line each.

    Where contacts are too many for a certificate a line says what is then not known.
    """
    unit = packing.sheet.unit
    per = f"{packing.scale:.6g} {unit} per unit of length" if unit else f"{packing.scale:.6g}"
    kinds = Counter(packing.kinds.values())
    search = packing.search
    sheet = f"sheet {packing.sheet.describe()}, {SYMMETRY_NAMES[packing.symmetry]}"
    flaps = ", ".join(f"{kinds[kind]} {kind}" for kind in ("corner", "edge", "middle"))
    inside = f"{100 * efficiency(packing):.0f} % of the sheet is inside discs and rivers"
    many = not packing.stress and beyond_certificate(packing)
    loose = "" if many else f"; {len(packing.loose)} loose"
    lines = [
        f"{packing.figure.name}: scale {per}, {sheet}",
        f"{inside}; {len(packing.tips)} flaps: {flaps}{loose}",
    ]
    if many:
        lines.append(
            f"more than {MOST_CONTACTS} contacts: what a length costs and which flaps are loose is not "
            "reckoned"
        )
    if packing.bound is not None and packing.headroom is not None:
        lines.append(f"{headroom(packing.headroom)} ({packing.bound.rule})")
    if search.starts:
        lines.append(
            f"{counted(search.starts, 'start')} in {search.seconds:.1f} s, {search.hits} reached this "
            f"scale; ended by {ending(search.stopped)}; seed {search.seed}"
        )
    return lines


def settled_summary(searched: Packing, settled: Packing) -> list[str]:
    """Return the summary of a packing that was settled from another, a line each."""
    given = 1 - settled.scale / searched.scale
    first, second, *rest = summary(settled)
    second = second.rpartition("; ")[0]  # nothing is known of loose flaps after settling
    lines = [
        f"{first}, settled for its creases, which gave up {max(0.0, given):.1%} of the scale"
    ]
    lines.append(second)
    if searched.headroom is not None and searched.bound is not None:
        lines.append(
            f"of the packing as searched {headroom(searched.headroom)} ({searched.bound.rule})"
        )
    searches = [line for line in rest if line.endswith(f"seed {settled.search.seed}")]
    return lines + [line.replace("ended by given", f"ended by {ending(searched.search.stopped)}")
                    for line in searches]  # fmt: skip


def ending(stopped: str) -> str:
    """Return what ended a search, as it follows "ended by"."""
    return "reaching the bound" if stopped == "proven" else stopped


def headroom(fraction: float) -> str:
    """Return the sentence on the proven bound."""
    if fraction < 1e-6:
        return "no packing can be larger"
    return f"no packing can be more than {100 * fraction:.2g} % larger"


def heads(packing: Packing) -> tuple[str, ...]:
    """Return the heads of the columns."""
    pleated = ("with pleats",) if _pleated(packing) else ()
    used = (*pleated, "used") if _flexed(packing) else pleated
    on = "on sheet, mm" if packing.sheet.mm_per_unit else "on sheet"
    return ("part", "length", *used, on, "kind", "paper", cost_head(packing), SHORTER, "note")


def cost_head(packing: Packing) -> str:
    """Return the head of the column of costs: change of the scale for one more unit of length."""
    unit = packing.sheet.unit
    return f"cost, {unit} scale per length" if unit else "cost, scale per length"


def rows(packing: Packing) -> list[tuple[str, ...]]:
    """Return one row a part; under a symmetry twins are one, their paper and cost added up."""
    tree = packing.tree
    paper = paper_taken(packing)
    gains = {name: s.gain for s in savings(packing) for name in s.names}
    slack = {tree.flaps[tip]: length for tip, length in packing.slack}
    mm = packing.sheet.mm_per_unit or 1.0
    loose, split = set(packing.loose), set(packing.split_rivers)
    asked = {part.name: part.length for part in packing.figure.parts}
    kinds, costs = packing.kinds, packing.costs
    pleats, flexed = _pleated(packing), _flexed(packing)
    cells = []
    for k, name in enumerate(tree.names):
        twins = packing.symmetry != "none" and tree.twin[k] != k
        if twins and tree.twin[k] < k:
            continue
        both = [name, tree.names[tree.twin[k]]] if twins else [name]
        pleated = (f"{tree.lengths[k]:.4g}",) if pleats else ()
        used = (*pleated, f"{packing.lengths[k]:.4g}") if flexed else pleated
        cells.append(
            (
                f"{tree.written[k]} x2" if twins else name,
                f"{asked[tree.written[k]]:.4g}",
                *used,
                f"{packing.lengths[k] * packing.scale * mm:.4g}",
                kinds.get(name, "river"),
                f"{100 * sum(paper[n] for n in both):.1f} %",
                f"{sum(costs[n] for n in both):.3g}",
                f"{100 * gains[name]:+.1f} %" if gains[name] > 0 else "",
                _note(name in loose, slack.get(name), name in split),
            )
        )
    return cells


def _note(loose: bool, slack: float | None, split: bool) -> str:
    if split:
        return "in strands"
    if not loose:
        return ""
    return f"loose, {slack:.2g} to spare" if slack else "loose"


def _pleated(packing: Packing) -> bool:
    """Whether some part has pleats, and so more paper than length."""
    return any(part.folded_away.depths for part in packing.figure.parts)


def _flexed(packing: Packing) -> bool:
    """Whether some part is not as long as was asked."""
    return tuple(packing.tree.lengths.tolist()) != packing.lengths
