"""Settle a packing: give up a little scale so that its creases can be folded by a person.

The creases of a packing as the search leaves it are correct and far too fine: smallest features
of a thousandth to a hundred-thousandth of the sheet. Bringing tips onto borders, letting parts
grow until nearly every side of a triangulation is active, and filling holes from existing
joints makes them a hundred times larger at one or two per cent of scale.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.creases.attempt import attempt, finished, polished, recipe
from packer.creases.climb import opened, step
from packer.creases.complete import completed
from packer.creases.feature import smallest_feature
from packer.creases.plan import plan_of
from packer.errors import OptionError, PatternError
from packer.packing import Packing

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from packer.creases.attempt import Attempt
    from packer.creases.feature import Feature
    from packer.creases.pattern import CreasePattern

TRIES: Final = 40
"""Recipes tried where neither a time nor a number of tries is given."""

CLIMBING: Final = 0.4
"""Share of the time, or of as many steps as tries, spent on improving the best."""

STEPS: Final = (3e-3, 1e-3, 3e-4)
"""Lengths of the steps of a climb, as shares of the diagonal."""


@dataclass(frozen=True)
class Progress:
    """What settling has reached so far.

    Attributes
    ----------
    seconds
        Elapsed.
    tries
        Recipes tried and steps climbed.
    feature
        Size of the smallest feature of the best pattern, in sheet units; zero before the first.
    """

    seconds: float
    tries: int
    feature: float


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
        How many recipes and steps were tried.
    complete
        Whether it ran to its end; Ctrl-C keeps the best until then.
    """

    packing: Packing
    pattern: CreasePattern
    feature: Feature
    given: float
    changes: dict[str, float]
    tries: int
    complete: bool = True


def settle(
    packing: Packing,
    give: float = 0.02,
    *,
    seconds: float | None = None,
    tries: int | None = None,
    seed: int = 0,
    more: Iterable[Packing] = (),
    progress: Callable[[Progress], None] | None = None,
) -> Settled:
    """Return a packing settled at a small cost in scale, with the pattern that can be folded.

    Parameters
    ----------
    packing
        The packing to settle.
    give
        Most scale to give up, as a fraction in (0, 0.5]; no part becomes shorter than by this.
    seconds
        Time to spend; the best until then is returned. More time gives larger features.
    tries
        Recipes to try instead, so that the result depends on the seed alone.
    seed
        The same seed and number of tries give the same result.
    more
        Other packings of the same problem to draw on, in any number; drawn one at a time, and
        used where their scale is within what may be given.
    progress
        Called with a `Progress` after each try.

    Returns
    -------
    Settled
        The best found; after a KeyboardInterrupt the best until then.

    Raises
    ------
    OptionError
        Where `give`, `seconds` or `tries` is out of range.
    PatternError
        Where the packing does not hold or no way of closing it was found.
    """
    _check(packing, give, seconds, tries)
    hunt = _Hunt(packing, give, np.random.default_rng(seed), iter(more), progress)
    try:
        hunt.run(seconds, tries)
    except KeyboardInterrupt:
        if not hunt.found:
            raise
        return replace(hunt.settled(), complete=False)
    return hunt.settled()


def _check(packing: Packing, give: float, seconds: float | None, tries: int | None) -> None:
    if not 0 < give <= 0.5:
        raise OptionError(
            f"{give:g} is no share of the scale to give; write one above 0 and at most 0.5, "
            "such as 0.02",
            "give",
        )
    for name, value in (("seconds", seconds), ("tries", tries)):
        if value is not None and not value > 0:
            raise OptionError(f"{value} is no limit; write a number above zero", name)
    wrong = packing.violations()
    if wrong:
        raise PatternError(f"{wrong[0]}; pack the figure again")


