"""A fold guide as panels: a heading, a few sentences and one or two pictures each."""

from __future__ import annotations

import math
from collections import Counter
from functools import partial
from typing import TYPE_CHECKING, Final

from packer.drawing.crease_drawing import crease_drawing
from packer.drawing.landmark_drawing import image_of, landmark_drawing
from packer.drawing.panel import Panel
from packer.drawing.pleat_drawing import pleats_on_base, pleats_on_sheet
from packer.drawing.precrease_drawing import level_drawing, sides_of
from packer.drawing.stage_panels import stage_panels
from packer.drawing.state_drawing import state_drawing
from packer.landmarks.division import runs
from packer.landmarks.fold_guide import checks
from packer.landmarks.pleating import alike
from packer.landmarks.wording import (
    halvings,
    instruction,
    marks_listed,
    measured,
    pleat_sides,
    pleat_words,
)
from packer.numbers import counted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from packer.drawing.marks.strokes import Drawing
    from packer.landmarks.fold_guide import FoldGuide
    from packer.landmarks.pleating import PartPleats
    from packer.landmarks.sequence import Landmarks

PLURAL: Final = {
    "axial": "axial creases",
    "ridge": "ridges",
    "hinge": "hinges",
    "gusset": "gussets",
    "between": "lines between axial creases",
    "fold-back": "fold-backs",
}

HOW: Final = {
    "axial": "each runs through two tips",
    "ridge": "each lays one side of its polygon onto another, or runs through two points",
    "hinge": "each stands square to a side, through a point where two creases cross",
    "gusset": "each runs through two points where creases cross",
    "between": "each runs along the grid",
    "fold-back": "each runs along the grid",
}

MOST_ROWS: Final = 10
"""Tips to measure that are named on a quarter of a page."""

FEW_STRIPS: Final = 4
"""Strips halved at once that are told on a quarter of a page."""

MISS_MM: Final = 1.0
"""A miss of two things that should meet, in mm, at which one goes back."""

CAUTIONS: Final = (
    "Cut the sheet true first: its two diagonals should agree within half a millimetre.",
    "Fold a test on cheap paper of the same size before the good sheet (common practice).",
    "Cut along a steel ruler, away from the hand, and close the blade after use.",
    "Landmarks are pinched, not creased through: press only where the dashes are heavy.",
    "Misses add up; the figure behind the mark of a tip says how much to expect by hand.",
)

READING: Final = (
    (
        "Dashes are valleys, dashes with dots mountains. Fine dots are the rest of a crease that need "
        "not be pressed; thin lines are creases made before."
    ),
    (
        "An arrow runs from what moves to where it goes; a circle marks a point to watch. The looped "
        "arrow says: turn the paper over."
    ),
    "Lighter dashes are the same step on the other side: do it in its mirror image as well.",
)


def panels(guide: FoldGuide) -> list[tuple[str, list[Panel]]]:
    """Return the sections of a guide, each a heading and its panels."""
    sections = [
        ("Before you fold", [_overview(guide)]),
        ("Landmarks", list(_landmarks(guide))),
        ("Pre-creasing", list(_levels(guide))),
        ("Coming together", list(stage_panels(guide))),
        ("The base", list(_base(guide))),
        ("Pleats", list(_pleats(guide))),
    ]
    return [(title, rows) for title, rows in sections if rows]


def _overview(guide: FoldGuide) -> Panel:
    pattern = guide.pattern
    w, h = pattern.sheet.width * guide.mm, pattern.sheet.height * guide.mm
    lines = [f"The sheet: {w:.4g} x {h:.4g} mm."]
    made = guide.landmarks
    worst = max((mark.error for mark in made.tips.values()), default=0.0) * guide.mm
    off = max((mark.distance for mark in made.tips.values()), default=0.0) * guide.mm
    lines.append(
        f"{counted(made.count, 'landmark step')} ({counted(len(made.steps), 'crease')}) for "
        f"{counted(len(made.tips), 'tip')}; no mark is farther than {off:.2f} mm from its tip. "
        f"By hand expect up to {worst:.1f} mm, with half a millimetre of miss in every fold "
        "(common practice)."
    )
    if made.unmarked:
        lines.append(
            f"{counted(len(made.unmarked), 'tip')} more, which no short sequence marks surely, to "
            "be measured or taken from the print (packer print)."
        )
    lines.append(
        f"{counted(sum(map(len, guide.levels)), 'straight crease')} in "
        f"{counted(len(guide.levels), 'level')} of pre-creasing."
    )
    lines.append(_together(guide))
    return Panel(
        "full",
        pattern.title or "Fold guide",
        (*lines, *READING, *CAUTIONS),
        (lambda width, height: crease_drawing(pattern, _mm(guide, width, height), "fold"),),
    )


