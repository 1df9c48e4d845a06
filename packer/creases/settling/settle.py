"""Settle a packing: give up a little scale so that its creases can be folded by a person.

The creases of a packing as the search leaves it are correct and far too fine: smallest features
of a thousandth to a hundred-thousandth of the sheet. Bringing tips onto borders, letting parts
grow until nearly every side of a triangulation is active, and filling holes from existing
joints makes them far larger at one or two per cent of scale; from there a feature_ascent makes them
several times larger again (`packer.creases.settling.feature_ascent`).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import islice
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.creases.completion.complete import completed
from packer.creases.constraints.length_bounds import LengthBounds
from packer.creases.settled_packing import settled_packing
from packer.creases.settling.feature_ascent import feature_ascent, limiting_part
from packer.creases.settling.trial import MOST, candidates_of, random_trial, run_trial
from packer.creases.smallest_feature import smallest_feature
from packer.creases.tip_layout import layout_of
from packer.deadline import Deadline, OutOfTime
from packer.errors import OptionError, PatternError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from packer.creases.pattern import CreasePattern
    from packer.creases.settling.trial import Candidate
    from packer.creases.smallest_feature import Feature
    from packer.model.packing import Packing

TRIES: Final = 40
"""Recipes tried where neither a time nor a number of tries is given."""

PATIENCE: Final = 40
"""Recipes without a gain after which settling ends before its time is out."""

ENOUGH: Final = 0.02
"""Smallest feature, as a share of the shorter side, that ends it at once if no river is split.

6 mm on a sheet of 300 mm: nothing that a folder would be glad of lies beyond.
"""

DRAWS: Final = 3
"""Every so many tries another packing is drawn into the pool; at every one till rivers are whole."""

LOOKS: Final = 8
"""Most looks into the source for one of them; one is a batch of ascents, 0.01 to 0.1 s."""

FLAPS_LONGER: Final = 1.0
RIVERS_LONGER: Final = 0.2
"""Shares by which flaps and rivers may be longer than asked for."""


@dataclass(frozen=True)
class SettlingProgress:
    """What settling has reached so far.

    Attributes
    ----------
    seconds
        Elapsed.
    tries
        Recipes tried.
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
        The finest spot of the pattern.
    given
        Share of the scale given up: by this share the part that lost most is shorter.
    changes
        For each flap and river of the figure the share by which it is longer than the packing
        made it; negative where it is shorter.
    tries
        How many recipes were tried.
    coarser_split
        Size of the largest smallest feature, in sheet units, of a pattern that was passed over
        because more rivers are split in it; zero where there was none coarser.
    limiting_part
        The part of the figure that would make the smallest feature larger were it shorter than
        what may be given allows; None where none would.
    complete
        Whether it ran to its end; Ctrl-C keeps the best until then.
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
) -> Settled:
    """Return a packing settled at a small cost in scale, with the pattern that can be folded.

    Parameters
    ----------
    packing
        The packing to settle.
    give
        Most scale to give up, as a fraction in (0, 0.5]; no part becomes shorter than by this.
    deadline
        Until when to go on; the best until then is returned. More time gives larger features.
    tries
        Recipes to try instead, so that the result depends on the seed alone.
    seed
        The same seed and number of tries give the same result.
    more
        Other packings of the same problem to draw on, in any number; drawn one at a time, and
        used where their scale is within what may be given; None where one is still looked for.
    progress
        Called with a `SettlingProgress` after each try.

    Returns
    -------
    Settled
        The best found; after a KeyboardInterrupt the best until then.

    Raises
    ------
    OptionError
        Where `give` or `tries` is out of range.
    PatternError
        Where the packing does not hold or no way of closing it was found.
    """
    _check(packing, give, tries)
    until = deadline or Deadline.after()
    run = _SettlingRun(packing, give, np.random.default_rng(seed), iter(more), until, progress)
    try:
        run.run(TRIES if tries is None and deadline is None else tries)
    except OutOfTime:
        pass
    except KeyboardInterrupt:
        if not run.found:
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
    wrong = packing.violations()
    if wrong:
        raise PatternError(f"{wrong[0]}; pack the figure again")


