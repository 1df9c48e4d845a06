"""What can be set about the memetic search.

Each parameter has a command that varies it over figures and seeds:
`python -m tests.benchmarks.tune search PARAMETER VALUES`. Its tables are kept beside it, as is what
earlier trials gave (`tests/benchmarks/trials.md`). "Not varied" means that no experiment supports
the value, only that it works.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from packer.errors import OptionError, did_you_mean
from packer.local_solver.params import InitialPointParams

if TYPE_CHECKING:
    from packer.model.tree import Tree

OPERATOR_WEIGHTS: Final = (
    ("insert_in_hole", 0.28),
    ("swap_tips", 0.12),
    ("perturb_all", 0.08),
    ("perturb_near", 0.08),
    ("move_subtree", 0.24),
    ("crossover", 0.20),
)
"""Names of the operators of `packer.search.memetic.operators`, with their usual weights."""


@dataclass(frozen=True)
class OperatorParams:
    """Parameters of the operators; none of them was varied.

    Attributes
    ----------
    hole_samples
        Random points among which the one with the greatest clearance is taken for a hole.
    most_inserted
        Tips that one insertion moves, at most.
    noise
        Standard deviations of perturbations, among which each draws, as shares of the diagonal of
        one tip's share of the sheet.
    most_near
        Tips that a local perturbation moves, at most.
    """

    hole_samples: int = 60
    most_inserted: int = 3
    noise: tuple[float, ...] = (0.15, 0.3, 0.6)
    most_near: int = 12


@dataclass(frozen=True)
class RelaxationParams:
    """Parameters of the penalty relaxation: a heavy-ball descent.

    Attributes
    ----------
    step
        Share of the way that one violated path alone would push its tips.
    momentum
        Share of a step that is kept for the next.
    """

    step: float = 0.3
    momentum: float = 0.8


@dataclass(frozen=True)
class PreselectionParams:
    """Parameters of the choice of start points before they are solved.

    Attributes
    ----------
    starts
        Fresh starts proposed for each that is solved, at most; 1 leaves the choice out.
    offspring, star_offspring
        Offspring proposed for each that is solved, at most, and where all flaps hang on one joint;
        1 leaves the choice out.
    start_target, offspring_target
        Scale at which penalties are compared, as a multiple of the best scale known, and of the
        parent's own.
    first_steps, next_steps
        Steps of penalty relaxation for all proposed, and further ones for the better of them.
    kept
        How many take the further steps, for each that is solved.
    """

    starts: int = 8
    offspring: int = 24
    star_offspring: int = 3
    start_target: float = 1.0
    offspring_target: float = 1.05
    first_steps: int = 8
    next_steps: int = 17
    kept: int = 3

    def starts_for(self, tips: int) -> int:
        """Return how many starts are proposed for each that is solved."""
        return max(1, min(self.starts, tips // 4))

    def offspring_for(self, tree: Tree) -> int:
        """Return how many offspring are proposed for each that is solved."""
        if not tree.rivers:
            return self.star_offspring
        return max(1, min(self.offspring, tree.n_tips))


@dataclass(frozen=True)
class RelaxedParams:
    """Parameters of the relaxed population.

    Attributes
    ----------
    target
        Scale that the penalty asks for, as a multiple of the best known.
    starts, most_starts
        Fresh starts for each flap, and in all.
    steps
        Steps of penalty relaxation in three rounds; not varied.
    survivors
        After each round but the last one in so many points goes on; not varied.
    distance
        How far a tip of one point must lie from the same tip of any other, as a share of the
        diagonal of one tip's share of the sheet; not varied.
    same_penalty
        Relative difference of penalty below which two points are taken for the same one turned on
        the sheet; not varied.
    size, large_size
        Points held: on small figures, and at most.
    offspring
        Offspring of a generation on small figures; four for each point on large ones.
    patience, most_patience
        Offspring without a gain after which it is ripe: for each flap, and in all. Half as many in
        all where all flaps hang on one joint.
    gain
        Fall of the least penalty, as a share, that counts as a gain; not varied.
    probe
        Fall of the least penalty, as a share, after which its point is solved again; not varied.
    rise
        Rise of the best scale, as a share, after which a new target is set; not varied.
    """

    target: float = 1.5
    starts: int = 3
    most_starts: int = 240
    steps: tuple[int, int, int] = (8, 17, 25)
    survivors: int = 3
    distance: float = 0.4
    same_penalty: float = 1e-4
    size: int = 24
    large_size: int = 64
    offspring: int = 128
    patience: int = 40
    most_patience: int = 6400
    gain: float = 0.01
    probe: float = 0.2
    rise: float = 0.02

    def size_for(self, tree: Tree) -> int:
        """Return how many points the relaxed population of a figure holds."""
        if not tree.rivers:
            return self.size
        return max(self.size, min(self.large_size, 4 * tree.n_tips // 5))

    def offspring_for(self, tree: Tree) -> int:
        """Return how many offspring make one generation."""
        return max(self.offspring, 4 * self.size_for(tree))

    def patience_for(self, tree: Tree) -> int:
        """Return how many offspring in a row may bring no gain."""
        if not tree.rivers:
            return min(self.patience * tree.n_tips, self.most_patience // 2)
        return min(tree.n_tips * max(self.patience, tree.n_tips), self.most_patience)


@dataclass(frozen=True)
class SymmetricParams:
    """Parameters of the search among symmetric packings of equal flaps.

    Attributes
    ----------
    starts
        Fresh starts for each flap, in each of its two stages.
    patience
        Offspring without a better best after which a stage ends, for each flap; not varied.
    on_line
        Distance from the mirror line below which a tip is put on it, as a share of the side of one
        tip's share of the sheet; not varied.
    noise
        Standard deviation by which packings are perturbed before they are released, as a share of
        the same; not varied.
    """

    starts: int = 2
    patience: int = 3
    on_line: float = 0.25
    noise: float = 0.05


@dataclass(frozen=True)
class MemeticParams:
    """Parameters of the memetic search.

    Attributes
    ----------
    operators
        Names and weights of the operators; one that is not named is left out.
    population, large_population
        Packings held: on figures of up to 40 flaps or with all flaps on one joint, and at most.
    duplicate_scale
        Relative difference of scale below which two packings are the same one.
    duplicate_distance
        How far all tips may lie from those of a known packing for a start point to be left out as a
        duplicate, as a share of the diagonal of one tip's share of the sheet; 0 leaves none out.
    join_loss
        Loss of scale up to which a packing joins a population that is not yet full; not varied.
    split_loss
        Loss of scale up to which a packing with fewer split rivers is looked for; not varied.
    epochs, epoch_work
        Epochs before the last one: so many, or fewer where this number over the square of flaps
        is less; one at least, since the last one begins from the elite of those before.
    star_cycles
        The same where all flaps hang on one joint, in cycles of four epochs.
    large_from, large_epochs
        A figure with rivers and at least `large_from` flaps gets only `large_epochs` epochs
        before the last one.
    relaxed_every
        Every so many epochs begins from a relaxed population; 1 for all, 0 for none.
    relaxed_from
        Number of tips, twins counted once, from which epochs begin from relaxed populations at
        all.
    starts
        Fresh starts for each flap in an epoch that begins from those.
    patience, large_patience
        Offspring without a better best after which an epoch ends, for each flap.
    star_patience, star_last_patience
        The same where all flaps hang on one joint, and in the last epoch there.
    last_patience, most_last_patience
        The same in the last epoch of other figures: a hundred and so many for each flap, but at
        most `most_last_patience`.
    elite, large_elite
        Packings of each epoch that go into the last one.
    symmetric_epochs
        Whether one epoch in four of equal flaps begins from symmetric packings.
    operator_params, initial, relaxation, preselection, relaxed, symmetric
        Parameters of the parts.

    Raises
    ------
    OptionError
        Where an operator is unknown, no weight is above zero, or no epoch comes before the last one.
    """

    operators: tuple[tuple[str, float], ...] = OPERATOR_WEIGHTS
    population: int = 16
    large_population: int = 32
    duplicate_scale: float = 2e-5
    duplicate_distance: float = 0.4
    join_loss: float = 0.1
    split_loss: float = 0.1
    epochs: int = 10
    epoch_work: int = 4000
    star_cycles: int = 2
    large_from: int = 45
    large_epochs: int = 2
    relaxed_every: int = 2
    relaxed_from: int = 12
    starts: int = 2
    patience: float = 4.0
    large_patience: float = 0.5
    star_patience: int = 3
    star_last_patience: int = 5
    last_patience: int = 10
    most_last_patience: int = 2000
    elite: int = 4
    large_elite: int = 16
    symmetric_epochs: bool = True
    operator_params: OperatorParams = field(default_factory=OperatorParams)
    initial: InitialPointParams = field(default_factory=InitialPointParams)
    relaxation: RelaxationParams = field(default_factory=RelaxationParams)
    preselection: PreselectionParams = field(default_factory=PreselectionParams)
    relaxed: RelaxedParams = field(default_factory=RelaxedParams)
    symmetric: SymmetricParams = field(default_factory=SymmetricParams)

    def __post_init__(self) -> None:
        known = dict(OPERATOR_WEIGHTS)
        for name, weight in self.operators:
            if name not in known:
                raise OptionError(
                    f'no operator "{name}"{did_you_mean(name, known)}', "operators"
                )
            if not weight >= 0:
                raise OptionError(f"{weight} is no weight; write 0 or more", "operators")
        if not sum(weight for _, weight in self.operators) > 0:
            raise OptionError("no operator has a weight; write one above zero", "operators")
        for name in ("epochs", "star_cycles", "large_epochs"):
            if getattr(self, name) < 1:
                raise OptionError(f"{getattr(self, name)} is too few; write 1 or more", name)

    def large(self, tree: Tree) -> bool:
        """Whether epochs of a figure take so long that only few of them fit in a minute."""
        return bool(tree.rivers) and tree.n_tips >= self.large_from

    def population_for(self, tree: Tree) -> int:
        """Return how many packings a population holds."""
        if not tree.rivers:
            return self.population
        return max(self.population, min(self.large_population, 2 * tree.n_tips // 5))

    def epochs_for(self, tree: Tree) -> int:
        """Return how many epochs a start has before the last one."""
        if not tree.rivers:
            return CYCLE * self.star_cycles
        if self.large(tree):
            return self.large_epochs
        return max(1, min(self.epochs, self.epoch_work // tree.n_tips**2))

    def patience_for(self, tree: Tree, epoch: int) -> int:
        """Return after how many offspring without a better best an epoch ends; the last one later."""
        last = epoch >= self.epochs_for(tree)
        if not tree.rivers:
            return (self.star_last_patience if last else self.star_patience) * tree.n_tips
        if last:
            return min(100 + self.last_patience * tree.n_tips, self.most_last_patience)
        each = self.large_patience if self.large(tree) else self.patience
        return int(each * tree.n_tips)

    def elite_for(self, tree: Tree) -> int:
        """Return how many packings of an epoch go into the last one."""
        return self.large_elite if self.large(tree) else self.elite


CYCLE: Final = 4
"""Where all flaps hang on one joint the sources of epochs return after so many."""
