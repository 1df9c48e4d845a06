"""The search of `packer.folded.propagation` by a solver in compiled code: CaDiCaL, by way of PySAT.

CaDiCaL (A. Biere, K. Fazekas, M. Fleury and M. Heisinger, SAT Competition 2020) knows clauses alone. A sum
of four becomes eight of them. Of triples of layers there are too many to write all down: those of the
two layers of a crease and a third come at once, since without them sums of parities take exponentially
many steps (G. Tseitin, 1968); others when an answer has layers that lie round in a ring (R. Bryant and
M. Velev, "Boolean satisfiability with transitivity constraints", ACM Trans. Comput. Logic 3, 2002).
PySAT: A. Ignatiev, A. Morgado and J. Marques-Silva, "PySAT: a Python toolkit for prototyping with SAT
oracles", SAT 2018. All from memory.
"""

from __future__ import annotations

import itertools
from importlib.util import find_spec
from typing import TYPE_CHECKING, ClassVar, Final

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components

from packer.deadline import Deadline
from packer.folded.pair_conditions import FALSE, TRUE

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from numpy.typing import NDArray

    from packer.folded.propagation import OrderConditions

CLOCKED: Final = 1000
CLOCKED_AFAR: Final = 10_000
"""Contradictions after which the clock is looked at; and where nothing is wished, when clauses are simplified
in between."""

MOST_EXCLUDED: Final = 20_000
"""Rings of three layers that are excluded after one answer."""


def available() -> bool:
    """Whether the solver is installed."""
    # python-sat's own part: another distribution is called pysat as well
    return find_spec("pysolvers") is not None


class CadicalSearch:
    """Unknowns decided by CaDiCaL; what a search has learned stays true in the next.

    Parameters
    ----------
    conditions
        What must hold; which unknowns are decided before others is not minded.
    creases
        (c, 2) the two layers at each crease.
    wish
        (count,) for each unknown how much its being true is wished, negative for false. Where nothing is
        wished but of the unknown 0, answers are looked for anywhere, and contradictions more thoroughly.
    deadline
        When a search ends.

    Attributes
    ----------
    exhausted
        Whether all was seen, so that nothing fulfils the conditions.
    refuted
        A literal assumed in the last run of which it was shown that it is false if those before it are
        true; None where that was shown of none.
    conflicts
        Contradictions met in all runs.
    """

    pace: ClassVar[int] = 20
    """Contradictions met in the time in which a search of our own meets one."""

    def __init__(
        self,
        conditions: OrderConditions,
        creases: NDArray[np.intp],
        wish: NDArray[np.floating],
        deadline: Deadline | None = None,
    ) -> None:
        from pysat.solvers import Solver  # noqa: PLC0415 - an extra

        self.deadline = deadline or Deadline.after()
        self.exhausted = False
        self.refuted: int | None = None
        self.conflicts = 0
        self.below = conditions.below
        self._unknowns, self._count = conditions.unknowns, len(wish)
        # of each unknown its variable
        self._variable = np.zeros(len(wish), dtype=np.intp)
        self._variable[self._unknowns] = 1 + np.arange(len(self._unknowns))
        self._solver = Solver("cadical195")
        self._near = bool(wish[1:].any())
        if self._near:
            # simplifying millions of clauses between questions costs more than it spares
            self._solver.configure({"inprocessing": 0})
        # the unknown 0 is true; and so many variables there are, whether clauses name them or not
        last = len(self._unknowns)
        self._solver.append_formula([[1], [last, -last]])
        for clauses in _of_sums(conditions.sums, conditions.odd):
            self._add(clauses)
        self._exclude(_beside_creases(creases, conditions.below))
        if self._near:
            wished = 2 * self._unknowns + (wish[self._unknowns] < 0)
            self._solver.set_phases(self._signed(wished).tolist())

    def set_true(self, literals: Iterable[int]) -> None:
        """Let literals be true in all later runs."""
        self._add(np.array(list(literals), dtype=np.intp)[:, None])

    def run(self, conflicts: int, assumed: Sequence[int] = ()) -> NDArray[np.int8] | None:
        """Return (count,) 1 or -1 for every unknown decided, 0 elsewhere; None where none was found.

        Parameters
        ----------
        conflicts
            Contradictions after which this run ends.
        assumed
            Literals that are to be true in this run.
        """
        self.refuted = None
        most = self.conflicts + conflicts
        clocked = CLOCKED if self._near else CLOCKED_AFAR
        signed = self._signed(np.array(assumed, dtype=np.intp)).tolist()
        while not self.exhausted and self.conflicts < most and not self.deadline.over:
            answer = self._answer(signed, min(most - self.conflicts, clocked))
            if answer:
                truth = self._truth()
                rings = _rings(self._below(truth))
                if not len(rings):
                    if self._near:  # other answers are looked for near this one
                        self._solver.set_phases(self._solver.get_model())
                    return truth
                self._exclude(rings)
            elif answer is not None:
                core = set(self._solver.get_core() or ())
                wrong = [x for x, s in zip(assumed, signed, strict=True) if s in core]
                self.exhausted = not wrong
                self.refuted = wrong[-1] if wrong else None
                return None
        return None

    def _answer(self, signed: list[int], conflicts: int) -> bool | None:
        """Return whether all can be true; None where that was not seen in so many contradictions."""
        before = self._solver.accum_stats()["conflicts"]
        self._solver.conf_budget(conflicts)
        answer: bool | None = self._solver.solve_limited(signed)
        self.conflicts += self._solver.accum_stats()["conflicts"] - before
        return answer

    def _truth(self) -> NDArray[np.int8]:
        truth = np.zeros(self._count, dtype=np.int8)
        truth[self._unknowns] = np.sign(self._solver.get_model())
        return truth

    def _below(self, truth: NDArray[np.int8]) -> NDArray[np.bool_]:
        """Return (n, n) which layers lie below which."""
        held = np.column_stack([truth, -truth]).ravel() > 0
        below: NDArray[np.bool_] = held[self.below] & (self.below >= 0)
        return below

    def _signed(self, literals: NDArray[np.intp]) -> NDArray[np.intp]:
        """Return literals as the solver writes them: a variable's number, negative for its opposite."""
        signed: NDArray[np.intp] = self._variable[literals >> 1] * (1 - 2 * (literals & 1))
        return signed

    def _exclude(self, rings: NDArray[np.intp]) -> None:
        """Exclude that layers lie round in rings of three, (k, 3), either way round."""
        a, b, c = rings.T
        ring = np.column_stack([self.below[a, b], self.below[b, c], self.below[c, a]])
        self._add(_different(np.concatenate([ring, ring ^ 1]).astype(np.intp)))

    def _add(self, clauses: NDArray[np.intp]) -> None:
        """Add clauses, rows of literals of which one at least is true."""
        # FALSE, the least of all literals but one, comes last in each row
        clauses = -np.sort(-clauses[(clauses != TRUE).all(axis=1)], axis=1)
        length = (clauses > FALSE).sum(axis=1)
        signed = self._signed(clauses)
        for size in np.unique(length).tolist():
            if not size:
                self.exhausted = True
            else:
                self._solver.append_formula(signed[length == size, :size].tolist())


