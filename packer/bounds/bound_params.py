"""What can be set about the proof of an upper bound by subsets of tips.

None of it bears on whether a bound is true, only on how soon a low one is proven. `python -m
tests.benchmarks.headroom` measures what it gives; what earlier trials gave is in
`tests/benchmarks/trials.md`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

BOXES_PER_SECOND: Final = 2.5e5
"""Boxes narrowed in a second, about: what a second of other work counts as."""


@dataclass(frozen=True)
class BoundParams:
    """Parameters of the bounds: of the choice of subsets and of scales to exclude, and of area.

    Attributes
    ----------
    additions
        Tips tried at each step of growing a subset: those of least clearance; not varied.
    starts, second_starts
        Fresh starts for the optimum of a subset, and of one whose proof failed; not varied.
    rough, estimate
        Gaps, as shares of the scale, at which a solve ends: where only the nearest places are read
        off it, and for an estimated optimum; not varied.
    few
        Tips to place, twins counted once, up to which all are a subset of their own; not varied.
    solve_boxes, clearance_boxes
        Boxes that a Newton step, and the clearance of one tip, count as: about as long.
    mesh
        Points to a side of the mesh on which clearance is measured; not varied.
    most_variables
        Coordinates of a subset beyond which a proof was never finished in a minute.
    first_slice
        Boxes that the first attempts may be expected to take; doubled when nothing is left to try.
    patience
        Multiple of the expected boxes after which an attempt is given up; not varied.
    first_distance
        Relative distance from a subset's optimum of its first attempt, should its estimate be low.
    nearest
        Relative distance from a subset's optimum below which no proof is tried.
    rise
        Relative rise of an estimated optimum that explains why a proof just above it failed; not
        varied.
    worth
        Share of the gap to the best packing that an attempt must promise to close; not varied.
    bits, bits_per_variable, bits_per_distance
        A proof that excludes (1 + x) times the optimum of z coordinates is expected to need 2 to the
        power of ``bits + bits_per_variable * z - bits_per_distance * log2 x`` boxes: fitted to 150
        proofs on random figures, give or take 2.6.
    least_surprise
        Least rise of that power after an attempt that failed; not varied.
    area_cuts
        Shares of the greatest depth at which depths are cut in the tree area bound; lower ones
        never won on random trees.
    area_roots
        Roots tried inside each river for that bound, besides its ends; not varied.
    area_nodes
        Nodes gone through for that bound from all roots together, so that trees of more than a
        hundred flaps are rooted near their middle alone; not varied.
    """

    additions: int = 4
    starts: int = 6
    second_starts: int = 30
    rough: float = 1e-3
    estimate: float = 1e-6
    few: int = 8
    solve_boxes: int = 40
    clearance_boxes: int = 40
    mesh: int = 24
    most_variables: int = 26
    first_slice: float = 0.05 * BOXES_PER_SECOND
    patience: float = 3.0
    first_distance: float = 0.006
    nearest: float = 1e-7
    rise: float = 1e-4
    worth: float = 0.05
    bits: float = -2.5
    bits_per_variable: float = 0.75
    bits_per_distance: float = 0.78
    least_surprise: float = 1.5
    area_cuts: tuple[float, ...] = (1.0, 0.9, 0.8, 0.7, 0.6)
    area_roots: int = 5
    area_nodes: int = 150_000


DEFAULT: Final = BoundParams()
"""The parameters in use."""
