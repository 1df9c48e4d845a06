"""Linear programmes, solved or given up after a limit that does not depend on the machine."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from scipy.optimize import linprog

if TYPE_CHECKING:
    from numpy.typing import NDArray

MOST_ITERATIONS: Final = 20_000
"""Simplex iterations after which a programme is given up."""


def minimised(objective: NDArray[Any], **conditions: Any) -> NDArray[Any] | None:
    """Return the point of least objective under conditions as of `scipy.optimize.linprog`.

    None where there is none, or none was found within the limit.
    """
    result = linprog(
        objective, **conditions, method="highs", options={"maxiter": MOST_ITERATIONS}
    )
    return result.x if result.status == 0 else None
