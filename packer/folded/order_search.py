"""Solvers for a layer order: OR-tools' CP-SAT where it is installed, else scipy's HiGHS.

Both answer the same question exactly; HiGHS is for small patterns, up to a few hundred unknowns.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from importlib.util import find_spec
from typing import TYPE_CHECKING, Any, Final, Protocol

import numpy as np

from packer.interrupt import abandonable, interruptible

if TYPE_CHECKING:
    from collections.abc import Mapping

    from packer.folded.parity import Even, Literal

Cycle = tuple[int, int, int]
"""Three literals that may not be all true, nor all false."""


GAP: Final = 0.02
"""Share of the wishes that may stay unmet although more could be: a fold or two in a hundred."""


@dataclass(frozen=True)
class Conditions:
    """What values of the unknowns must satisfy.

    Attributes
    ----------
    evens
        Equations.
    cycles
        Triples of literals that are not all equal.
    wishes
        What each unknown is worth when true, less when false; empty where any answer will do.
    """

    evens: tuple[Even, ...]
    cycles: tuple[Cycle, ...] = ()
    wishes: Mapping[int, float] = field(default_factory=dict)

    @property
    def unknowns(self) -> list[int]:
        """All unknowns that occur, in order."""
        found = {k for even in self.evens for k in even.unknowns}
        found.update(literal >> 1 for cycle in self.cycles for literal in cycle)
        found.update(self.wishes)
        return sorted(found)

    @property
    def clauses(self) -> list[tuple[Literal, ...]]:
        """The equations and cycles as clauses: in each at least one literal is true."""
        found = [clause for even in self.evens for clause in clauses_of(even)]
        for a, b, c in self.cycles:
            found += [(a, b, c), (a ^ 1, b ^ 1, c ^ 1)]
        return found


@dataclass(frozen=True)
class NoAnswer:
    """No values were found; `proven` where there are none at all."""

    proven: bool


Answer = dict[int, bool] | NoAnswer


class Solver(Protocol):
    """Finds values for the unknowns of conditions."""

    @property
    def name(self) -> str:
        """For the record of a run."""

    def __call__(
        self, conditions: Conditions, *, seconds: float, seed: int, near: Mapping[int, bool]
    ) -> Answer:
        """Return a value for each unknown, the best that was found in time, from a start near."""


def best_solver() -> Solver:
    """Return CP-SAT where OR-tools is installed, else HiGHS."""
    return CpSat() if find_spec("ortools") else Highs()


def clauses_of(even: Even) -> list[tuple[Literal, ...]]:
    """Return an equation as clauses: one for each assignment that it forbids."""
    return [
        # The clause is false at exactly the assignment whose true unknowns are the bits of `at`.
        tuple(2 * unknown + (at >> n & 1) for n, unknown in enumerate(even.unknowns))
        for at in range(1 << len(even.unknowns))
        if (at.bit_count() % 2 == 1) != even.odd
    ]


class CpSat:
    """OR-tools' CP-SAT with one worker, so that a seed gives one answer.

    The model of the last conditions is kept: where the next have the same equations and more
    cycles, as when cycles are found one after another, only those are written to it. Writing it
    anew took more than half of the time.
    """

    name = "CP-SAT"

    def __init__(self) -> None:
        self._last = Conditions(())
        self._model: Any = None
        self._literals: dict[Literal, Any] = {}

    def __call__(
        self, conditions: Conditions, *, seconds: float, seed: int, near: Mapping[int, bool]
    ) -> Answer:
        """Solve; see `Solver`."""
        from ortools.sat.python import cp_model  # noqa: PLC0415 - an extra, and slow to load

        model = self._written(conditions)
        model.clear_hints()
        for k, value in near.items():
            if 2 * k in self._literals:
                model.add_hint(self._literals[2 * k], value)
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = seed
        solver.parameters.max_time_in_seconds = max(seconds, 0.0)
        solver.parameters.catch_sigint_signal = False
        # On 20 patterns of 4 to 20 flaps these take a tenth of the default's time: the clauses
        # are many, plain and already reduced, and a start is nearly right.
        solver.parameters.cp_model_presolve = False
        solver.parameters.linearization_level = 0
        solver.parameters.hint_conflict_limit = 1_000_000
        model.clear_objective()
        if conditions.wishes:
            model.maximize(sum(w * self._literals[2 * k] for k, w in conditions.wishes.items()))
            solver.parameters.optimize_with_core = True
            solver.parameters.relative_gap_limit = GAP
        status = interruptible(lambda: solver.solve(model), solver.stop_search)
        if status in {cp_model.OPTIMAL, cp_model.FEASIBLE}:
            return {k: bool(solver.value(self._literals[2 * k])) for k in conditions.unknowns}
        return NoAnswer(proven=status == cp_model.INFEASIBLE)

    def _written(self, conditions: Conditions) -> Any:
        """Return a model of the conditions, the last one carried on where it fits."""
        from ortools.sat.python import cp_model  # noqa: PLC0415 - an extra, and slow to load

        known = len(self._last.cycles)
        if (
            self._model is None
            or self._last.evens is not conditions.evens
            or self._last.cycles != conditions.cycles[:known]
        ):
            self._model, self._literals, known = cp_model.CpModel(), {}, 0
            new = conditions
        else:
            new = Conditions((), conditions.cycles[known:])
        for k in conditions.unknowns:
            if 2 * k not in self._literals:
                variable = self._model.new_bool_var("")
                self._literals |= {2 * k: variable, 2 * k + 1: variable.negated()}
        for clause in new.clauses:
            self._model.add_bool_or([self._literals[x] for x in clause])
        self._last = conditions
        return self._model


@dataclass(frozen=True)
class Highs:
    """scipy's mixed-integer solver; it always uses its own fixed seed and no start."""

    name: str = "HiGHS"

    def __call__(
        self, conditions: Conditions, *, seconds: float, seed: int, near: Mapping[int, bool]
    ) -> Answer:
        """Solve; see `Solver`."""
        from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415 - slow to load
        from scipy.sparse import csr_array  # noqa: PLC0415

        unknowns, clauses = conditions.unknowns, conditions.clauses
        if not unknowns:
            return {}
        if seconds <= 0:  # HiGHS would take a limit that is past for no limit
            return NoAnswer(proven=False)
        column = {k: n for n, k in enumerate(unknowns)}
        # A clause as a row: its literals add up to at least one, where an opposite is 1 - x.
        rows = csr_array(
            (
                [-1.0 if x & 1 else 1.0 for clause in clauses for x in clause],
                (
                    [n for n, clause in enumerate(clauses) for _ in clause],
                    [column[x >> 1] for clause in clauses for x in clause],
                ),
            ),
            shape=(len(clauses), len(unknowns)),
        )
        least = np.array([1.0 - sum(x & 1 for x in clause) for clause in clauses])
        found = abandonable(
            lambda: milp(
                [-conditions.wishes.get(k, 0.0) for k in unknowns],
                integrality=np.ones(len(unknowns)),
                bounds=Bounds(0, 1),
                constraints=[LinearConstraint(rows, least, np.inf)] if clauses else [],
                options={"time_limit": seconds, "mip_rel_gap": GAP},
            )
        )
        if found.x is None:
            return NoAnswer(proven=found.status == 2)
        return dict(zip(unknowns, (found.x > 0.5).tolist(), strict=True))
