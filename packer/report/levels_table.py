"""The tables of levels of detail as text, for the terminal and for the report."""

from __future__ import annotations

from typing import TYPE_CHECKING

from packer.planning.level_results import left_out_row, level_row

if TYPE_CHECKING:
    from packer.planning.level_results import Levels

FOOT = (
    "lost: share of the scale against the level before; proven: what the bounds leave open. A "
    "difference in brackets is less than the search can vouch for."
)
LEFT_OUT_FOOT = (
    "gain: packed again without the part, from the same packing; first order: what the "
    "multipliers promise. In brackets: less than the search can vouch for."
)


def level_heads(levels: Levels) -> tuple[str, ...]:
    """Return the heads of the table of levels."""
    packing = levels.levels[0].packing
    unit = f", {packing.sheet.unit}" if packing.sheet.unit else ""
    length = "figure, mm" if packing.sheet.mm_per_unit else "figure"
    creased = ("creases", "at once", "layers counted", f"finest{unit}")
    return (
        *("sheet", "detail", "flaps", f"scale{unit}", "headroom", "lost", "proven", length),
        *("corner", "edge", "middle", "layers"),
        *(creased if _creased(levels) else ()),
        *(("landmark creases",) if _marked(levels) else ()),
        "dearest",
    )


def level_table(levels: Levels) -> list[tuple[str, ...]]:
    """Return one line a level."""
    lines = []
    for level in levels.levels:
        line = level_row(levels, level)
        length = line["length_mm"] if line["length_mm"] is not None else line["size"]
        creased: tuple[str, ...] = ()
        if _creased(levels):
            counts = (line["creases"], line["together"], line["layers_counted"])
            creased = ("none found", "", "", "")
            if line["creases"] is not None:
                creased = (*map(str, counts), f"{line['feature']:.3g}")
        marks: tuple[str, ...] = ()
        if _marked(levels):
            marks = ("none found" if line["landmarks"] is None else str(line["landmarks"]),)
        dearest = "" if line["dearest"] is None else line["dearest"]
        lines.append(
            (
                *(line["sheet"], str(line["detail"]), str(line["flaps"])),
                f"{line['scale']:.6g}",
                "" if line["headroom"] is None else f"{100 * line['headroom']:.2g} %",
                lost_text(line["lost"], line["told_apart"]),
                range_text(line["lost_least"], line["lost_most"]),
                f"{length:.4g}",
                *(str(line[kind]) for kind in ("corner", "edge", "middle")),
                f"{line['layers']:.0f}",
                *creased,
                *marks,
                f"{dearest} {100 * line['dearest_gain']:+.1f} %" if dearest else "",
            )
        )
    return lines


def lost_text(lost: float | None, told_apart: bool | None) -> str:
    """Return a share lost in percent, in brackets where it is not told apart from none."""
    if lost is None:
        return ""
    text = f"{100 * lost:.1f} %"
    return text if told_apart else f"({text})"


def range_text(least: float | None, most: float | None) -> str:
    """Return what the bounds leave open of a share lost."""
    if least is None or most is None:
        return ""
    return f"{100 * least:.1f} to {100 * most:.1f} %"


def left_out_heads() -> tuple[str, ...]:
    """Return the heads of the table of parts left out alone."""
    return ("sheet", "detail", "without", "gain", "first order", "creases saved", "note")


def left_out_table(levels: Levels) -> list[tuple[str, ...]]:
    """Return one line a part that was left out alone; none where none was."""
    lines: list[tuple[str, ...]] = []
    for level in levels.levels:
        behind = {one for one, _ in levels.misordered(level)}
        for one in level.left_out:
            line = left_out_row(level, one)
            gain = f"{100 * line['gain']:.1f} %"
            note = ""
            if not line["as_first_order"]:
                note = "first order says otherwise: another packing is better without it"
                if not line["told_apart"]:
                    note = "first order says otherwise: other paths take over at once"
            elif line["part"] in behind:
                note = "dearer than first order ranks it: other paths take over"
            lines.append(
                (
                    level.shape,
                    str(level.detail),
                    one.part,
                    gain if line["told_apart"] else f"({gain})",
                    f"{100 * one.first_order:.1f} %" if one.first_order > 0 else "none",
                    "" if one.creases_saved is None else str(one.creases_saved),
                    note,
                )
            )
        if level.untried and level.left_out:
            lines.append(
                (
                    level.shape,
                    str(level.detail),
                    f"{level.untried} more",
                    "",
                    "",
                    "",
                    "not tried",
                )
            )
    return lines


def _creased(levels: Levels) -> bool:
    return any(level.folding for level in levels.levels)


def _marked(levels: Levels) -> bool:
    return any(level.landmarks for level in levels.levels)
