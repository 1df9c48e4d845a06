"""Packings of known optimum to draw, and ways to measure what was drawn."""

import re
import xml.etree.ElementTree as ET

import numpy as np
import shapely

from packer.drawing.marks.labels import label_box
from packer.drawing.marks.lines import Line, strokes_of, waypoints
from packer.drawing.marks.strokes import Label, Path
from packer.model.figure import Figure, Flap, River
from packer.model.packing import Packing
from packer.model.problem import pose
from packer.model.sheet import Sheet

SVG = "{http://www.w3.org/2000/svg}"


def preliminary(side=350.0, unit="mm", names=("a", "b", "c", "d")):
    """Four equal flaps in the corners: the preliminary base (Demaine and O'Rourke, 2007)."""
    figure = Figure("four corners", tuple(Flap(name, "middle", 1.0) for name in names))
    tips = ((0, 0), (side, 0), (side, side), (0, side))
    sixth = 1 / 8
    stress = tuple((i, j, sixth) for i, j in ((0, 1), (1, 2), (2, 3), (0, 3)))
    return Packing(pose(figure, Sheet(side, side, unit)), tips, stress=stress)


def fish(side=300.0, unit="mm"):
    """Twins, a river and a loose flap, on a sheet folded in book symmetry."""
    flaps = (
        Flap("nose", "head", 1.0),
        Flap("fin", "rear", 1.0, pair=True),
        Flap("dot", "rear", 0.25, pair=True),
    )
    figure = Figure("fish", flaps, (River("body", ("head", "rear"), 0.5),), "book")
    tips = ((0.5, 0), (0, 1), (1, 1), (0.2, 0.55), (0.8, 0.55))
    at = tuple((x * side, y * side) for x, y in tips)
    # held by hand: all but the dots
    stress = tuple((i, j, 1 / 7) for i, j in ((0, 1), (0, 2), (1, 2)))
    return Packing(pose(figure, Sheet(side, side, unit)), at, stress=stress)


def chords(drawing, kinds=None):
    """The lines of a drawing as shapely lines, one for each side, arcs as short chords."""
    return [
        shapely.LineString(waypoints(stroke))
        for mark in drawing.marks
        if isinstance(mark, Path) and (kinds is None or mark.kind in kinds)
        for stroke in strokes_of(mark.points, mark.bulges, mark.closed)
    ]


def groups(text):
    """The groups of an SVG document by id."""
    return {group.get("id"): group for group in ET.fromstring(text).iter(f"{SVG}g")}


def numbers(text):
    """All numbers in a text."""
    return [float(n) for n in re.findall(r"-?\d+\.?\d*", text)]


def strokes(drawing):
    """All sides of all paths of a drawing."""
    return [
        stroke
        for mark in drawing.marks
        if isinstance(mark, Path)
        for stroke in strokes_of(mark.points, mark.bulges, mark.closed)
    ]


def distances(points, stroke):
    """Distance of each of (n, 2) points from a stroke, by plain geometry."""
    if isinstance(stroke, Line):
        start, way = np.array(stroke.start), np.subtract(stroke.end, stroke.start)
        share = np.clip((points - start) @ way / (way @ way), 0, 1)
        return np.hypot(*(points - start - share[:, None] * way).T)
    away = points - np.array(stroke.centre)
    angle = (np.arctan2(away[:, 1], away[:, 0]) - stroke.first) % (2 * np.pi)
    ends = np.min([np.hypot(*(points - end).T) for end in (stroke.start, stroke.end)], axis=0)
    return np.where(angle <= stroke.turn, np.abs(np.hypot(*away.T) - stroke.radius), ends)


def doubled(found, step=0.5, room=1e-4):
    """Length in mm along which strokes lie on each other: two samples in a row do."""
    total = 0.0
    for k, stroke in enumerate(found):
        count = int(stroke.length / step)
        shares = [(n + 0.5) / max(count, 1) for n in range(count)]
        if count < 2:
            continue
        points = np.array([stroke.part(0, share).end for share in shares])
        for other in found[:k] + found[k + 1 :]:
            on = distances(points, other) <= room
            total += step * int((on[1:] & on[:-1]).sum())
    return total


def label_boxes(drawing):
    """The corners of about what each label covers."""
    return [label_box(mark) for mark in drawing.marks if isinstance(mark, Label)]