def _together(guide: FoldGuide) -> str:
    if len(guide.stages) == 1:
        return (
            f"The base comes together at once, {counted(guide.before, 'crease')} of it: no part of "
            "it was found to fold flat while the rest waits."
        )
    return (
        f"It comes together in {counted(len(guide.stages), 'stage')}; at most "
        f"{counted(guide.most_together, 'crease')} at once, against {guide.before} without stages."
    )


def _mm(guide: FoldGuide, width: float, height: float) -> float:
    sheet = guide.pattern.sheet
    return min(width / sheet.width, height / sheet.height)


def _longest(guide: FoldGuide, width: float, height: float) -> float:
    sheet = guide.pattern.sheet
    return _mm(guide, width, height) * max(sheet.width, sheet.height)


def _landmark_picture(
    guide: FoldGuide, made: Landmarks, numbers: range, width: float, height: float
) -> Drawing:
    return landmark_drawing(made, numbers, _longest(guide, width, height))


def _landmarks(guide: FoldGuide) -> Iterator[Panel]:
    made = guide.landmarks
    steps = [range(k, k + 1) for k in range(len(made.steps))]
    for numbers in runs(made) if guide.on_grid else steps:
        number = numbers[0]
        step = made.steps[number]
        if step.image >= 0 and image_of(made, step.image) == number:
            continue
        if len(numbers) > 1:
            yield _run(guide, numbers)
            continue
        other = image_of(made, number)
        lines = [f"{instruction(made, number)} {marks_listed(made, guide.mm, numbers)}"]
        title = f"{number + 1}"
        if other is not None:
            title = f"{number + 1} and {other + 1}"
            again = marks_listed(made, guide.mm, (other,))
            lines.append(f"Repeat on the other side. {again}")
        yield Panel(
            "quarter",
            title,
            tuple(lines),
            (partial(_landmark_picture, guide, made, numbers),),
        )
    if made.unmarked:
        rows = [f"{name}: {measured(made, name, guide.mm)}." for name in made.unmarked]
        for start in range(0, len(rows), MOST_ROWS):
            yield Panel(
                "quarter",
                "Measure these tips",
                ("Dot them with a pencil, or prick them through from the print:",)
                * (start == 0)
                + tuple(rows[start : start + MOST_ROWS]),
            )
    to_check = checks(guide)
    if to_check:
        yield Panel(
            "quarter",
            "Check",
            (
                "Measure between marks before you go on:",
                *(
                    f"{made.marks[made.tips[a].point].name} ({a}) to "
                    f"{made.marks[made.tips[b].point].name} ({b}) should be {mm:.1f} mm; if it "
                    f"misses by more than {_allowed(guide, a, b):.1f} mm go back to step {step}."
                    for a, b, mm, step in to_check
                ),
            ),
        )


def _run(guide: FoldGuide, numbers: range) -> Panel:
    """Return a panel for strips of a grid halved side by side."""
    made = guide.landmarks
    return Panel(
        "half" if len(numbers) > FEW_STRIPS else "quarter",
        f"{numbers[0] + 1} to {numbers[-1] + 1}",
        (halvings(made, numbers), marks_listed(made, guide.mm, numbers)),
        (partial(_landmark_picture, guide, made, numbers),),
    )


def _allowed(guide: FoldGuide, a: str, b: str) -> float:
    """Return the miss in mm to be expected twice over between two tips' marks."""
    made = guide.landmarks
    total = math.hypot(made.tips[a].error, made.tips[b].error)
    off = made.tips[a].distance + made.tips[b].distance
    return max(MISS_MM, (2 * total + off) * guide.mm)


