"""What must hold of some layers, and then of more, decided by a solver in compiled code: CaDiCaL, by way of PySAT.

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
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components

from packer.folded.pair_conditions import FALSE, TRUE

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from packer.deadline import Deadline
    from packer.folded.pair_conditions import PairConditions

CLOCKED: Final = 1000
CLOCKED_SIMPLIFYING: Final = 10_000
"""Contradictions after which the clock is looked at; and where clauses are simplified in between."""

MOST_EXCLUDED: Final = 20_000
"""Rings of three layers that are excluded after one answer."""


def available() -> bool:
    """Whether the solver is installed."""
    # python-sat's own part: another distribution is called pysat as well
    return find_spec("pysolvers") is not None


class CadicalSearch:
    """Orders of some layers, and then of more; what a search has learned stays true in the next.

    Parameters
    ----------
    conditions
        On pairs of all layers.
    deadline
        When a search ends.
    inprocessing
        Whether the solver simplifies its clauses in between: it then refutes in fewer contradictions,
        but with many short questions takes longer than that spares.

    Attributes
    ----------
    told
        (n,) of which layers the solver has been told what must hold among them.
    refuted
        Whether the last run showed that the literal assumed in it is false.
    conflicts
        Contradictions met in all runs.
    """

    def __init__(
        self, conditions: PairConditions, deadline: Deadline, *, inprocessing: bool = False
    ) -> None:
        from pysat.solvers import Solver  # noqa: PLC0415 - an extra

        self.deadline = deadline
        self.told = np.zeros(len(conditions.literal), dtype=bool)
        self.refuted = False
        self.conflicts = 0
        self._conditions = conditions
        self._solver = Solver("cadical195")
        self._solver.configure({"inprocessing": int(inprocessing)})
        self._clocked = CLOCKED_SIMPLIFYING if inprocessing else CLOCKED
        # the unknown of each variable, and the variable of each unknown, which count from 1, or 0
        self._unknowns = np.zeros(1, dtype=np.intp)
        self._variable = np.zeros(len(conditions.stands_for) // 2, dtype=np.intp)
        self._variable[0] = 1
        self._solver.add_clause([1])

    def tell(self, layers: NDArray[np.bool_]) -> None:
        """Let what must hold among some layers hold from now on.

        Parameters
        ----------
        layers
            (n,) which; with those told before.
        """
        conditions, before = self._conditions, self.told
        rows = self._holding(layers)
        if before.any():
            rows &= ~self.sums_told
        self.told = layers
        self._add_sums(rows)
        creases = conditions.creases[layers[conditions.creases].all(axis=1)]
        beside = _beside_creases(creases, conditions.between)
        self._exclude(beside[layers[beside[:, 2]] & ~before[beside].all(axis=1)])
        # so many variables there are, whether clauses name them or not
        part = conditions.between[np.ix_(layers, layers)]
        last = int(abs(self._signed(part[part >= 0].astype(np.intp))).max(initial=1))
        self._solver.add_clause([last, -last])

    def set_true(self, literals: Sequence[int]) -> None:
        """Let literals be true in all later runs."""
        self._add(np.array(literals, dtype=np.intp)[:, None])

    def learn(self, conditions: PairConditions) -> None:
        """Let more literals be equal from now on.

        Parameters
        ----------
        conditions
            As before, with more literals joined.
        """
        before, self._conditions = self._conditions, conditions
        literals = 2 * self._unknowns
        stand = conditions.stands_for[literals]
        moved = stand != before.stands_for[literals]
        one, other = literals[moved], stand[moved]
        self._add(np.column_stack([one, other ^ 1]))
        self._add(np.column_stack([one ^ 1, other]))
        # sums of which a part was told before the others were known to equal what was told
        grown = np.zeros(len(self._variable), dtype=bool)
        joined = conditions.stands_for != before.stands_for
        grown[conditions.stands_for[joined] >> 1] = True
        self._add_sums(self.sums_told & grown[conditions.sums >> 1].any(axis=1))

    @property
    def sums_told(self) -> NDArray[np.bool_]:
        """(s,) which of the conditions' sums are of layers told."""
        return self._holding(self.told)

    def run(
        self, literal: int, wish: NDArray[np.integer], conflicts: int
    ) -> NDArray[np.int8] | None:
        """Return (count,) 1 or -1 for every unknown told, 0 elsewhere; None where none was found.

        Parameters
        ----------
        literal
            Assumed to be true.
        wish
            (count,) for each unknown whether its being true is looked at first, or, where negative,
            its being false.
        conflicts
            Contradictions after which the run ends.
        """
        self.refuted = False
        assumed = self._signed(np.array([literal])).tolist()
        variables = 1 + np.arange(len(self._unknowns))
        phases = np.where(wish[self._unknowns] < 0, -variables, variables)
        self._solver.set_phases(phases.tolist())
        most = self.conflicts + conflicts
        while self.conflicts < most and not self.deadline.over:
            answer = self._answer(assumed, min(most - self.conflicts, self._clocked))
            if answer:
                truth = self._truth()
                rings = self._rings(truth)
                if not len(rings):
                    return truth
                self._exclude(rings)
            elif answer is not None:
                self.refuted = True
                return None
        return None

    def below(self, truth: NDArray[np.int8]) -> NDArray[np.bool_]:
        """Return (t, t) which of the layers told lie below which, as an answer says."""
        between = self._conditions.between[np.ix_(self.told, self.told)]
        held = np.column_stack([truth, -truth]).ravel() > 0
        below: NDArray[np.bool_] = held[between] & (between >= 0)
        return below

    def _answer(self, assumed: list[int], conflicts: int) -> bool | None:
        """Return whether all can be true; None where that was not seen in so many contradictions."""
        before = self._solver.accum_stats()["conflicts"]
        self._solver.conf_budget(conflicts)
        answer: bool | None = self._solver.solve_limited(assumed)
        self.conflicts += self._solver.accum_stats()["conflicts"] - before
        return answer

    def _truth(self) -> NDArray[np.int8]:
        model = np.sign(self._solver.get_model())
        truth = np.zeros(len(self._variable), dtype=np.int8)
        truth[self._unknowns[: len(model)]] = model
        # of joined unknowns as the one that stands for them
        stand = self._conditions.stands_for[::2]
        told: NDArray[np.int8] = truth[stand >> 1] * (1 - 2 * (stand & 1)).astype(np.int8)
        return told

    def _holding(self, layers: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Return (s,) which sums are of how some layers lie, and of unknowns that do not say that of any."""
        between = self._conditions.between
        within = np.ones(len(self._variable), dtype=bool)
        within[between[between > FALSE] >> 1] = False
        part = between[np.ix_(layers, layers)]
        within[part[part >= 0] >> 1] = True
        holding: NDArray[np.bool_] = within[self._conditions.sums >> 1].all(axis=1)
        return holding

    def _signed(self, literals: NDArray[np.intp]) -> NDArray[np.intp]:
        """Return literals as the solver writes them: a variable's number, negative for its opposite."""
        unknowns = np.unique(literals >> 1)
        new = unknowns[self._variable[unknowns] == 0]
        self._variable[new] = 1 + len(self._unknowns) + np.arange(len(new))
        self._unknowns = np.concatenate([self._unknowns, new])
        signed: NDArray[np.intp] = self._variable[literals >> 1] * (1 - 2 * (literals & 1))
        return signed

    def _rings(self, truth: NDArray[np.int8]) -> NDArray[np.intp]:
        """Return (k, 3) layers that lie round in a ring."""
        return np.flatnonzero(self.told)[_rings(self.below(truth))]

    def _exclude(self, rings: NDArray[np.intp]) -> None:
        """Exclude that layers lie round in rings of three, (k, 3), either way round."""
        a, b, c = rings.T
        between = self._conditions.between
        ring = np.column_stack([between[a, b], between[b, c], between[c, a]])
        self._add(_different(np.concatenate([ring, ring ^ 1]).astype(np.intp)))

    def _add_sums(self, rows: NDArray[np.bool_]) -> None:
        for clauses in _of_sums(self._conditions.sums[rows], self._conditions.odd[rows]):
            self._add(clauses)

    def _add(self, clauses: NDArray[np.intp]) -> None:
        """Add clauses, rows of literals of which one at least is true."""
        # FALSE, the least of all literals but one, comes last in each row
        clauses = -np.sort(-clauses[(clauses != TRUE).all(axis=1)], axis=1)
        length = (clauses > FALSE).sum(axis=1)
        signed = self._signed(clauses)
        for size in np.unique(length).tolist():
            # a clause of which all is false is told as that: nothing holds then
            short = signed[length == size, : max(size, 1)]
            self._solver.append_formula(short.tolist())


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
