"""Kinds of paper: how thick one layer is, by name, by caliper or by weight."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from packer.errors import OptionError, did_you_mean

BULK: Final = 1.2
"""Micrometres of caliper per g/m2: 0.8 for dense papers to 1.5 for soft ones (common practice)."""


@dataclass(frozen=True)
class Paper:
    """A paper.

    Parameters
    ----------
    name
        What it is called.
    caliper
        Thickness of one layer in micrometres.
    weight
        In g/m2, where it is known.
    source
        Where the caliper comes from.
    """

    name: str
    caliper: float
    weight: float | None = None
    source: str = "as given"

    def __post_init__(self) -> None:
        if not (self.caliper > 0 and math.isfinite(self.caliper)):
            raise OptionError(
                f"{self.caliper:g} is no caliper; write micrometres above zero", "caliper"
            )

    @property
    def mm(self) -> float:
        """Thickness of one layer in mm."""
        return self.caliper / 1000


_MEASURED: Final = "measured in a published paper review"
_USUAL: Final = "common practice, not measured"

PAPERS: Final = {
    paper.name: paper
    for paper in (
        Paper("glassine", 31, 40, f"{_MEASURED}: origamiusa.org, review 15"),
        Paper("onion skin", 46, None, f"{_MEASURED}: origamiusa.org, review 15"),
        Paper("thin kraft", 50, 35, f"{_MEASURED}: origamiusa.org, kraft papers"),
        Paper("hand-made blend", 65, None, f"{_MEASURED}: origamiusa.org, kraft papers"),
        Paper("copy paper", 105, 80, f"{_MEASURED}: happyfolding.com"),
        Paper("kinumomi", 157, 107, f"{_MEASURED}: happyfolding.com"),
        Paper("kami", 80, 60, _USUAL),
        Paper("tissue", 40, 18, _USUAL),
        Paper("double tissue", 60, 40, _USUAL),
        Paper("tissue-foil-tissue", 80, 65, _USUAL),
    )
}
"""A small table of papers by name; every caliper can be replaced by one's own measurement."""

DEFAULT: Final = PAPERS["hand-made blend"]
"""What is assumed where nothing is said."""


def named_paper(name: str) -> Paper:
    """Return a paper of the table.

    Raises
    ------
    OptionError
        Where the table does not know it.
    """
    known = {paper.lower(): paper for paper in PAPERS}
    if name.lower() not in known:
        raise OptionError(
            f'unknown paper "{name}"{did_you_mean(name.lower(), PAPERS)}', "paper"
        )
    return PAPERS[known[name.lower()]]


def paper_of_weight(weight: float, bulk: float = BULK) -> Paper:
    """Return a paper by its weight in g/m2: caliper = weight x bulk.

    Bulk is the volume of a gram of paper in cm3; see `BULK` for what is usual.

    Raises
    ------
    OptionError
        Where a number is not above zero.
    """
    for name, value in (("weight", weight), ("bulk", bulk)):
        if not (value > 0 and math.isfinite(value)):
            raise OptionError(f"{value:g} is no {name}; write a number above zero", name)
    return Paper(
        f"{weight:g} g/m2 paper", weight * bulk, weight, f"estimated as weight x bulk {bulk:g}"
    )
