"""Published optima that tests of several rooms are held against."""

from __future__ import annotations

import math

CIRCLES_IN_HALF_SQUARES = {
    # radius of n equal circles inside 1 x 1/2, closed forms: packomania.com, E. Specht [S]
    3: (3 - math.sqrt(7)) / 2,
    4: (11 - 6 * math.sqrt(3)) / 4,
    5: 9 / 2 - math.sqrt(19),
    6: (27 - 10 * math.sqrt(7)) / 4,
    7: 1 / (4 + math.sqrt(6) + math.sqrt(2)),
}
