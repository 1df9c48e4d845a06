"""The order of folding for reports: levels of pre-creasing, stages of the collapse."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Final

from packer.drawing.writers.html import Table
from packer.folded.stages import stages
from packer.landmarks.precrease import precreasing
from packer.numbers import counted

if TYPE_CHECKING:
    from packer.creases.pattern import CreasePattern
    from packer.folded.layers import FlatBase
    from packer.landmarks.guide_brief import GuideBrief

ROLES: Final = ("axial", "ridge", "hinge", "gusset")


MOST_TIPS: Final = 26
"""Tips, fillers counted, above which stages are left to the guide: with 37 they take half a minute."""


def order_table(pattern: CreasePattern) -> Table:
    """Return how many creases of each role follow at each level of pre-creasing."""
    made = precreasing(pattern)
    rows = []
    for level in sorted({one.level for one in made if one.how in {"folded", "measured"}}):
        own = [one for one in made if one.level == level and one.how in {"folded", "measured"}]
        roles = Counter(one.crease.role for one in own)
        points = sum(len(one.measured) for one in own)
        counts = [str(roles[role] or "") for role in ROLES]
        rows.append([str(level), *counts, str(len(own)), str(points or "")])
    left = sum(one.how == "collapse" for one in made)
    if left:
        rows.append(["in the collapse", *[""] * len(ROLES), str(left), ""])
    return Table(
        "Order of pre-creasing: a level rests on those before; the first on the tips alone. "
        "packer guide draws every step",
        ("level", *ROLES, "creases", "points to measure"),
        rows,
    )


def stages_words(
    base: FlatBase, before: int, guide: GuideBrief | None = None
) -> tuple[str, str]:
    """Return how many creases come together at once in stages, and what that means.

    Parameters
    ----------
    base
        The creases, with their layer order if one is known.
    before
        How many do without stages, `packer.folded.difficulty.Difficulty.together`.
    guide
        Its fold guide, which knows the stages.
    """
    if guide is not None:
        count, most = guide.stages, guide.together
    elif len(base.pattern.tips) > MOST_TIPS:
        return "not looked at", "packer guide looks for stages of a pattern of so many tips"
    else:
        made = stages(base.pattern, base.order)
        count, most = len(made), max(stage.together for stage in made)
    if count == 1:
        return str(before), "no part of it was found to fold flat while the rest waits"
    words = f"in {counted(count, 'stage')}, each folded flat while the rest waits"
    return str(min(most, before)), f"{words}; {before} without stages"
