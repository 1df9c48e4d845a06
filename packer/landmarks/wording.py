"""Folding steps in words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from packer.landmarks.sequence import CORNERS, EDGES

if TYPE_CHECKING:
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


def marks_listed(made: Landmarks, number: int) -> str:
    """Return the marks of a step by name, for beside a picture that shows where they are."""
    tips: dict[tuple[int, int], list[str]] = {}
    for name, tip in made.tips.items():
        tips.setdefault(tip.point, []).append(name)
    words = [
        f"{mark.name} (the tip of {' and '.join(tips[mark.point])})"
        if mark.point in tips
        else mark.name
        for mark in made.made_by(number)
    ]
    return f"It marks {', '.join(words)}." if words else ""


def used_names(made: Landmarks, step: Step) -> list[str]:
    """Return the names of what a step aligns, in the order of the alignment's arguments."""
    points = iter([made.marks[pair].name for pair in step.points])
    lines = iter([made.name_of(line) for line in step.lines])
    shape = {1: "pp", 2: "pp", 3: "ll", 4: "lp", 5: "plp", 6: "plpl", 7: "pll"}[step.alignment]
    return [next(points if kind == "p" else lines) for kind in shape]
