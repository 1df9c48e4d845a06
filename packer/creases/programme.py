"""Linear programmes, solved or given up after a limit."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from scipy.optimize import linprog

if TYPE_CHECKING:
    from numpy.typing import NDArray

LONGEST: Final = 2.0
"""Seconds after which a programme is given up; those solved take some hundredths of one."""


def minimised(objective: NDArray[Any], **conditions: Any) -> NDArray[Any] | None:
    """Return the point of least objective under conditions as of `scipy.optimize.linprog`.

    None where there is none, or none was found in time.
    """
    result = linprog(objective, **conditions, method="highs", options={"time_limit": LONGEST})
    return result.x if result.status == 0 else None
