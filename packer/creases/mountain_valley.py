"""Mountain and valley: what a layer order makes of each crease."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern, Fold


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
