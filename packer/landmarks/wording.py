"""Folding steps in words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from packer.landmarks.sequence import CORNERS, EDGES
from packer.numbers import counted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from packer.landmarks.pleating import PartPleats
    from packer.landmarks.sequence import Landmarks, Mark, Step

_WORDS: Final = {
    1: "Crease through {p} and {q}.",
    2: "Bring {p} onto {q} and crease.",
    3: "Bring {l} onto {m} and crease.",
    4: "Bring {l} onto itself so that the crease runs through {p}.",
    5: "Bring {p} onto {l} so that the crease runs through {q}.",
    6: "Bring {p} onto {l} and, in the same fold, {q} onto {m}.",
    7: "Bring {p} onto {l} while {m} runs back along itself: the crease is square to {m}.",
}
"""What the hands do, by the number of the alignment."""

FOLD_NAMES: Final = {"M": "mountain", "V": "valley"}


def instruction(made: Landmarks, number: int) -> str:
    """Return one landmark step as a sentence; `number` is its place in the sequence."""
    step = made.steps[number]
    points = [spoken(made.marks[pair]) for pair in step.points]
    lines = [_line(made, line) for line in step.lines]
    words = dict(zip("pq", points, strict=False)) | dict(zip("lm", lines, strict=False))
    return _WORDS[step.alignment].format(**words)


def spoken(mark: Mark) -> str:
    """Return a mark as it is called in a sentence."""
    return f"the {mark.name} corner" if mark.name in CORNERS else mark.name


def _line(made: Landmarks, line: int) -> str:
    return f"the {EDGES[line]} edge" if line < len(EDGES) else f"crease {line - 3}"


def marks_made(made: Landmarks, number: int) -> str:
    """Return which marks a step makes and which tips they stand for; empty where none."""
    tips: dict[tuple[int, int], list[str]] = {}
    for name, tip in made.tips.items():
        tips.setdefault(tip.point, []).append(name)
    words = []
    for mark in made.made_by(number):
        other = _line(made, min(mark.point))
        for_tips = tips.get(mark.point)
        stands = f", the tip of {' and '.join(for_tips)}" if for_tips else ""
        words.append(f"{mark.name} where it crosses {other}{stands}")
    return f"It marks {'; '.join(words)}." if words else ""


def marks_listed(made: Landmarks, mm: float, numbers: Sequence[int]) -> str:
    """Return the marks of steps by name, for beside a picture that shows where they are.

    Behind one that stands for a tip is what it is expected to miss by; `mm` is one unit of the sheet.
    """
    tips: dict[tuple[int, int], list[str]] = {}
    for name, tip in made.tips.items():
        tips.setdefault(tip.point, []).append(name)
    words = [
        f"{mark.name} (the tip of {' and '.join(own)}, ±{made.tips[own[0]].error * mm:.1f} mm)"
        if (own := tips.get(mark.point))
        else mark.name
        for number in numbers
        for mark in made.made_by(number)
    ]
    return (
        f"{'It marks' if len(numbers) == 1 else 'They mark'} {', '.join(words)}."
        if words
        else ""
    )


def halvings(made: Landmarks, numbers: Sequence[int]) -> str:
    """Return steps that halve strips side by side as one sentence."""
    pairs = []
    for number in numbers:
        one, other = (_line(made, line) for line in made.steps[number].lines)
        pairs.append(f"{one} onto {other}")
    return (
        f"Halve {len(numbers)} strips, in the order of the numbers. Bring {', '.join(pairs)}."
    )


def measured(made: Landmarks, name: str, mm: float) -> str:
    """Return where a tip without a mark is measured; `mm` is one unit of the sheet."""
    x, y = made.unmarked[name]
    return f"{x * mm:.1f} mm from the left edge, {y * mm:.1f} mm from the bottom edge"


def used_names(made: Landmarks, step: Step) -> list[str]:
    """Return the names of what a step aligns, in the order of the alignment's arguments."""
    points = iter([made.marks[pair].name for pair in step.points])
    lines = iter([made.name_of(line) for line in step.lines])
    shape = {1: "pp", 2: "pp", 3: "ll", 4: "lp", 5: "plp", 6: "plpl", 7: "pll"}[step.alignment]
    return [next(points if kind == "p" else lines) for kind in shape]


def pleat_words(parts: Sequence[PartPleats], mm: float) -> tuple[str, ...]:
    """Return how the pleats of a part are made after the base, as sentences.

    Parameters
    ----------
    parts
        The part, or it and its twin, which is pleated alike.
    mm
        Millimetres for one unit of the sheet.
    """
    one = parts[0]
    layers = max(len(fold.lines) for fold in one.folds)
    start = "its tip" if one.start is None else f"the joint {one.start}"
    places = ", ".join(f"{FOLD_NAMES[fold.fold]} {fold.along * mm:.1f}" for fold in one.folds)
    twin = "; on the other side alike." if len(parts) > 1 else "."
    return (
        (
            f"{counted(len(one.folds) // 2, 'pleat')}, made when the base is folded, through all "
            f"its layers (up to {layers}) at once{twin}"
        ),
        "Lift away what lies over it, fold the mountains behind and the valleys in front.",
        f"Seen from the base's front, in mm from {start}: {places}.",
    )


def pleat_sides(parts: Sequence[PartPleats]) -> tuple[str, ...]:
    """Return which fold each layer of a pleated part needs by the side that it shows."""
    backs = [back for part in parts for fold in part.folds for back in fold.backs]
    ways = (
        (False, "front", "the first fold of each pleat is a mountain and the second a valley"),
        (True, "back", "the first is a valley and the second a mountain"),
    )
    return (
        (
            "To crease them before the base, on the open sheet seen from its front, each layer needs "
            "its own fold, by the side that it shows in the base:"
        ),
        *(
            f"{counted(backs.count(back), 'line')} in layers that show their {side}: {how}."
            for back, side, how in ways
            if back in backs
        ),
        "Where a line crosses a folded crease it changes from mountain to valley or back.",
    )
