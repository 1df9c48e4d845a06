"""The seven alignments of Huzita and Justin: each makes one crease from points and lines.

A line is a row ``(a, b, c)`` with ``a x + b y = c`` and ``a a + b b = 1``; points are rows
``(x, y)``; both may have leading axes, over which every function works at once. A crease has two
degrees of freedom, and every alignment two misses that move it: `errors`, in sheet units, the
last axis of length 2, says how far off what is aligned comes to lie. With zero errors the
alignment is exact.

Numbers as in the literature: J. Justin 1986 and 1989, H. Huzita 1989, K. Hatori 2001 (the
seventh); R. C. Alperin and R. J. Lang, Origami 4, 2009.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from packer.units import OVERLAP, SAME_LINE, TOUCHES

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Lines = NDArray[np.float64]
    Points = NDArray[np.float64]
    Errors = NDArray[np.float64]
    Size = tuple[float, float]

ALIGNMENTS: Final = {
    1: "through two points",
    2: "a point onto a point",
    3: "a line onto a line",
    4: "square to a line, through a point",
    5: "a point onto a line, through a point",
    6: "two points onto two lines",
    7: "a point onto a line, square to a line",
}
"""What each alignment brings together, by its number."""


GENERIC: Final = (0.5403023058681398, 0.8414709848078965)
"""A line is written with its normal on this side, one radian from the x axis: no short sequence
makes a line square to it, so that a small error never turns a line's sense over."""


def through(p: Points, q: Points) -> Lines:
    """Return the line through two points."""
    way = q - p
    return line_at(np.stack([-way[..., 1], way[..., 0]], axis=-1), p)


def halving(p: Points, q: Points) -> Lines:
    """Return the crease that lays one point onto another."""
    return line_at(q - p, (p + q) / 2)


