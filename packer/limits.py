"""What sizes and numbers of things packer takes: told in one place, checked where values are born.

Inside these limits everything works; what lies beyond is a slip of the pen or of a program.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True)
class NumberRange:
    """The least and the greatest number that may be given for something."""

    least: float
    most: float

    def hold(self, number: float) -> bool:
        """Return whether a number lies within; not-a-number never does."""
        return self.least <= number <= self.most

    def __str__(self) -> str:
        return f"from {plain(self.least)} to {plain(self.most)}"


LENGTH: Final = NumberRange(1e-6, 1e6)
"""Length of a flap or river, in the figure's own unit.

Wide enough for a figure in any unit of length: a thousandth of a millimetre to a kilometre, in mm.
"""

LENGTHS_APART: Final = 1e6
"""Longest part of a figure against its shortest; designers stay below a thousand.

On the largest figure a part shorter still would be smaller on the sheet than the error to which
its place is known. A grid alone holds less: it refuses, and says so, a part far below one of the 160
cells that the longest path may have, unless the cell is given.
"""

SIDE: Final = NumberRange(1e-6, 1e6)
"""Side of a sheet, in its own unit."""

SIDES_APART: Final = 100.0
"""Longer side of a sheet against its shorter one.

Inside it every command works. At 1000 two of four random figures of 4 to 9 flaps could not be
creased, as no filler found its place; the smallest feature of the others was a thousandth of the
shorter side, 0.1 mm on a strip of 100 mm that is 100 m long; and a grid has at most 640 cells along
a side."""

FLEX: Final = NumberRange(1e-6, 0.9)
"""Fraction by which a length may stray, where it is not zero.

Below, it is less than the error to which lengths are known; beyond, a part would be all but left
out.
"""

MOST_TIPS: Final = 1000
"""Tips in one figure, twins written out: the distance table of more would not be of use."""

MOST_RIVERS: Final = 1000
"""Rivers in one figure, twins written out: a tree whose joints all fork has fewer than tips."""

MOST_FOLDED: Final = 80
"""Flaps, twins written out, of what is creased, laid on a grid or found by folding.

As many as the largest sample has. All else takes `MOST_TIPS`: a figure is packed, planned, printed and compared
whatever its size. What folding needs grows faster: the sides of triangles of tips as a third power,
the parts of the sheet in which layers lie over each other faster still; on 150 flaps packed for 10 s
the creases took 7 GB and minutes. Of 80 what is no search takes about ten seconds."""

MOST_FOLDED_RIVERS: Final = 60
"""Rivers of the same. Each adds a crease to every part beyond it: a caterpillar of 80 flaps has 10,145 creases,
a random tree of 80 flaps and 26 rivers 2,807."""

MOST_GUIDED: Final = 5000
"""Creases off a grid that a guide is written of: with its landmarks it took 15 s for 3,056 of a random tree on a
busy machine; before some parts of it took less, 50 s for 5,146 and 150 s for 10,145.
Those on a grid follow its division, and take seconds."""

MOST_PULLED: Final = 80
"""Flaps, twins written out, that follow the hand on the table: the first packing of a random tree of 100
took 39 s and each step after it most of a second; of 1000 it took minutes."""

MOST_FLEXED: Final = 10**8
"""Pairs of tips times lengths that may stray: the solver's inequalities hold a number for each, 8 bytes,
and another while they are made. 500 flaps and their rivers, all flexible, took 1.5 GB."""

SEED: Final = NumberRange(0, 2**31 - 1)
"""What CP-SAT takes for a seed as well as numpy."""

SECONDS: Final = NumberRange(1e-3, 1e6)
"""A limit of time: to eleven days."""

LANDMARK_SECONDS: Final = 120.0
"""Time for the landmarks of one packing where nothing is said: samples to 80 flaps end within it, those that
are snapped after 114 s at most; random trees of 80 flaps take longer, and what was found until then is kept."""

STARTS: Final = NumberRange(1, 10**9)
"""Starts of a search."""

WORKERS: Final = NumberRange(1, 256)
"""Processes of one machine; a cluster has as many as it has."""

PACKINGS: Final = NumberRange(1, 100)
"""Packings of a gallery: what one plate can show."""

LONGEST_PATH: Final = 300
"""Letters of a path that an error tells back; the middle of a longer one is cut."""

LONGEST_ENTRY: Final = 100
"""Letters of an entry's name that an error tells back."""

LONGEST_MESSAGE: Final = 300
"""Letters of the sentence itself: names in it may be of any length, its ends are ours."""


def plain(number: float) -> str:
    """Return a number as people write it: "1000000" and "0.000001" and not "1e+06"."""
    if number == int(number):
        return str(int(number))
    return f"{number:.10f}".rstrip("0")


def cut_short(text: str, most: int) -> str:
    """Return a text without its middle where it is longer than `most`."""
    if len(text) <= most:
        return text
    head = most * 2 // 3
    return f"{text[:head]}...{text[head + 3 - most :]}"
