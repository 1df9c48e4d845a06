"""Does a figure fit on a board? Decided by constraint programming (OR-tools' CP-SAT).

Each pair of tips is separated in one of four directions: a disjunction of linear constraints. The
redundant constraint that the flaps' squares do not overlap (`add_no_overlap_2d`) made proofs
slower. Symmetry is broken: flaps that could change places are ordered, and one tip is kept to
one part of a board whose sides cannot be told apart.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from packer.deadline import NEVER, Deadline
from packer.errors import SearchError
from packer.grid.relations import (
    ACROSS,
    WAYS,
    Affine,
    branches,
    coordinates,
    gaps,
    leaders,
    reach,
    separations,
    turns_of,
)
from packer.interrupt import interruptible

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from packer.grid.board import Board, GridPoint, Pair

JointBranches = tuple[tuple[int, ...], ...]


ACTIVITY_DECAY: Final = 0.98
"""How slowly the solver forgets which variables took part in conflicts; 0.8 is its own default."""

LEAST_SECONDS: Final = 0.01
"""Seconds that the solver is given at least."""


@dataclass(frozen=True)
class Answer:
    """The answer to the question whether a board can be filled.

    Attributes
    ----------
    places
        A grid point for every tip; None where no filling is known.
    refuted
        Whether it is proven that there is none.
    effort
        How much work it took, in the solver's deterministic seconds.
    upright
        Which lines of wide tips stand upright, if places were found.
    """

    places: tuple[GridPoint, ...] | None = None
    refuted: bool = False
    effort: float = 0.0
    upright: tuple[bool, ...] = ()


def available() -> bool:
    """Return whether OR-tools is installed (the extra ``grid``)."""
    try:
        import ortools.sat.python.cp_model  # noqa: F401, PLC0415 - an extra
    except ImportError:
        return False
    return True


def decide(
    board: Board,
    effort: float,
    seed: int = 0,
    *,
    deadline: Deadline = NEVER,
    fixed: Mapping[Pair, int] | None = None,
    touching: Sequence[JointBranches] = (),
) -> Answer:
    """Look for a grid point for every tip, or for a proof that there is none.

    Parameters
    ----------
    board
        The rules.
    effort
        Deterministic seconds: the same on every machine, about a CPU second each.
    seed
        For the solver.
    deadline
        A limit by the clock as well; where it strikes, the answer depends on the machine.
    fixed
        For some of `board.pairs` the way in which the second lies from the first; arrangements
        that differ only by names are then not left out.
    touching
        Joints as groups of tips, one group a branch: pairs at exactly their tree distance are
        to join all branches of each joint.

    Raises
    ------
    SearchError
        Where OR-tools is not installed.
    """
    try:
        from ortools.sat.python import cp_model  # noqa: PLC0415 - an extra
    except ImportError:
        raise SearchError(
            'the exact grid search needs OR-tools; install it with pip install "packer[grid]"'
        ) from None
    if not all(board.boxes):
        return Answer(refuted=True)
    at = coordinates(board)
    model = _Model(cp_model.CpModel(), board)
    if fixed is None:
        model.order(at)
    for ways, need in separations(board, at, fixed or {}):
        switches = model.apart(ways, need)
        if fixed is None:
            model.near(switches, need)
    for joint in touching:
        model.join(at, joint)
    solver = cp_model.CpSolver()
    _set_parameters(solver.parameters, effort, seed, deadline)
    status = interruptible(lambda: solver.solve(model.model), solver.stop_search)
    spent = float(solver.response_proto.deterministic_time)
    if status not in {cp_model.OPTIMAL, cp_model.FEASIBLE}:
        return Answer(refuted=status == cp_model.INFEASIBLE, effort=spent)
    values = {v: int(solver.value(var)) for v, var in model.variables.items()}
    numbers = [values.get(v, 0) for v in range(3 * board.n)]
    points = tuple((x.value(numbers), y.value(numbers)) for x, y in at)
    return Answer(points, effort=spent, upright=turns_of(board, numbers))


def _set_parameters(settings: Any, effort: float, seed: int, deadline: Deadline) -> None:
    """Set the solver's parameters, among them those that a disjunctive model is served by.

    The linear relaxation of disjunctions is weak, so it is left out, and so is probing. The older
    propagation of linear constraints and a longer memory of conflicts proved faster.
    """
    settings.num_workers = 1
    settings.linearization_level = 0
    settings.cp_model_probing_level = 0
    settings.new_linear_propagation = False
    settings.variable_activity_decay = ACTIVITY_DECAY
    settings.random_seed = seed
    settings.max_deterministic_time = effort
    settings.catch_sigint_signal = False
    if deadline.limited:
        settings.max_time_in_seconds = max(deadline.left, LEAST_SECONDS)


class _Model:
    """A CP-SAT model of a board while it is written."""

    def __init__(self, model: Any, board: Board) -> None:
        self.model = model
        self.board = board
        self.variables: dict[int, Any] = {}
        for k in leaders(board):
            self._place(k)

    def _place(self, k: int) -> None:
        boxes = self.board.boxes[k]
        x = self.model.new_int_var(min(b[0] for b in boxes), max(b[1] for b in boxes), "")
        y = self.model.new_int_var(min(b[2] for b in boxes), max(b[3] for b in boxes), "")
        self.variables[2 * k], self.variables[2 * k + 1] = x, y
        if self.board.symmetry == "diagonal" and self.board.mirror[k] == k:
            self.model.add(x == y)
        if len(boxes) > 1 or any(self.board.turns[k]):
            chosen = [self.model.new_bool_var("") for _ in boxes]
            self.model.add_exactly_one(chosen)
            if any(self.board.turns[k]):
                self._turn(k, chosen)
            for use, box in zip(chosen, boxes, strict=True):
                self.model.add_linear_constraint(x, box[0], box[1]).only_enforce_if(use)
                self.model.add_linear_constraint(y, box[2], box[3]).only_enforce_if(use)

    def _turn(self, k: int, chosen: Sequence[Any]) -> None:
        """State that the line of a tip stands as the box asks that is chosen."""
        turn = self.model.new_bool_var("")
        self.variables[2 * self.board.n + k] = turn
        for use, upright in zip(chosen, self.board.turns[k], strict=True):
            self.model.add(turn == int(upright)).only_enforce_if(use)

    def sum(self, expression: Affine) -> Any:
        """Return an expression in the solver's variables."""
        terms = (factor * self.variables[v] for v, factor in expression.terms)
        return sum(terms, start=expression.constant)

    def order(self, at: Sequence[tuple[Affine, Affine]]) -> None:
        """Leave out arrangements that differ only by names or by turning the board over."""
        board = self.board
        w, h = board.size
        x, y = [self.sum(a) for a, _ in at], [self.sum(b) for _, b in at]
        key = {"none": x, "book": y, "diagonal": [a + b for a, b in zip(x, y, strict=True)]}
        for i, j in board.alike:
            self.model.add(key[board.symmetry][i] <= key[board.symmetry][j])
        for k, *_ in branches(board):
            across = self.sum(reach(board, k)[0])
            self.model.add(2 * x[k] + across <= w if board.symmetry == "book" else x[k] <= y[k])
        tied = {k for pair in board.alike for k in pair}
        loose = [k for k in leaders(board) if k not in tied and not board.widths[k]]
        if not board.free.all() or not loose:
            return
        first = max(loose, key=lambda k: (int(board.distances[k].sum()), -k))
        if board.symmetry == "diagonal":
            self.model.add(x[first] + y[first] <= w)
            return
        self.model.add(2 * y[first] <= h)
        if board.symmetry == "none":
            self.model.add(2 * x[first] <= w)
            if w == h:
                self.model.add(x[first] <= y[first])

    def apart(self, ways: Sequence[Affine], need: int) -> list[tuple[Any, Any]]:
        """State that one of several gaps is at least as wide as it need be.

        Returns each gap with a boolean that makes it so wide, where there is a choice.
        """
        gaps_ = [self.sum(gap) for gap in ways]
        if len(ways) == 1:
            self.model.add(gaps_[0] >= need)
            return []
        chosen = [self.model.new_bool_var("") for _ in ways]
        for use, gap in zip(chosen, gaps_, strict=True):
            self.model.add(gap >= need).only_enforce_if(use)
        self.model.add_bool_or(chosen)
        return list(zip(chosen, gaps_, strict=True))

    def near(self, switches: Sequence[tuple[Any, Any]], need: int) -> None:
        """State that a gap is narrower than need be where its boolean is off.

        No packing is lost, and conflicts then also say where tips are near, which shortens proofs.
        Where only some tips are placed anew the longer model takes more time than it saves.
        """
        for use, gap in switches:
            self.model.add(gap <= need - 1).only_enforce_if(~use)

    def join(self, at: Sequence[tuple[Affine, Affine]], joint: JointBranches) -> None:
        """State that touching pairs join all branches of a joint.

        Every branch but the first hangs on one of lower rank, so that all hang on the first.
        """
        rank = [self.model.new_int_var(0, len(joint) - 1, "") for _ in joint]
        for b in range(1, len(joint)):
            hangs = []
            for a in range(len(joint)):
                if a == b:
                    continue
                joined = [self._touch(at, i, j) for i in joint[a] for j in joint[b]]
                use = self.model.new_bool_var("")
                self.model.add_bool_or([t for ts in joined for t in ts]).only_enforce_if(use)
                self.model.add(rank[a] < rank[b]).only_enforce_if(use)
                hangs.append(use)
            self.model.add_bool_or(hangs)

    def _touch(self, at: Sequence[tuple[Affine, Affine]], i: int, j: int) -> list[Any]:
        """Return booleans of which each makes two squares share part of a side."""
        need = int(self.board.distances[i, j])
        gap = gaps(self.board, at, (i, j))
        touching = []
        for way in WAYS:
            use = self.model.new_bool_var("")
            self.model.add(self.sum(gap[way]) == need).only_enforce_if(use)
            for side in ACROSS[way]:
                self.model.add(self.sum(gap[side]) <= need - 1).only_enforce_if(use)
            touching.append(use)
        return touching
