"""How far apart k points in a rectangle can be: proven upper bounds on the least distance."""

from __future__ import annotations

import csv
import math
from functools import lru_cache
from importlib.resources import files


@lru_cache(maxsize=1)
def proven_spreads() -> dict[int, float]:
    """Return the largest least distance of k points in the unit square, where it is proven.

    The table `points_in_square.csv` beside this module names the proof of each row: k <= 33 and
    k = 36 (Schaer 1965 to Markot 2021). Rows that are only best known are left out: they bound
    nothing.
    """
    text = files("packer.bounds").joinpath("points_in_square.csv").read_text("utf-8")
    rows = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    return {
        int(row["n"]): float(row["max_min_distance"]) for row in rows if row["proven"] == "yes"
    }


def most_spread(k: int, width: float, height: float) -> tuple[float, str]:
    """Return an upper bound on the least distance of k >= 2 points in a rectangle, and its rule.

    The least of four:

    - *square table*: the rectangle lies in the square on its longer side, so the proven spread
      of k points there, times that side.
    - *Oler's inequality*: a rectangle holds at most (2/sqrt 3) A / d^2 + P / (2 d) + 1 points at
      mutual distance d (Groemer, Math. Z. 73, 1960; Oler, Acta Math. 105, 1961); solved for d.
    - *strip*: in the order of their x, the k points have some neighbours at most
      width / (k - 1) apart in x, and at most `height` in y.
    - *pigeonhole*: cut the rectangle into a x b < k equal cells; two points share one, and are
      no farther apart than its diagonal.
    """
    bounds = [(_oler(k, width, height), "Oler's inequality")]
    table = proven_spreads()
    if k in table:
        bounds.append((table[k] * max(width, height), "square table"))
    for w, h in ((width, height), (height, width)):
        bounds.append((math.hypot(w / (k - 1), h), "strip"))
    for a in range(1, k):
        b = (k - 1) // a
        bounds.append((math.hypot(width / a, height / b), "pigeonhole"))
    return min(bounds)


def _oler(k: int, width: float, height: float) -> float:
    # (2/sqrt 3) A x^2 + (P/2) x + 1 = k for x = 1/d, written without cancellation
    a, b = 2 / math.sqrt(3) * width * height, width + height
    return (b + math.sqrt(b * b + 4 * a * (k - 1))) / (2 * (k - 1))
