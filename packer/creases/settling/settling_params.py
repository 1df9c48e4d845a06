"""The constants of settling, as values that an experiment can vary.

`python -m tests.benchmarks.tune settling NAME VALUES` measures what one of them is worth; earlier
trials are in `tests/benchmarks/trials.md`. None has been tuned on more than a few samples; where a
value rests on an argument, it is given.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final


@dataclass(frozen=True)
class TrialParams:
    """Constants of one trial; tuples are the values among which a trial draws.

    Attributes
    ----------
    largest_scale
        Greatest share of the packing's scale to build at.
    borders
        Distances, as shares of the shorter side, within which a tip is moved onto a border.
    perturbations
        Standard deviations of the first random displacement, as shares of the shorter side.
    halvings
        How often a displacement that breaks an inequality is halved before it is left out.
    flap_growths, river_growths
        Greatest growths of a flap and of a river, as shares of the length asked for.
    growth_costs
        Weights of growth against slack.
    half_weights
        Slacks, as shares of the diagonal, at which the weight of a side has fallen to half.
    filler_rounds
        Rounds of fillers at joints, each followed by closing slack again.
    loose_side
        Slack, as a share of the shorter side, above which a side gets a filler.
    points_on_side
        Points of such a side at which the tip of its filler is tried.
    activation
        Slacks, as shares of the diagonal, below which paths are made active; each gives a
        candidate of its own.
    """

    largest_scale: float = 0.998
    borders: tuple[float, ...] = (0.02, 0.03, 0.05, 0.08, 0.12)
    perturbations: tuple[float, ...] = (0.0, 0.005, 0.01, 0.02)
    halvings: int = 8
    flap_growths: tuple[float, ...] = (0.25, 0.5, 1.0)
    river_growths: tuple[float, ...] = (0.1, 0.2)
    growth_costs: tuple[float, ...] = (0.02, 0.03, 0.05)
    half_weights: tuple[float, ...] = (0.003, 0.007, 0.015)
    filler_rounds: int = 4
    loose_side: float = 0.02
    points_on_side: int = 41
    activation: tuple[float, ...] = (1e-2, 5e-3, 2e-3, 5e-4, 1e-5)


@dataclass(frozen=True)
class SlackParams:
    """Constants of closing slack by linear programs.

    Attributes
    ----------
    flap_cost, river_cost, filler_cost
        Cost of a unit of growth against a unit of slack; a filler may as well be long, so its
        cost is negative.
    first_reach, least_reach
        Shares of the diagonal by which a coordinate or a length may change in one program: in
        the first one, and that below which no further program is solved.
    programs
        Greatest number of programs.
    stalled
        Gain, as a share of all slack, below which the reach is halved.
    retriangulate_every
        Programs after which the triangulation is made again.
    """

    flap_cost: float = 0.3
    river_cost: float = 1.0
    filler_cost: float = -0.5
    first_reach: float = 0.03
    least_reach: float = 1e-4
    programs: int = 25
    stalled: float = 1e-4
    retriangulate_every: int = 3


@dataclass(frozen=True)
class AscentParams:
    """Constants of the ascent that enlarges the smallest features.

    Attributes
    ----------
    first_reach, most_reach, least_reach
        Shares of the diagonal by which a coordinate or a length may change in one step: at
        first, at most, and that below which the ascent ends.
    shrink, grow
        Divisor of the reach after a step that failed, factor after one that succeeded.
    least_gain
        Factor of the smallest feature below which a step is no gain.
    outlook
        An ascent is given up where so many gains like its last would not reach the best known.
    kept_bend
        Bend, as a share of the diagonal, that a convex corner keeps, so that polygons stay
        convex.
    bend_reach
        Corners are watched whose bend is less than this multiple of the reach.
    nearly_finest
        Features up to this multiple of the smallest are followed.
    features
        Greatest number of features followed.
    """

    first_reach: float = 0.01
    most_reach: float = 0.03
    least_reach: float = 3e-4
    shrink: float = 3.0
    grow: float = 2.0
    least_gain: float = 1.002
    outlook: int = 3
    kept_bend: float = 1e-4
    bend_reach: float = 8.0
    nearly_finest: float = 3.0
    features: int = 80


@dataclass(frozen=True)
class SettlingParams:
    """Constants of a settling run.

    Attributes
    ----------
    trials
        Trials where neither a time nor a number of tries is given.
    patience
        Trials without a gain after which the run ends.
    short_patience
        Tips times trials without a gain after which `packer crease` ends where no time is given: a
        trial takes longer the more tips there are.
    gain
        Growth of the smallest feature that counts as one.
    about_equal
        Share of the largest smallest feature at which another candidate is about as good; then one
        whose layer order the construction gives without a search is preferred.
    good_enough
        Smallest feature, as a share of the shorter side, at which the run ends if no river is
        split: 6 mm on a sheet of 300 mm, which is folded without trouble.
    draw_every
        Trials after which another packing is drawn into the pool; it is drawn at every trial
        until one without split rivers is known.
    looks
        Greatest number of looks into the source for one packing.
    flaps_longer, rivers_longer
        Shares by which flaps and rivers may become longer than asked for.
    trial, slack, ascent
        Constants of the three stages.
    """

    trials: int = 40
    patience: int = 40
    short_patience: int = 80
    gain: float = 1.05
    about_equal: float = 0.9
    good_enough: float = 0.02
    draw_every: int = 3
    looks: int = 8
    flaps_longer: float = 1.0
    rivers_longer: float = 0.2
    trial: TrialParams = field(default_factory=TrialParams)
    slack: SlackParams = field(default_factory=SlackParams)
    ascent: AscentParams = field(default_factory=AscentParams)


DEFAULT: Final = SettlingParams()
"""The constants in use."""