def _of_sums(sums: NDArray[np.intp], odd: NDArray[np.bool_]) -> Iterator[NDArray[np.intp]]:
    """Yield clauses that exclude the wrong numbers of true literals in each sum."""
    for turn in itertools.product((0, 1), repeat=4):
        # such a clause is false in one wrong case alone: where just the literals turned are true
        yield sums[odd != sum(turn) % 2] ^ np.array(turn)


def _beside_creases(creases: NDArray[np.intp], below: NDArray[np.integer]) -> NDArray[np.intp]:
    """Return (k, 3) the two layers of each crease with each other one that overlaps both.

    Without those of which all is known, or which lie on one side of the crease in any case.
    """
    first, second = creases.T
    one, other = below[first], below[second]
    asked = (one > FALSE) | (other > FALSE) | (below[first, second] > FALSE)[:, None]
    row, third = ((one >= 0) & (other >= 0) & (one != other) & asked).nonzero()
    return np.column_stack([creases[row], third])


def _different(rings: NDArray[np.intp]) -> NDArray[np.intp]:
    """Return clauses that exclude rings of three literals, each once, and none that always holds."""
    clauses = np.sort(rings ^ 1, axis=1)
    one, two, three = clauses.T
    first, second, third = clauses[(one ^ 1 != two) & (two ^ 1 != three)].T
    size = 1 + clauses.max(initial=0)
    pairs, row = np.unique(first * size + second, return_inverse=True)
    row, third = np.divmod(np.unique(row * size + third), size)
    return np.column_stack([*np.divmod(pairs[row], size), third])


def _rings(below: NDArray[np.bool_]) -> NDArray[np.intp]:
    """Return (k, 3) layers of which each is below the next and the last below the first, some of them."""
    _, part = connected_components(csr_array(below), directed=True, connection="strong")
    rings = [np.zeros((0, 3), dtype=np.intp)]
    for number in np.flatnonzero(np.bincount(part) > 1).tolist():
        layers = np.flatnonzero(part == number)
        here = below[np.ix_(layers, layers)]
        steps = here.astype(np.float32)
        ends = np.argwhere((steps @ steps) * steps.T)
        for some in np.array_split(
            ends[:: 1 + len(ends) // MOST_EXCLUDED], 1 + len(layers) // 100
        ):
            lower, upper = some.T
            middle = (here[lower] & here[:, upper].T).argmax(axis=1)
            rings.append(layers[np.column_stack([lower, middle, upper])])
    return np.concatenate(rings)
