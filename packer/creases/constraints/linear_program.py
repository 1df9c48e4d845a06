"""Linear programs, solved or given up after a limit that does not depend on the machine."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from scipy.optimize import linprog

if TYPE_CHECKING:
    from numpy.typing import NDArray

MOST_ITERATIONS: Final = 20_000
"""Simplex iterations after which a program is given up."""


def minimise(objective: NDArray[Any], **conditions: Any) -> NDArray[Any] | None:
    """Return the point of least objective under conditions as of `scipy.optimize.linprog`.

    None where the program has no solution, or reaches `MOST_ITERATIONS` first.
    """
    result = _solved(objective, conditions)
    return result.x if result.status == 0 else None


def shadow_prices(objective: NDArray[Any], **conditions: Any) -> NDArray[Any] | None:
    """Return by how much the least objective changes for a unit more in each entry of ``b_ub``.

    None where `minimise` gives none.
    """
    result = _solved(objective, conditions)
    return result.ineqlin.marginals if result.status == 0 else None


def _solved(objective: NDArray[Any], conditions: dict[str, Any]) -> Any:
    options = {"maxiter": MOST_ITERATIONS}
    return linprog(objective, **conditions, method="highs", options=options)
