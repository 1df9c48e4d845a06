"""Settle a packing: give up a little scale so that its creases can be folded by a person.

The creases of a packing as the search leaves it are correct and far too fine: smallest features
of a thousandth to a hundred-thousandth of the sheet. A tip near a border makes narrow creases
along it, and a side that is not an active path needs fillers; so tips are moved onto borders,
parts grow until most sides of a triangulation are active, and the features of what results are
enlarged (see `packer.creases.settling`).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import islice
from typing import TYPE_CHECKING

import numpy as np

from packer.creases.completion.complete import completed
from packer.creases.constraints.length_bounds import LengthBounds
from packer.creases.settled_packing import settled_packing
from packer.creases.settling.feature_ascent import feature_ascent, limiting_part
from packer.creases.settling.settling_params import DEFAULT, SettlingParams
from packer.creases.settling.trial import candidates_of, random_trial, run_trial
from packer.creases.smallest_feature import smallest_feature
from packer.creases.tip_layout import layout_of
from packer.deadline import Deadline, OutOfTime
from packer.errors import OptionError, PatternError
from packer.folded.ordering.construct import toured_whole
from packer.model.figure import refuse_to_fold
from packer.search.parallel.threads import one_thread

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from packer.creases.pattern import CreasePattern
    from packer.creases.settling.trial import Candidate
    from packer.creases.smallest_feature import Feature
    from packer.model.packing import Packing


@dataclass(frozen=True)
class SettlingProgress:
    """What settling has reached so far.

    Attributes
    ----------
    seconds
        Elapsed.
    tries
        Trials so far.
    feature
        Size of the smallest feature of the best pattern, in sheet units; zero before the first.
    split
        How many rivers are split in the best pattern.
    """

    seconds: float
    tries: int
    feature: float
    split: int = 0


@dataclass(frozen=True, eq=False)
class Settled:
    """A settled packing with its crease pattern.

    Attributes
    ----------
    packing
        The figure's own tips and lengths as settled, to save and to draw.
    pattern
        Its crease pattern, fillers included.
    feature
        The smallest feature of the pattern.
    given
        Share of the scale given up: the part that lost most is shorter by this share.
    changes
        For each flap and river of the figure the share by which it is longer than the packing
        made it; negative where it is shorter.
    tries
        How many trials were made.
    coarser_split
        Size of the largest smallest feature, in sheet units, of a pattern that was passed over
        because more rivers are split in it; zero where there was none coarser.
    limiting_part
        The part of the figure that would make the smallest feature larger were it shorter than
        what may be given allows; None where none would.
    complete
        Whether the run came to its end; Ctrl-C ends it early with the best until then.
    spare
        Another result with a smaller feature, whose layer order the construction gives; None where
        this one is such, or none is known.
    """

    packing: Packing
    pattern: CreasePattern
    feature: Feature
    given: float
    changes: dict[str, float]
    tries: int
    coarser_split: float = 0.0
    complete: bool = True
    limiting_part: str | None = None
    spare: Settled | None = None

    def advice(self, goal: float) -> str:
        """Return a sentence on what keeps the smallest feature below a size in sheet units.

        Empty where it is not below.
        """
        size, (x, y) = self.feature.size, self.feature.at
        if size >= goal:
            return ""
        part = (
            f'a shorter "{self.limiting_part}"'
            if self.limiting_part
            else "more time or more scale given"
        )
        return (
            f"the finest spot, {size:.3g}, is at ({x:.4g}, {y:.4g}) in {', '.join(self.feature.parts)}; "
            f"{part} would help most"
        )


def settle(
    packing: Packing,
    give: float = 0.02,
    *,
    deadline: Deadline | None = None,
    tries: int | None = None,
    seed: int = 0,
    more: Iterable[Packing | None] = (),
    progress: Callable[[SettlingProgress], None] | None = None,
    params: SettlingParams = DEFAULT,
) -> Settled:
    """Return a packing settled at a small cost in scale, with a pattern that can be folded.

    Parameters
    ----------
    packing
        The packing to settle.
    give
        Most scale to give up, as a fraction in (0, 0.5]; no part becomes shorter than by this.
    deadline
        When to end; the best until then is returned. More time gives larger features.
    tries
        Trials to make instead, so that the result depends on the seed alone.
    seed
        The same seed and number of tries give the same result.
    more
        Other packings of the same problem to draw on, in any number; drawn one at a time, and
        used where their scale is within what may be given; None where one is still looked for.
    progress
        Called with a `SettlingProgress` after each trial and each gain.
    params
        The constants of the run.

    Returns
    -------
    Settled
        The best found; after a KeyboardInterrupt the best until then.

    Raises
    ------
    OptionError
        Where `give` or `tries` is out of range.
    FigureError
        Where the flaps or rivers are more than `packer.limits` tells can be folded.
    PatternError
        Where the packing breaks one of its rules, or no way of closing it is known.
    """
    _check(packing, give, tries)
    run = _SettlingRun(
        packing,
        give,
        params,
        _length_bounds(packing, give, params),
        np.random.default_rng(seed),
        iter(more),
        deadline or Deadline.after(),
        progress,
        [packing],
    )
    try:
        with one_thread():
            run.run(params.trials if tries is None and deadline is None else tries)
    except OutOfTime:
        pass
    except KeyboardInterrupt:
        if run.best is None:
            raise
        return replace(run.settled(), complete=False)
    return run.settled()


def _check(packing: Packing, give: float, tries: int | None) -> None:
    if not 0 < give <= 0.5:
        raise OptionError(
            f"{give:g} is no share of the scale to give; write one above 0 and at most 0.5, "
            "such as 0.02",
            "give",
        )
    if tries is not None and not tries > 0:
        raise OptionError(f"{tries} is no limit; write a number above zero", "tries")
    refuse_to_fold(len(packing.tree.flaps), len(packing.tree.rivers), "can be creased")
    wrong = packing.violations()
    if wrong:
        raise PatternError(f"{wrong[0]}; pack the figure again")


def _length_bounds(packing: Packing, give: float, params: SettlingParams) -> LengthBounds:
    """Return between which lengths each part of a packing may be settled."""
    names, tips = packing.tree.names, packing.tree.n_tips
    asked = np.array(packing.lengths) * packing.scale
    longer = np.where(np.arange(len(names)) < tips, params.flaps_longer, params.rivers_longer)
    return LengthBounds(
        dict(zip(names, (asked * (1 - give)).tolist(), strict=True)),
        dict(zip(names, (asked * (1 + longer)).tolist(), strict=True)),
    )


@dataclass
class _SettlingRun:
    """The state of a settling run.

    Attributes
    ----------
    packing, give, params, bounds, rng, source, deadline, progress
        What the run was asked for.
    pool
        The packings to draw on.
    by_split
        For each number of split rivers the candidate with the largest smallest feature.
    whole
        The same among those whose layer order the construction gives without a search.
    counted
        For each number of split rivers the feature size that last counted as a gain.
    tries, gained
        Trials so far, and the one that last gained.
    """

    packing: Packing
    give: float
    params: SettlingParams
    bounds: LengthBounds
    rng: np.random.Generator
    source: Iterator[Packing | None]
    deadline: Deadline
    progress: Callable[[SettlingProgress], None] | None
    pool: list[Packing]
    by_split: dict[int, Candidate] = field(default_factory=dict)
    whole: dict[int, Candidate] = field(default_factory=dict)
    counted: dict[int, float] = field(default_factory=dict)
    tries: int = 0
    gained: int = 0

    def run(self, most: int | None) -> None:
        """Make trials until there are enough, or patience or time is out."""
        while self.tries - self.gained < self.params.patience:
            if self.good_enough() or (most is not None and self.tries >= most):
                break
            self.tries += 1
            self.make_trial()
            self.report()

    def good_enough(self) -> bool:
        """Whether nothing better is worth looking for."""
        if self.best is None or self.best.pattern.split_rivers:
            return False
        side = min(self.packing.sheet.width, self.packing.sheet.height)
        return self.best.feature.size >= self.params.good_enough * side

    def draw(self) -> Packing:
        """Return a packing of the pool, with one more drawn into it now and then."""
        fewest = min(len(p.split_rivers) for p in self.pool)
        split = fewest or (self.best is not None and self.best.pattern.split_rivers)
        if self.tries > 1 and (split or self.tries % self.params.draw_every == 0):
            other = self.from_source()
            if other is not None:
                self.pool.append(other)
                if len(other.split_rivers) <= fewest:
                    return other
        least = [p for p in self.pool if len(p.split_rivers) == fewest]
        return least[int(self.rng.integers(len(least)))]

    def from_source(self) -> Packing | None:
        """Return a packing that is large enough from the source, if it has one soon."""
        for other in islice(self.source, self.params.looks):
            self.deadline.check()
            if other is None:
                continue
            largest = other.scale * self.params.trial.largest_scale
            if largest > self.packing.scale * (1 - self.give):
                return other
        return None

    def make_trial(self) -> None:
        """Make one trial, ascend from each of its candidates and keep the best."""
        start, params = self.draw(), self.params
        least = self.packing.scale * (1 - self.give) / start.scale
        trial = random_trial(self.rng, min(least, 1.0), params.trial)
        layout = run_trial(start, trial, self.rng, params, self.deadline)
        for first in candidates_of(layout, self.bounds, params.trial, self.deadline):
            known = self.by_split.get(len(first.pattern.split_rivers))
            to_beat = known.feature.size if known else 0.0
            top = first
            for candidate in feature_ascent(first, self.bounds, params.ascent, to_beat):
                top = candidate
                self.keep(candidate)
                self.report()
                self.deadline.check()
            self.keep_whole(top)

    def keep(self, candidate: Candidate) -> None:
        """Keep the candidate with the largest feature for each number of split rivers.

        A gain is one among those with fewest: others are never returned.
        """
        split = len(candidate.pattern.split_rivers)
        known = self.by_split.get(split)
        if known is None or candidate.feature.size > known.feature.size:
            self.by_split[split] = candidate
            least = split == min(self.by_split)
            if least and candidate.feature.size > self.params.gain * self.counted.get(
                split, 0.0
            ):
                self.counted[split] = candidate.feature.size
                self.gained = self.tries

    def keep_whole(self, candidate: Candidate) -> None:
        """Keep the one with the largest feature whose layer order needs no search."""
        split = len(candidate.pattern.split_rivers)
        known, size = self.whole.get(split), candidate.feature.size
        larger = known is None or size > known.feature.size
        about = size >= self.params.about_equal * self.by_split[split].feature.size
        if larger and (about or not self.whole) and toured_whole(candidate.pattern):
            self.whole[split] = candidate

    @property
    def chosen(self) -> Candidate | None:
        """The best, or one about as good whose layer order needs no search."""
        best = self.best
        whole = self.whole.get(len(best.pattern.split_rivers)) if best is not None else None
        if best is None or whole is None:
            return best
        about = whole.feature.size >= self.params.about_equal * best.feature.size
        return whole if about else best

    @property
    def best(self) -> Candidate | None:
        """The candidate with the largest feature among those with the fewest split rivers."""
        return self.by_split[min(self.by_split)] if self.by_split else None

    def report(self) -> None:
        """Call the listener, if there is one."""
        if self.progress is not None:
            size, split = 0.0, 0
            if self.best is not None:
                size, split = self.best.feature.size, len(self.best.pattern.split_rivers)
            self.progress(SettlingProgress(self.deadline.elapsed, self.tries, size, split))

    def settled(self) -> Settled:
        """Return the best, or the plain completion where no trial closed."""
        chosen = self.chosen
        if chosen is None:
            pattern = completed(layout_of(self.packing, 1 - self.give), self.deadline)
            feature = smallest_feature(pattern)
            return _settled(self.packing, pattern, feature, self.tries, 0.0)
        feature = chosen.feature
        largest = max(candidate.feature.size for candidate in self.by_split.values())
        coarser = largest if largest > feature.size else 0.0
        settled = _settled(self.packing, chosen.pattern, feature, self.tries, coarser)
        part = limiting_part(chosen, self.bounds, self.params.ascent)
        spare = None
        if self.whole and chosen not in self.whole.values():
            other = self.whole[min(self.whole)]
            spare = _settled(self.packing, other.pattern, other.feature, self.tries, largest)
        return replace(settled, limiting_part=part, spare=spare)


def _settled(
    packing: Packing, pattern: CreasePattern, feature: Feature, tries: int, coarser: float
) -> Settled:
    pattern = replace(pattern, title=packing.figure.name)
    names = packing.tree.names
    built = np.array([pattern.built[name] for name in names])
    asked = np.array(packing.lengths) * packing.scale
    new = settled_packing(packing, pattern)
    changes = dict(zip(names, (built / asked - 1).tolist(), strict=True))
    return Settled(
        new, pattern, feature, 1 - new.scale / packing.scale, changes, tries, coarser
    )
