"""Measuring printed pages with pypdf: where the lines of a PDF end, in mm."""

import io

import numpy as np
from pypdf import PdfReader
from pypdf.generic import ContentStream

MM = 25.4 / 72


def pages(data):
    """The pages of a PDF."""
    return list(PdfReader(io.BytesIO(data)).pages)


def size(page):
    """Width and height of a page in mm."""
    return float(page.mediabox.width) * MM, float(page.mediabox.height) * MM


def lines(page):
    """Every painted path as (n, 2) points in mm from the lower left corner; curves by their ends."""
    found, current, matrices = [], [], [np.eye(3)]
    for operands, operator in ContentStream(page.get_contents(), page.pdf).operations:
        numbers = [float(o) for o in operands] if operator in NUMERIC else []
        if operator == b"q":
            matrices.append(matrices[-1])
        elif operator == b"Q":
            matrices.pop()
        elif operator == b"cm":
            a, b, c, d, e, f = numbers
            matrices[-1] = np.array([[a, b, 0], [c, d, 0], [e, f, 1]]) @ matrices[-1]
        elif operator in BUILD:
            _build(current, operator, numbers)
        elif operator == b"n":
            current = []
        elif operator in PAINT:
            for points in current:
                rows = np.column_stack([points, np.ones(len(points))]) @ matrices[-1]
                found.append(rows[:, :2] * MM)
            current = []
    return found


def _build(current, operator, numbers):
    if operator == b"m":
        current.append([numbers])
    elif operator == b"h":
        current[-1].append(current[-1][0])
    else:
        current[-1].append(numbers[-2:])


BUILD = {b"m", b"l", b"c", b"h"}
NUMERIC = {b"cm", b"m", b"l", b"c"}
PAINT = {b"S", b"s", b"f", b"F", b"f*", b"B", b"B*", b"b", b"b*"}


def has_line(found, start, end, room=0.01):
    """Whether some straight path runs between two points, to 0.01 mm."""
    wanted = np.array([start, end])
    return any(
        len(points) == 2
        and min(np.abs(points - wanted).max(), np.abs(points[::-1] - wanted).max()) <= room
        for points in found
    )


def lengths(found, sides=1):
    """Lengths in mm of the straight paths, or the side of those that are squares."""
    return [float(np.hypot(*np.diff(p, axis=0).T).sum()) for p in found if len(p) == sides + 1]


def squares(found):
    """Side and lower left corner of every path that is an upright square."""
    rows = []
    for points in found:
        low, high = points.min(axis=0), points.max(axis=0)
        if len(points) >= 5 and abs(np.ptp(high - low)) < 0.01:
            corners = {tuple(c) for c in np.round((points - low) / (high - low + 1e-12), 3)}
            if corners <= {(0, 0), (0, 1), (1, 0), (1, 1)}:
                rows.append((float((high - low)[0]), *low.tolist()))
    return rows


def diamonds(found):
    """Centres of the join marks."""
    rows = []
    for points in found:
        if len(points) >= 5:
            low, high = points.min(axis=0), points.max(axis=0)
            centre = (low + high) / 2
            if np.abs(np.abs(points - centre).sum(axis=1) - (high - low)[0] / 2).max() < 0.01:
                rows.append(centre)
    return rows