def _levels(guide: FoldGuide) -> Iterator[Panel]:
    for level in range(len(guide.levels)):
        words = _level_words(guide, level)
        if guide.brief:
            yield Panel("quarter", f"Level {level + 1}", (words,))
            continue
        for back in sides_of(guide, level):
            yield Panel(
                "half",
                f"Level {level + 1}, {'back' if back else 'front'} of the paper",
                (words if not back else "The mountains, creased as valleys from behind.",)
                + (_level_check(guide, level) if not back else ()),
                (partial(_level_picture, guide, level, back),),
                turn=back,
            )
    if guide.collapse:
        yield Panel(
            "quarter",
            "Left to the collapse",
            (
                (
                    f"{counted(len(guide.collapse), 'crease')} cannot be folded before: they rest on "
                    "points that nothing marks and are too short to measure."
                ),
            ),
        )
    if guide.brief:
        yield Panel(
            "quarter",
            "Print the rest",
            (
                "There are too many creases for pictures: pre-crease from the print (packer print).",
            ),
        )


def _level_picture(
    guide: FoldGuide, level: int, back: bool, width: float, height: float
) -> Drawing:
    return level_drawing(guide, level, back, _longest(guide, width, height))


def _level_words(guide: FoldGuide, level: int) -> str:
    rows = [guide.precreases[number] for number in guide.levels[level]]
    roles = Counter(one.crease.role for one in rows)
    words = [f"{n} {PLURAL[role] if n > 1 else role}: {HOW[role]}" for role, n in roles.items()]
    measured = sum(len(one.measured) for one in rows)
    if measured:
        words.append(
            f"{counted(measured, 'point')} to be measured, the figures are mm from the dot to "
            "the circle"
        )
    full = sum(_is_full(guide, number) for number in guide.levels[level])
    words.append(
        "only between the points drawn"
        if not full
        else f"{full} of them from edge to edge, the others only between the points drawn"
    )
    return "; ".join(words) + "."


def _is_full(guide: FoldGuide, number: int) -> bool:
    return bool(guide.pattern.on_border[list(guide.precreases[number].crease.ends)].all())


def _level_check(guide: FoldGuide, level: int) -> tuple[str, ...]:
    roles = {guide.precreases[number].crease.role for number in guide.levels[level]}
    if "ridge" in roles and 0 < level < 3:
        return (
            (
                f"Three ridges and more meet in one point; where they miss by more than {MISS_MM:g} mm "
                f"crease level {level} there again."
            ),
        )
    return ()


def _base_picture(guide: FoldGuide, back: bool, width: float, height: float) -> Drawing:
    pattern, base = guide.pattern, guide.base
    own = [name for name in pattern.tree.flaps if name not in pattern.fillers]
    return state_drawing(pattern, base.form, base.order, (width, height), back=back, names=own)


def _base(guide: FoldGuide) -> Iterator[Panel]:
    order = guide.base.order
    for back in (False, True):
        yield Panel(
            "half",
            f"The base from the {'back' if back else 'front'}",
            ("Names stand under the tips.",)
            if order is not None
            else (
                "Names stand under the tips. No layer order is known: all layers are drawn.",
            ),
            (partial(_base_picture, guide, back),),
        )


def _pleats(guide: FoldGuide) -> Iterator[Panel]:
    for name, parts in alike(guide.pleats):
        yield Panel(
            "half",
            f"Pleats of {name}",
            pleat_words(parts, guide.mm),
            (partial(_pleats_folded, guide, parts),),
        )
        yield Panel(
            "full",
            f"Pleats of {name} on the open sheet",
            pleat_sides(parts),
            (partial(_pleats_flat, guide, parts),),
        )


def _pleats_flat(
    guide: FoldGuide, parts: list[PartPleats], width: float, height: float
) -> Drawing:
    return pleats_on_sheet(guide, parts, _mm(guide, width, height))


def _pleats_folded(
    guide: FoldGuide, parts: list[PartPleats], width: float, height: float
) -> Drawing:
    return pleats_on_base(guide, parts, (width, height))