@dataclass
class _Hunt:
    """A running settlement: the packings to draw on and the best patterns found."""

    packing: Packing
    give: float
    rng: np.random.Generator
    source: Iterator[Packing]
    progress: Callable[[Progress], None] | None
    found: list[Attempt] = field(default_factory=list)
    tries: int = 0
    began: float = 0.0

    def __post_init__(self) -> None:
        self.began = time.monotonic()
        self.pool = [self.packing]
        least = self.packing.scale * (1 - self.give) * (1 - 1e-12)
        lengths = (np.array(self.packing.lengths) * least).tolist()
        self.shortest = dict(zip(self.packing.tree.names, lengths, strict=True))

    def run(self, seconds: float | None, tries: int | None) -> None:
        """Try recipes, then climb from the best two."""
        if tries is None and seconds is None:
            tries = TRIES
        end = None if seconds is None else self.began + seconds
        count = 0
        while not _over(end, count, tries, 1 - CLIMBING, self.began):
            self.try_recipe()
            count += 1
        steps = 0
        best = self.found[:2]
        while best and not _over(end, steps, tries, 1.0, self.began):
            k = steps % len(best)
            best[k] = self.climb(best[k])
            steps += 1

    def draw(self) -> Packing:
        """Return a packing of the pool, with one more drawn into it now and then."""
        if self.tries % 3 == 1:
            other = next(self.source, None)
            if other is not None and other.scale * 0.998 > self.packing.scale * (1 - self.give):
                self.pool.append(other)
                return other
        return self.pool[int(self.rng.integers(len(self.pool)))]

    def try_recipe(self) -> None:
        """Settle one packing by one recipe and keep what it gives."""
        start = self.draw()
        least = self.packing.scale * (1 - self.give) / start.scale
        choice = recipe(self.rng, min(least, 1.0))
        for made in polished(attempt(start, choice, self.rng), self.shortest):
            self.keep(made)
        self.tell()

    def climb(self, start: Attempt) -> Attempt:
        """Take one small step from a pattern, or open it; return the better of the two."""
        if self.rng.uniform() < 0.1:
            made: Attempt | None = opened(start, self.shortest)
        else:
            size = float(self.rng.choice(STEPS))
            made = finished(step(start, size, self.rng), self.shortest)
        self.tell()
        if made is None or made.worth <= start.worth:
            return start
        self.keep(made)
        return made

    def keep(self, made: Attempt) -> None:
        """Keep the best few patterns, at most one for each number of creases."""
        same = [k for k in self.found if k.pattern.creases == made.pattern.creases]
        if any(k.worth >= made.worth for k in same):
            return
        rest = [k for k in self.found if k not in same]
        self.found = sorted([*rest, made], key=lambda k: -k.worth)[:4]

    def tell(self) -> None:
        """Count a try and tell the listener, if any."""
        self.tries += 1
        if self.progress is not None:
            size = self.found[0].feature.size if self.found else 0.0
            self.progress(Progress(time.monotonic() - self.began, self.tries, size))

    def settled(self) -> Settled:
        """Return the best, or the plain completion where nothing else closed."""
        if self.found:
            pattern, feature = self.found[0].pattern, self.found[0].feature
        else:
            pattern = completed(plan_of(self.packing, 1 - self.give))
            feature = smallest_feature(pattern)
        return _settled(self.packing, pattern, feature, self.tries)


def _over(end: float | None, count: int, tries: int | None, share: float, began: float) -> bool:
    """Whether a stage has used up its share of the time or its number of tries."""
    if tries is not None and count >= tries:
        return True
    return end is not None and time.monotonic() >= began + share * (end - began)


def _settled(packing: Packing, pattern: CreasePattern, feature: Feature, tries: int) -> Settled:
    names = packing.tree.names
    built = np.array([pattern.built[name] for name in names])
    asked = np.array(packing.lengths) * packing.scale
    scale = float((built / np.array(packing.lengths)).min())
    tips = pattern.points[[pattern.tips[name] for name in packing.tree.flaps]]
    new = Packing(
        packing.problem,
        tuple((x, y) for x, y in tips.tolist()),
        tuple((built / scale).tolist()),
        split_rivers=pattern.split_rivers,
        bound=packing.bound,
        search=replace(packing.search, stopped="given"),
    )
    changes = dict(zip(names, (built / asked - 1).tolist(), strict=True))
    return Settled(new, pattern, feature, 1 - scale / packing.scale, changes, tries)
