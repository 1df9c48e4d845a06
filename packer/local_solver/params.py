"""What can be set about the local solver, and where a solve begins and ends.

Each parameter has a command that varies it: `python -m tests.benchmarks.tune interior_point
PARAMETER VALUES`. What earlier trials gave is kept beside it, in `tests/benchmarks/trials.md`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from packer.deadline import NEVER, Deadline
from packer.errors import OptionError


@dataclass(frozen=True)
class InteriorPointParams:
    """Parameters of the interior-point method.

    Attributes
    ----------
    centring
        Target of a step's barrier parameter, as a share of the mean complementarity product.
    long_step_centring
        The same after a step longer than `long_step`.
    long_step, short_step
        Step lengths, of at most 1, above which centring is reduced and below which the next step
        does nothing but centre; not varied.
    to_boundary
        Share of the way to the nearest bound that a step may go.
    max_steps
        Newton steps after which a solve ends in any case; not varied.
    working_set_from
        Tips from which only nearly active paths enter the normal equations.
    working_set_ratio
        Paths shorter than this multiple of their required length are in the working set.
    inset
        Share of its range by which each variable starts inside its bounds; not varied.
    level
        In the choice of the working set m counts as at least this share of the scale that the
        tips allow; not varied.
    give_up_gap, give_up_reach
        A solve is given up once its gap is below `give_up_gap` times m and m plus `give_up_reach`
        gaps is below the value to beat: a heuristic, as the program is not concave.
    known_gap
        A solve is given up once its gap is below this share of m and a known scale lies between m
        and m plus the gap.
    multiplier_error
        How far the weighted sum of multipliers may be from 1 for the gap to be believed.
    inside_flex
        Share of the given changes of length at which a solve begins, so that it is inside their
        flex; not varied.
    batch, batch_paths
        Start points solved at once: at most `batch`, and at most `batch_paths` over the square of
        the number of free tips.
    least_pivot
        Added to the diagonal, as a share of its largest entry, since tips that nothing holds leave
        the matrix singular; not varied.

    Raises
    ------
    OptionError
        Where a share is not between 0 and 1 or another number is not above zero.
    """

    centring: float = 0.3
    long_step_centring: float = 0.1
    long_step: float = 0.7
    short_step: float = 0.2
    to_boundary: float = 0.98
    max_steps: int = 300
    working_set_from: int = 30
    working_set_ratio: float = 1.7
    inset: float = 1e-3
    level: float = 0.7
    give_up_gap: float = 0.2
    give_up_reach: float = 1.5
    known_gap: float = 1e-5
    multiplier_error: float = 0.3
    inside_flex: float = 0.99
    batch: int = 16
    batch_paths: int = 25_600
    least_pivot: float = 1e-14

    def __post_init__(self) -> None:
        shares = ("centring", "long_step_centring", "to_boundary", "inset", "level")
        for name, value in vars(self).items():
            if not value >= 0 or (name in shares and not 0 < value < 1):
                wanted = "a share between 0 and 1" if name in shares else "no negative number"
                raise OptionError(f"{value} does not do; write {wanted}", name)

    def batch_for(self, tips: int) -> int:
        """Return how many start points of a problem with so many free tips are solved at once."""
        return max(1, min(self.batch, self.batch_paths // tips**2))


@dataclass(frozen=True)
class InitialPointParams:
    """Parameters of the points from which starts begin; none of them was varied.

    Attributes
    ----------
    uniform_share
        Share of uniform points among the starts of figures whose flaps all hang on one joint; the
        others are lattices.
    lattice_noise
        Standard deviation of points about their lattice, as a share of the diagonal of one tip's
        share of the sheet.
    projected_share
        Share of projections among the starts of other figures; the others follow the tree by
        slicing.
    flattened
        Weight of the smallest dimension of the embedding in a projection, against 1 for the
        largest.
    projection_margin, projection_noise
        Share of the sheet left free on every side of a projection, and its noise.
    cell_margin
        Share of a slice's cell on every side in which no tip is put.
    tie_noise
        Random share of the sheet's diagonal added to the distances by which tips take their
        ranges, so that ties are broken.
    """

    uniform_share: float = 0.5
    lattice_noise: float = 0.05
    projected_share: float = 0.1
    flattened: float = 0.3
    projection_margin: float = 0.05
    projection_noise: float = 0.02
    cell_margin: float = 0.3
    tie_noise: float = 0.01


INITIAL: Final = InitialPointParams()
"""Those in use."""


@dataclass(frozen=True)
class InitialIterate:
    """Where a solve begins.

    Attributes
    ----------
    scale
        First m, as a share of the scale that the start point allows.
    barrier
        First barrier parameter, as a share of one that keeps clear of all constraints.
    """

    scale: float = 0.7
    barrier: float = 1.0


COLD: Final = InitialIterate(0.7, 1.0)
"""For points of which nothing is known."""
WARM: Final = InitialIterate(0.97, 0.1)
"""For points where penalty relaxation came to rest, and for packings that were changed a little."""
POLISHING: Final = InitialIterate(0.99, 0.01)
"""For points next to a local optimum."""


@dataclass(frozen=True)
class Termination:
    """Where a solve ends.

    Attributes
    ----------
    tolerance
        Gap, as a share of the scale, below which it has converged.
    beat
        Scale below which it may be given up.
    known
        Scales of optima that need not be reached again.
    deadline
        When it ends in any case: on a thousand tips it would take minutes. What it returns then is no
        optimum, but a packing, as every iterate is.
    """

    tolerance: float = 1e-10
    beat: float = -float("inf")
    known: tuple[float, ...] = ()
    deadline: Deadline = NEVER
