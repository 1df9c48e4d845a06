"""A plain slow reference of the table: one crease at a time, written from the definitions.

Lines are (a, b, c) with a x + b y = c. Nothing of `packer.landmarks` is used.
"""

from __future__ import annotations

import math
from itertools import combinations, permutations

import numpy as np

NEAR = 1e-7
ANGLE = 0.3  # sine below which two lines make no mark
OVERLAP = 0.02  # of the shorter side: what is brought together, and a crease, are longer


def line_through(p, q):
    a, b = p[1] - q[1], q[0] - p[0]
    size = math.hypot(a, b)
    return (a / size, b / size, (a * p[0] + b * p[1]) / size)


def bisector(p, q):
    a, b = q[0] - p[0], q[1] - p[1]
    size = math.hypot(a, b)
    mx, my = (p[0] + q[0]) / 2, (p[1] + q[1]) / 2
    return (a / size, b / size, (a * mx + b * my) / size)


def cross(one, two):
    turn = one[0] * two[1] - one[1] * two[0]
    if abs(turn) < 1e-12:
        return None
    return (
        (one[2] * two[1] - one[1] * two[2]) / turn,
        (one[0] * two[2] - one[2] * two[0]) / turn,
    )


def reflect(line, p):
    off = line[0] * p[0] + line[1] * p[1] - line[2]
    return (p[0] - 2 * off * line[0], p[1] - 2 * off * line[1])


def same_line(one, two, side):
    plain = max(abs(one[0] - two[0]), abs(one[1] - two[1]), abs(one[2] - two[2]) / side)
    turned = max(abs(one[0] + two[0]), abs(one[1] + two[1]), abs(one[2] + two[2]) / side)
    return min(plain, turned) < NEAR


def on_sheet(p, size):
    room = 1e-9 * min(size)
    return all(-room < p[k] < size[k] + room for k in (0, 1))


def ends_of(line, size):
    """The two points where a line leaves the sheet, found on the four sides one by one."""
    w, h = size
    sides = [(1, 0, 0), (1, 0, w), (0, 1, 0), (0, 1, h)]
    spots = [p for side in sides if (p := cross(line, side)) and on_sheet(p, size)]
    if not spots:
        return None
    pair = max(((p, q) for p in spots for q in spots), key=lambda pq: math.dist(*pq))
    return pair if math.dist(*pair) > NEAR else None


def shared(line, onto, crease, size):
    """How long a line lies on another once it is folded."""
    ends, other = ends_of(line, size), ends_of(onto, size)
    if not ends or not other:
        return 0.0
    way = (-onto[1], onto[0])
    first = sorted(p[0] * way[0] + p[1] * way[1] for p in (reflect(crease, e) for e in ends))
    second = sorted(p[0] * way[0] + p[1] * way[1] for p in other)
    return min(first[1], second[1]) - max(first[0], second[0])


def points_of(lines, size):
    points = []
    for one, two in combinations(lines, 2):
        if abs(one[0] * two[1] - one[1] * two[0]) <= ANGLE:
            continue
        p = cross(one, two)
        if on_sheet(p, size) and all(math.dist(p, q) > NEAR * min(size) for q in points):
            points.append(p)
    return points


def lies_on(p, line):
    return abs(line[0] * p[0] + line[1] * p[1] - line[2]) < NEAR


def creases(lines, size, kinds):
    points = points_of(lines, size)
    made = [crease for kind in kinds for crease in BY_KIND[kind](lines, points, size)]
    return [c for c in made if (e := ends_of(c, size)) and math.dist(*e) > OVERLAP * min(size)]


def folds_square(line, crease, size):
    """Whether a line folded on itself overlaps: by the shorter of its two parts, twice over."""
    return shared(line, line, crease, size) > 2 * OVERLAP * min(size)


def o1(lines, points, size):
    return [line_through(p, q) for p, q in combinations(points, 2)]


def o2(lines, points, size):
    return [bisector(p, q) for p, q in combinations(points, 2)]


def o3(lines, points, size):
    return [
        crease
        for one, two in combinations(lines, 2)
        for crease in halving(one, two)
        if shared(one, two, crease, size) > OVERLAP * min(size)
    ]


def o4(lines, points, size):
    made = [
        (line, (-line[1], line[0], -line[1] * p[0] + line[0] * p[1]))
        for line in lines
        for p in points
    ]
    return [crease for line, crease in made if folds_square(line, crease, size)]


def o5(lines, points, size):
    return [
        bisector_at(p, x, q)
        for p, q in permutations(points, 2)
        for line in lines
        if not lies_on(p, line)
        for x in circle_meets(q, math.dist(p, q), line)
        if on_sheet(x, size) and math.dist(x, p) > NEAR
    ]