def crossing(one: Lines, other: Lines) -> Points:
    """Return the point where two lines cross; not finite where they are parallel."""
    turn = one[..., 0] * other[..., 1] - one[..., 1] * other[..., 0]
    x = one[..., 2] * other[..., 1] - one[..., 1] * other[..., 2]
    y = one[..., 0] * other[..., 2] - one[..., 2] * other[..., 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.stack([x, y], axis=-1) / turn[..., None]


def mirrored(line: Lines, points: Points) -> Points:
    """Return points as a fold along a line lays them."""
    off = _dot(line[..., :2], points) - line[..., 2]
    return points - 2 * off[..., None] * line[..., :2]


def chord(line: Lines, size: Size) -> tuple[Points, Points]:
    """Return the two ends of a line on the sheet; not finite where it misses the sheet.

    A line along an edge has that edge for its chord.
    """
    way, base = _way(line), line[..., :2] * line[..., 2:]
    low, high = np.full(line.shape[:-1], -np.inf), np.full(line.shape[:-1], np.inf)
    tolerance = SAME_LINE * min(size)
    for k in (0, 1):
        with np.errstate(divide="ignore", invalid="ignore"):
            near = (0.0 - base[..., k]) / way[..., k]
            far = (size[k] - base[..., k]) / way[..., k]
        still = abs(way[..., k]) < SAME_LINE
        inside = (base[..., k] > -tolerance) & (base[..., k] < size[k] + tolerance)
        low = np.maximum(
            low, np.where(still, np.where(inside, -np.inf, np.inf), np.minimum(near, far))
        )
        high = np.minimum(high, np.where(still, np.inf, np.maximum(near, far)))
    off = low > high + tolerance
    low, high = np.where(off, np.nan, low), np.where(off, np.nan, high)
    return base + low[..., None] * way, base + high[..., None] * way


def o1(p: Points, q: Points, errors: Errors) -> Lines:
    """Return the crease through two points; it passes each of them by an error."""
    normal = through(p, q)[..., :2]
    return through(p + errors[..., :1] * normal, q + errors[..., 1:] * normal)


def o2(p: Points, q: Points, errors: Errors) -> Lines:
    """Return the crease that lays p onto q; it comes to lie beside q by an error each way."""
    return halving(p, q + errors)


def o3(line: Lines, onto: Lines, branch: int, errors: Errors, size: Size) -> Lines:
    """Return a crease that lays one line onto another.

    Parameters
    ----------
    line, onto
        The lines.
    branch
        Of two lines that cross, which of their two halving lines: +1 or -1 as they are
        written; parallel lines have one, whichever is asked for.
    errors
        How far the line laid down misses the other at the ends of what lies on each other.
    size
        Width and height of the sheet.
    """
    exact = _bisector(line, onto, branch)
    ends = [mirrored(exact, end) for end in chord(line, size)]
    a, b = _overlap(ends, list(chord(onto, size)), onto)
    b = b + OVERLAP * min(size) * (1 - (b != a).any(axis=-1))[..., None] * _way(onto)
    moved = through(a + errors[..., :1] * onto[..., :2], b + errors[..., 1:] * onto[..., :2])
    return _bisector(line, moved, branch)


def o4(line: Lines, p: Points, errors: Errors, size: Size) -> Lines:
    """Return the crease square to a line through a point.

    It passes the point by the first error; the line misses itself by the second at the far end
    of what lies on each other.
    """
    exact = square(line, p)
    turn = errors[..., 1] / (2 * np.maximum(reach(line, p, size), OVERLAP * min(size)))
    normal = exact[..., :2] + turn[..., None] * line[..., :2]
    return line_at(normal, p + errors[..., :1] * exact[..., :2])


def o5(p: Points, line: Lines, q: Points, branch: int, errors: Errors) -> Lines:
    """Return a crease through q that lays p onto a line.

    Parameters
    ----------
    p, line, q
        What is moved, where to, and the point that the crease goes through.
    branch
        Which of the two landing places: +1 or -1 along the line.
    errors
        How far off the line p lands, and how far from q the crease passes.
    """
    landing = landing5(p, line + _shift(errors[..., 0]), q, branch)
    return line_at(landing - p, q) + _shift(errors[..., 1])


def o6(p: Points, line: Lines, q: Points, other: Lines, branch: int, errors: Errors) -> Lines:
    """Return a crease that lays p onto one line and q onto another.

    Parameters
    ----------
    p, line, q, other
        What is moved and where to.
    branch
        Which of up to three landing places of p, in order along its line.
    errors
        How far off their lines p and q land.
    """
    first, second = line + _shift(errors[..., 0]), other + _shift(errors[..., 1])
    landing = landings6(p, first, q, second)[..., branch, :]
    return halving(p, landing)


def o7(p: Points, line: Lines, square: Lines, errors: Errors, size: Size) -> Lines:
    """Return the crease square to one line that lays p onto another.

    p lands off its line by the first error; the line that the crease is square to misses itself
    by the second.
    """
    middle = (p + landing7(p, line + _shift(errors[..., 0]), square)) / 2
    return o4(square, middle, errors * np.array([0.0, 1.0]), size)


def square(line: Lines, p: Points) -> Lines:
    """Return the line square to a line through a point."""
    return line_at(_way(line), p)


def landing7(p: Points, line: Lines, square: Lines) -> Points:
    """Return where on a line p lands in a fold square to another; not finite where nowhere."""
    way = _way(square)
    off = line[..., 2] - _dot(line[..., :2], p)
    with np.errstate(divide="ignore", invalid="ignore"):
        far = off / _dot(line[..., :2], way)
        return p + far[..., None] * way


def halving_lines(
    line: Lines, onto: Lines, branch: int, size: Size
) -> tuple[Lines, NDArray[np.float64]]:
    """Return a crease that lays one line onto another, and how long they then lie together."""
    exact = _bisector(line, onto, branch)
    ends = [mirrored(exact, end) for end in chord(line, size)]
    a, b = _overlap(ends, list(chord(onto, size)), onto)
    return exact, _length(b - a)


def landings6(p: Points, line: Lines, q: Points, other: Lines) -> Points:
    """Return (..., 3, 2) the places on its line where p may land; not finite where there is none.

    With p landing at ``t`` along its line, the crease is the halving line of the two; that q then
    lies on the other line is a cubic equation in ``t``.
    """
    way = _way(line)
    base = line[..., :2] * line[..., 2:]
    # with u = landing - p, q goes to q - 2 u (u.(q - (p + landing)/2)) / (u.u)
    u0 = base - p
    m0 = q - (p + base) / 2
    n, c = other[..., :2], other[..., 2]
    gap = _dot(n, q) - c
    # (n.q - c)(u.u) - 2 (n.u)(u.m) = 0 with u = u0 + t way, m = m0 - t way / 2
    uu = [_dot(u0, u0), 2 * _dot(u0, way), np.ones_like(gap)]
    nu = [_dot(n, u0), _dot(n, way)]
    um = [_dot(u0, m0), _dot(way, m0) - _dot(u0, way) / 2, -0.5 * np.ones_like(gap)]
    cubic = [
        gap * uu[0] - 2 * nu[0] * um[0],
        gap * uu[1] - 2 * (nu[0] * um[1] + nu[1] * um[0]),
        gap * uu[2] - 2 * (nu[0] * um[2] + nu[1] * um[1]),
        -2 * nu[1] * um[2],
    ]
    roots = _cubic_roots(*cubic)
    return base[..., None, :] + roots[..., None] * way[..., None, :]


def _dot(a: Points, b: Points) -> Errors:
    total: Errors = a[..., 0] * b[..., 0] + a[..., 1] * b[..., 1]
    return total


def _cubic_roots(d: Errors, c: Errors, b: Errors, a: Errors) -> Errors:
    """Return (..., 3) real roots of ``a t^3 + b t^2 + c t + d``, in order, NaN for those amiss."""
    scale = np.maximum.reduce([abs(a), abs(b), abs(c), abs(d)])
    flat = abs(a) <= 1e-12 * scale
    with np.errstate(all="ignore"):
        roots = np.where(flat[..., None], _quadratic(d, c, b), _cardano(d, c, b, a))
        for _ in range(2):
            t = roots
            value = ((a[..., None] * t + b[..., None]) * t + c[..., None]) * t + d[..., None]
            slope = (3 * a[..., None] * t + 2 * b[..., None]) * t + c[..., None]
            roots = np.where(abs(slope) > 1e-9 * scale[..., None], t - value / slope, t)
    roots[~np.isfinite(roots)] = np.nan
    return np.sort(roots, axis=-1)


def _quadratic(c: Errors, b: Errors, a: Errors) -> Errors:
    root = np.sqrt(b * b - 4 * a * c)
    big = -0.5 * (b + np.where(b < 0, -1.0, 1.0) * root)
    none = np.full_like(a, np.nan)
    linear = abs(a) <= 1e-12 * np.maximum(abs(b), abs(c))
    return np.stack(
        [np.where(linear, none, big / a), np.where(linear, -c / b, c / big), none], axis=-1
    )


def _cardano(d: Errors, c: Errors, b: Errors, a: Errors) -> Errors:
    b, c, d = b / a, c / a, d / a
    q, r = (3 * c - b * b) / 9, (9 * b * c - 27 * d - 2 * b**3) / 54
    disc = q**3 + r * r
    root = np.sqrt(np.maximum(disc, 0.0))
    one = np.cbrt(r + root) + np.cbrt(r - root) - b / 3
    angle = np.arccos(np.clip(r / np.sqrt(np.maximum(-(q**3), 1e-300)), -1, 1)) / 3
    size = 2 * np.sqrt(np.maximum(-q, 0.0))
    three = [size * np.cos(angle + 2 * np.pi * k / 3) - b / 3 for k in range(3)]
    none = np.full_like(one, np.nan)
    single = disc > 0
    return np.stack(
        [
            np.where(single, one, three[0]),
            np.where(single, none, three[1]),
            np.where(single, none, three[2]),
        ],
        axis=-1,
    )


def line_at(normal: Points, p: Points) -> Lines:
    """Return the line through p square to a direction."""
    with np.errstate(divide="ignore", invalid="ignore"):
        unit = normal / _length(normal)[..., None]
    unit *= _sense(unit)
    return np.concatenate([unit, _dot(unit, p)[..., None]], axis=-1)


def _sense(normal: Points) -> Points:
    """Return +1 or -1 to turn a normal to the side of `GENERIC`."""
    sign: Points = np.where(normal @ np.array(GENERIC) < 0, -1.0, 1.0)[..., None]
    return sign


def _way(line: Lines) -> Points:
    """Return the direction along a line: its normal turned by a right angle."""
    return np.stack([-line[..., 1], line[..., 0]], axis=-1)


def _length(vectors: Points) -> NDArray[np.float64]:
    return np.hypot(vectors[..., 0], vectors[..., 1])


def _shift(errors: Errors) -> Lines:
    return np.stack([np.zeros_like(errors), np.zeros_like(errors), errors], axis=-1)


def _bisector(line: Lines, onto: Lines, branch: int) -> Lines:
    sign = branch * np.ones(np.broadcast_shapes(line.shape, onto.shape)[:-1])
    side = _dot(line[..., :2], onto[..., :2])
    parallel = abs(abs(side) - 1) < SAME_LINE**2
    sign = np.where(parallel, np.sign(side), sign)[..., None]
    total = line + sign * onto
    with np.errstate(divide="ignore", invalid="ignore"):
        total = total / _length(total[..., :2])[..., None]
    return total * _sense(total[..., :2])


def _overlap(one: list[Points], two: list[Points], line: Lines) -> tuple[Points, Points]:
    """Return the ends of what two stretches of one line share; a point where they share none."""
    way = _way(line)
    base = line[..., :2] * line[..., 2:]
    first = [_dot(end - base, way) for end in one]
    second = [_dot(end - base, way) for end in two]
    low = np.maximum(np.minimum(*first), np.minimum(*second))
    high = np.minimum(np.maximum(*first), np.maximum(*second))
    high = np.maximum(high, low)
    return base + low[..., None] * way, base + high[..., None] * way


def reach(line: Lines, p: Points, size: Size) -> NDArray[np.float64]:
    """Return how far a line lies on itself when it is folded square at the foot of p."""
    a, b = chord(line, size)
    way = _way(line)
    first, second = (_dot(end - p, way) for end in (a, b))
    both = np.minimum(abs(first), abs(second))
    return np.where(first * second < 0, both, 0.0)


def landing5(p: Points, line: Lines, q: Points, branch: int) -> Points:
    """Return where on a line p lands in a fold through q; not finite where it is out of reach."""
    way = _way(line)
    off = line[..., 2] - _dot(line[..., :2], q)
    radius = _length(p - q)
    square = (radius - off) * (radius + off)
    square = np.where(abs(square) < TOUCHES * radius**2, 0.0, square)
    with np.errstate(invalid="ignore"):
        half = np.sqrt(square)
    return q + off[..., None] * line[..., :2] + branch * half[..., None] * way
