"""Mountain and valley: what a layer order makes of each crease, and what is preferred."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern, Fold, Role

WISHES: Final[dict[Role, tuple[Fold, float]]] = {
    "ridge": ("V", 4.0),
    "axial": ("M", 2.0),
    "gusset": ("M", 2.0),
    "hinge": ("M", 1.0),
    "between": ("V", 2.0),
    "fold-back": ("M", 1.0),
}
"""How each role is folded in the textbook bases, seen from the paper's front, which comes to lie
inside, and how strongly that is wished for: wishes only choose between valid orders."""


def wishes_of(pattern: CreasePattern) -> tuple[tuple[Fold, float], ...]:
    """Return for each edge the fold wished for and a weight.

    Ridges are valleys. Axial creases are mountains, save the shortest one at each tip inside
    the sheet: mountains and valleys there must differ by two (Maekawa's theorem).
    """
    wishes = [WISHES.get(role, ("U", 0.0)) for role in pattern.roles]
    for tip in pattern.tips.values():
        if pattern.on_border[tip]:
            continue
        axial = [k for k in pattern.edges_at[tip] if pattern.roles[k] == "axial"]
        if axial:
            ends = pattern.points[pattern.edges]
            shortest = min(axial, key=lambda k: (((ends[k, 0] - ends[k, 1]) ** 2).sum(), k))
            wishes[shortest] = ("V", wishes[shortest][1])
    return tuple(wishes)


def assigned(
    pattern: CreasePattern,
    folded: NDArray[np.bool_],
    left_flipped: NDArray[np.bool_],
    right_above: NDArray[np.bool_],
) -> tuple[Fold, ...]:
    """Return each edge's fold from the layers on its two sides.

    Seen from the front of the paper a crease is a valley where the right face lies on the
    front of the left one.

    Parameters
    ----------
    pattern
        The creases.
    folded
        (e,) whether an edge is folded; the others are "B" or "F".
    left_flipped
        (e,) whether the face on the left of an edge shows its back.
    right_above
        (e,) whether the face on its right lies above that on its left.
    """
    folds: list[Fold] = []
    for role, is_folded, back, above in zip(
        pattern.roles, folded.tolist(), left_flipped.tolist(), right_above.tolist(), strict=True
    ):
        if not is_folded:
            folds.append("B" if role == "border" else "F")
        else:
            folds.append("V" if above != back else "M")
    return tuple(folds)