def o7(lines, points, size):
    made = []
    for p in points:
        for line, square in permutations(lines, 2):
            x = cross(line, (square[0], square[1], square[0] * p[0] + square[1] * p[1]))
            if x and not lies_on(p, line) and on_sheet(x, size):
                crease = bisector(p, x)
                if folds_square(square, crease, size):
                    made.append(crease)
    return made


def o6(lines, points, size):
    """Both landings on their lines: a cubic in the place of the first, by its values at four places."""
    made = []
    pairs = [(p, line) for p in points for line in lines if not lies_on(p, line)]
    for (p, one), (q, two) in combinations(pairs, 2):
        if math.dist(p, q) < NEAR:
            continue
        for x in landings(p, one, q, two):
            crease = bisector(p, x)
            if on_sheet(x, size) and on_sheet(reflect(crease, q), size):
                made.append(crease)
    return made


def landings(p, one, q, two):
    def at(t):
        return (one[0] * one[2] - t * one[1], one[1] * one[2] + t * one[0])

    def off(t):
        x = at(t)
        y = reflect(bisector(p, x), q)
        return (two[0] * y[0] + two[1] * y[1] - two[2]) * math.dist(p, x) ** 2

    spots = [-1.0, 0.0, 1.0, 2.0]
    cubic = (
        np.polynomial.Polynomial.fit(spots, [off(t) for t in spots], 3).convert().trim(1e-12)
    )
    roots = [complex(t) for t in cubic.roots()] if cubic.degree() else []
    # a double root comes as two, a triple one as three that lie around it, off by the cube root of
    # rounding; their mean is good again, and where it is none the values say so
    near = [[u for u in roots if abs(t - u) < 2e-4] for t in roots]
    means = [sum(us) / len(us) for us in near]
    real = sorted(t.real for t in means if abs(t.imag) < 1e-6 and abs(off(t.real)) < 1e-10)
    return [at(t) for k, t in enumerate(real) if not k or t - real[k - 1] > 1e-9]


BY_KIND = {1: o1, 2: o2, 3: o3, 4: o4, 5: o5, 6: o6, 7: o7}


def bisector_at(p, x, q):
    a, b = x[0] - p[0], x[1] - p[1]
    size = math.hypot(a, b)
    return (a / size, b / size, (a * q[0] + b * q[1]) / size)


def halving(one, two):
    if abs(one[0] * two[1] - one[1] * two[0]) < 1e-12:
        sign = 1 if one[0] * two[0] + one[1] * two[1] > 0 else -1
        return [tuple((x + sign * y) / 2 for x, y in zip(one, two, strict=True))]
    rows = []
    for sign in (1, -1):
        total = [x + sign * y for x, y in zip(one, two, strict=True)]
        size = math.hypot(total[0], total[1])
        rows.append(tuple(x / size for x in total))
    return rows


def circle_meets(centre, radius, line):
    off = line[2] - line[0] * centre[0] - line[1] * centre[1]
    left = radius * radius - off * off
    foot = (centre[0] + off * line[0], centre[1] + off * line[1])
    if abs(left) < 1e-12 * radius * radius:
        return [foot]
    if left < 0:
        return []
    half = math.sqrt(left)
    return [(foot[0] - s * half * line[1], foot[1] + s * half * line[0]) for s in (1, -1)]


def table(size, depth, kinds):
    """All lines of up to so many creases, in lists by their cost."""
    lines, cost, _ = grown(size, depth, kinds)
    return [
        [line for line, c in zip(lines, cost, strict=True) if c == n] for n in range(depth + 1)
    ]


def grown(size, depth, kinds):
    """Lines, what each costs, and for each number of creases the sets of lines that can lie there."""
    w, h = size
    lines = [(0, 1, 0), (1, 0, w), (0, 1, h), (1, 0, 0)]
    cost = [0] * 4
    states = [{frozenset()}]
    keys = {}

    def number(line, level):
        key = sign_free(line, size)
        if key not in keys:
            keys[key] = len(lines)
            lines.append(line)
            cost.append(level)
        return keys[key]

    for k, line in enumerate(lines):
        keys[sign_free(line, size)] = k
    for level in range(1, depth + 1):
        following = set()
        for state in sorted(states[-1], key=sorted):
            there = [lines[k] for k in (0, 1, 2, 3, *sorted(state))]
            for crease in creases(there, size, kinds):
                k = number(crease, level)
                if k not in state and k > 3:
                    following.add(state | {k})
        states.append(following)
    return lines, cost, states


def sign_free(line, size):
    """A key that a line has however its normal points; rounded off the usual fractions."""
    a, b, c = line[0], line[1], line[2] / min(size)
    if b < -1e-9 or (abs(b) <= 1e-9 and a < 0):
        a, b, c = -a, -b, -c
    return tuple(math.floor(x / NEAR + 0.271828) for x in (a, b, c))