@dataclass
class _SettlingRun:
    """A running settlement: the packings to draw on and the best patterns found."""

    packing: Packing
    give: float
    rng: np.random.Generator
    source: Iterator[Packing | None]
    deadline: Deadline
    progress: Callable[[SettlingProgress], None] | None
    found: dict[int, Candidate] = field(default_factory=dict)
    tries: int = 0
    gained: int = 0

    def __post_init__(self) -> None:
        self.pool = [self.packing]
        names, tips = self.packing.tree.names, self.packing.tree.n_tips
        asked = np.array(self.packing.lengths) * self.packing.scale
        longer = np.where(np.arange(len(names)) < tips, FLAPS_LONGER, RIVERS_LONGER)
        self.bounds = LengthBounds(
            dict(zip(names, (asked * (1 - self.give)).tolist(), strict=True)),
            dict(zip(names, (asked * (1 + longer)).tolist(), strict=True)),
        )

    def run(self, tries: int | None) -> None:
        """Try recipes until there are enough, or time is out."""
        while self.tries - self.gained < PATIENCE and (tries is None or self.tries < tries):
            if self.coarse_enough():
                break
            self.tries += 1
            self.try_recipe()
            self.tell()

    def coarse_enough(self) -> bool:
        """Whether nothing better is worth looking for."""
        if self.best is None or self.best.pattern.split_rivers:
            return False
        side = min(self.packing.sheet.width, self.packing.sheet.height)
        return self.best.feature.size >= ENOUGH * side

    def draw(self) -> Packing:
        """Return a packing of the pool, with one more drawn into it now and then."""
        fewest = min(len(p.split_rivers) for p in self.pool)
        split = fewest or (self.best is not None and self.best.pattern.split_rivers)
        if self.tries > 1 and (split or self.tries % DRAWS == 0):
            other = self.another()
            if other is not None:
                self.pool.append(other)
                if len(other.split_rivers) <= fewest:
                    return other
        least = [p for p in self.pool if len(p.split_rivers) == fewest]
        return least[int(self.rng.integers(len(least)))]

    def another(self) -> Packing | None:
        """Draw a packing that is large enough from the source, if it has one soon."""
        for other in islice(self.source, LOOKS):
            self.deadline.check()
            if other is not None and other.scale * MOST > self.packing.scale * (1 - self.give):
                return other
        return None

    def try_recipe(self) -> None:
        """Settle one packing by one random_trial, feature_ascent from what it gives and keep the best."""
        start = self.draw()
        least = self.packing.scale * (1 - self.give) / start.scale
        choice = random_trial(self.rng, min(least, 1.0))
        layout = run_trial(start, choice, self.rng, self.deadline)
        for made in candidates_of(layout, self.bounds, self.deadline):
            known = self.found.get(len(made.pattern.split_rivers))
            for higher in feature_ascent(
                made, self.bounds, known.feature.size if known else 0.0
            ):
                self.keep(higher)
                self.tell()
                self.deadline.check()

    def keep(self, made: Candidate) -> None:
        """Keep the coarsest pattern for each number of split rivers."""
        split = len(made.pattern.split_rivers)
        known = self.found.get(split)
        if known is None or made.feature.size > known.feature.size:
            self.found[split] = made
            self.gained = self.tries

    @property
    def best(self) -> Candidate | None:
        """The coarsest of the patterns with the fewest split rivers."""
        return self.found[min(self.found)] if self.found else None

    def tell(self) -> None:
        """Tell the listener, if any."""
        if self.progress is not None:
            size, split = 0.0, 0
            if self.best is not None:
                size, split = self.best.feature.size, len(self.best.pattern.split_rivers)
            self.progress(SettlingProgress(self.deadline.elapsed, self.tries, size, split))

    def settled(self) -> Settled:
        """Return the best, or the plain completion where nothing else closed."""
        if self.best is None:
            pattern = completed(layout_of(self.packing, 1 - self.give))
            feature = smallest_feature(pattern)
            return _settled(self.packing, pattern, feature, self.tries, 0.0)
        feature = self.best.feature
        others = max(made.feature.size for made in self.found.values())
        coarser = others if others > feature.size else 0.0
        settled = _settled(self.packing, self.best.pattern, feature, self.tries, coarser)
        return replace(settled, limiting_part=limiting_part(self.best, self.bounds))


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
