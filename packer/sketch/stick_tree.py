"""From a drawing to a figure: joints, twins, names and lengths put together.

>>> from packer import figure_of_sketch, read_sketch
>>> figure = figure_of_sketch(read_sketch("samples/squat_lobster.svg"), "squat lobster").figure
>>> len(figure.flaps), len(figure.rivers)
(8, 4)
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.errors import FigureError, OptionError, did_you_mean
from packer.model.figure import Figure, Flap, River
from packer.numbers import counted
from packer.sketch.captions import Member, member_names
from packer.sketch.joints import JOIN, join_strokes
from packer.sketch.mirror import TWINS, find_mirror
from packer.sketch.sketch_values import passed_over

if TYPE_CHECKING:
    from packer.sketch.faults import Fault
    from packer.sketch.joints import Crossing, Net
    from packer.sketch.mirror import Mirror
    from packer.sketch.sketch_values import Sketch

LONGEST: Final = 10.0
"""Length of the longest part where nothing else is wished: lengths then read like tenths."""

DIGITS: Final = 4
"""Digits kept of the longest length; the others get as many decimals."""


@dataclass(frozen=True)
class Scaling:
    """How drawn lengths become the figure's: the first of these that is given.

    Parameters
    ----------
    mm
        True millimetres, as drawn.
    part, length
        The part of this name becomes this long.
    longest
        The longest part becomes this long.
    """

    longest: float = LONGEST
    part: str = ""
    length: float = 0.0
    mm: bool = False

    def __post_init__(self) -> None:
        wished = self.length if self.part else self.longest
        if not (wished > 0 and math.isfinite(wished)):
            raise OptionError(f"{wished:g} is no length; write a number above zero", "length")


@dataclass(frozen=True, eq=False)
class Reading:
    """What a drawing was understood to be.

    Attributes
    ----------
    figure
        The figure.
    net
        The joined strokes it was made from.
    names
        For each part of the net the name it has in the figure.
    notes
        What a designer should know: tolerances, twins, what was passed over.
    """

    figure: Figure
    net: Net
    names: tuple[str, ...]
    notes: tuple[str, ...]


def figure_of_sketch(
    sketch: Sketch,
    name: str,
    scaling: Scaling | None = None,
    *,
    join: float = JOIN,
    twins: float = TWINS,
    cross: Crossing = "pass",
) -> Reading:
    """Make a figure of a drawing.

    Parameters
    ----------
    sketch
        The drawing.
    name
        What to call the figure.
    scaling
        How drawn lengths become the figure's; the longest part is 10 by default.
    join
        The joining distance, as a share of the shortest stroke.
    twins
        How far twins may stray from mirror images, as a share of the figure's diagonal.
    cross
        Whether strokes that only cross pass over each other or are joined.

    Raises
    ------
    FigureError
        Where the drawing is no tree; the first fault is told, with its place.
    OptionError
        Where a tolerance is out of range, a named part is unknown or true millimetres are
        wished of a drawing without a size.
    """
    net = joined(sketch, join, cross)
    if net.faults:
        raise FigureError(fault_sentence(sketch, net, net.faults[0]) + _more(len(net.faults)))
    if len(net.parts) < 2:
        raise FigureError("a single stroke is no stick figure; draw two or more that meet")
    if not 0 <= twins < 0.5:
        raise OptionError(
            f"{twins:g} is no tolerance; write a share from 0 to below 0.5", "twins"
        )
    mirror = find_mirror(net, twins)
    members, written = _members(net, mirror)
    names = member_names(members, sketch.captions, net.places)
    drawn = [float(np.mean([p.length for p in member.parts])) for member in members]
    lengths = _scaled(sketch, drawn, names, scaling or Scaling())
    titled = list(zip(names, lengths, strict=True))
    figure = _figure(name, net, mirror, written, dict(zip(written, titled, strict=True)))
    by_part = {k: names[row] for row, group in enumerate(written.values()) for k in group}
    return Reading(
        figure,
        net,
        tuple(by_part[k] for k in range(len(net.parts))),
        tuple(_notes(sketch, net, mirror, by_part)),
    )


def joined(sketch: Sketch, join: float = JOIN, cross: Crossing = "pass") -> Net:
    """Join the strokes of a drawing, faults and all.

    Raises
    ------
    OptionError
        Where the joining distance is out of range.
    """
    if not 0 <= join < 0.5:
        raise OptionError(f"{join:g} is no joining distance; write a share below 0.5", "join")
    return join_strokes(sketch, join, cross)


def fault_sentence(sketch: Sketch, net: Net, fault: Fault) -> str:
    """Return what is wrong, where in the drawing's own units, and the remedy."""
    x, y = sketch.own_units(fault.at)
    unit = 1 / math.sqrt(abs(np.linalg.det(sketch.frame[:, :2])))
    who = " and ".join(f'"{name}"' for name in fault.names[:3])
    at = f"at ({x:.4g}, {y:.4g})"
    if fault.kind == "loop":
        made = (
            f"the strokes {who} close"
            if len(fault.names) > 1
            else f"{who or 'the strokes'} close"
        )
        made = made if len(fault.names) != 1 else f"{who} closes"
        return f"{made} a loop around {at[3:]}, and a stick figure has none; part the strokes there"
    if fault.kind == "doubled stroke":
        twice = "lie on each other" if len(fault.names) > 1 else "is drawn twice"
        return f"{who or 'a stroke'} {twice} {at}; remove one of the two"
    crossed = ", or join what only crosses (--cross join)" if net.crossings else ""
    return (
        f"{who or 'a piece'} hangs loose {at}, {fault.gap * unit:.3g} from the rest, and ends join "
        f"within {net.reach * unit:.3g}; draw it closer or join from farther{crossed}"
    )


def _more(faults: int) -> str:
    if faults == 1:
        return ""
    return f" ({counted(faults - 1, 'more fault')}; a marked-up copy shows all)"


def _members(
    net: Net, mirror: Mirror | None
) -> tuple[list[Member], dict[int, tuple[int, ...]]]:
    """Return what is written once, in drawing order, and by its first part the parts it is."""
    twin_of = dict(mirror.twins) if mirror else {}
    away = {b for _, b in mirror.twins} if mirror else set()
    ends = [end for part in net.parts for end in part.ends]
    tips = {end for end in ends if ends.count(end) == 1}
    written: dict[int, tuple[int, ...]] = {}
    for k in range(len(net.parts)):
        if k not in away:
            written[k] = (k, twin_of[k]) if k in twin_of else (k,)
    members = []
    for k, group in written.items():
        part = net.parts[k]
        tip = [end for end in part.ends if end in tips]
        at = net.places[tip[0]] if tip else part.line[len(part.line) // 2]
        members.append(Member(tuple(net.parts[p] for p in group), bool(tip), at, k))
    return members, written


def _scaled(
    sketch: Sketch, drawn: list[float], names: list[str], scaling: Scaling
) -> list[float]:
    """Return the figure's lengths, rounded so that a person can edit them."""
    if scaling.mm:
        if sketch.mm is None:
            raise OptionError(
                "the drawing gives itself no size, so it has no millimetres; set its width and "
                "height in mm or wish for a length",
                "mm",
            )
        factor = sketch.mm
    elif scaling.part:
        if scaling.part not in names:
            raise OptionError(
                f'no part is called "{scaling.part}"{did_you_mean(scaling.part, names)}',
                "length",
            )
        factor = scaling.length / drawn[names.index(scaling.part)]
    else:
        factor = scaling.longest / max(drawn)
    decimals = DIGITS - 1 - math.floor(math.log10(max(drawn) * factor))
    return [max(round(length * factor, decimals), 10.0**-decimals) for length in drawn]


def _figure(
    name: str,
    net: Net,
    mirror: Mirror | None,
    written: dict[int, tuple[int, ...]],
    given: dict[int, tuple[str, float]],
) -> Figure:
    """Write the tree out; twins once, a paired river with its far joint second."""
    ends = [end for part in net.parts for end in part.ends]
    joints = sorted(
        {end for end in ends if ends.count(end) > 1}, key=lambda n: _reading(net, n)
    )
    kept = {end for k in written for end in net.parts[k].ends}
    called = {
        node: f"joint {rank}" for rank, node in enumerate((n for n in joints if n in kept), 1)
    }
    twins = {k for k, group in written.items() if len(group) > 1}
    middle = mirror.joints if mirror else set()
    flaps: list[Flap] = []
    rivers: list[River] = []
    pose: list[tuple[str, float]] = []
    for k in written:
        title, length = given[k]
        a, b = net.parts[k].ends
        if mirror and k == mirror.across:
            far = a if any(a in net.parts[p].ends for p in twins) else b
            half = max(length / 2, 1e-12)
            rivers.append(River(title, ("axis", called[far]), half, pair=True))
            pose.append((title, direction(net, mirror, a if far == b else b, far)))
        elif a in called and b in called:
            near, far = (a, b) if k not in twins or a in middle else (b, a)
            pose.append((title, direction(net, mirror, near, far)))
            rivers.append(
                River(
                    title,
                    (called[near], called[far]),
                    length,
                    pair=k in twins and near in middle,
                )
            )
        else:
            joint = a if a in called else b
            pose.append((title, direction(net, mirror, joint, b if joint == a else a)))
            flaps.append(
                Flap(title, called[joint], length, pair=k in twins and joint in middle)
            )
    return Figure(
        name,
        tuple(flaps),
        tuple(rivers),
        symmetry="none" if mirror is None else "book",
        pose=tuple(pose),
    )


def direction(net: Net, mirror: Mirror | None, start: int, end: int) -> float:
    """Return the direction in which a part is drawn, in whole degrees clockwise from upright.

    A mirror line counts as upright; what lies on its left is told as its twin on the right.
    """
    way = net.places[end] - net.places[start]
    up = np.array([0.0, -1.0])  # a drawing's y points down
    aside = 0.0
    if mirror is not None:
        normal = np.array(mirror.axis.normal)
        up = np.array([-normal[1], normal[0]])
        up = -up if (up[1], up[0]) > (0.0, 0.0) else up
        right = np.array([-up[1], up[0]])
        middle = (net.places[end] + net.places[start]) / 2
        paired = not {start, end} <= mirror.joints
        aside = float((middle - np.array(mirror.axis.at)) @ right) if paired else 0.0
        if not paired:  # it lies along the mirror line, give or take the hand
            return 0.0 if way @ up > 0 else 180.0
    right = np.array([-up[1], up[0]])
    degrees = math.degrees(math.atan2(float(way @ right), float(way @ up)))
    twin = mirror is not None and aside < 0 and _has_twin(net, mirror, start, end)
    return float(round(-degrees if twin else degrees) % 360)


def _has_twin(net: Net, mirror: Mirror, start: int, end: int) -> bool:
    """Whether a part between two nodes is one of twins, or lies across the mirror line."""
    twins = {k for pair in mirror.twins for k in pair} | {mirror.across}
    return any(
        k in twins and set(net.parts[k].ends) == {start, end} for k in range(len(net.parts))
    )


def _reading(net: Net, node: int) -> tuple[float, float]:
    """Return a key that orders nodes as a page is read: from the top, then from the left."""
    x, y = net.places[node]
    return round(float(y), 6), round(float(x), 6)


def _notes(sketch: Sketch, net: Net, mirror: Mirror | None, names: dict[int, str]) -> list[str]:
    unit = 1 / math.sqrt(abs(np.linalg.det(sketch.frame[:, :2])))
    notes = [f"{counted(len(sketch.strokes), 'stroke')}, joined within {net.reach * unit:.3g}"]
    if net.crossings:
        notes.append(
            f"{counted(net.crossings, 'crossing')} not joined, since no stroke ends there; "
            "--cross join joins them"
        )
    if passed := passed_over(sketch.passed, sketch.names_passed):
        notes.append(passed)
    if mirror is None:
        notes.append("no mirror line found")
        return notes
    notes.append(
        f"{counted(len(mirror.twins), 'twin part')}, ends mirrored to "
        f"{100 * mirror.apart:.1f} % of the figure's diagonal, lengths to "
        f"{100 * mirror.uneven:.1f} %; each pair has their mean length"
    )
    if mirror.alone:
        alone = ", ".join(f'"{names[k]}"' for k in mirror.alone[:5])
        notes.append(
            f"{alone} has no twin and lies off the mirror line: read as unpaired, to lie on the "
            "axis of the sheet; pair it, or pack with --symmetry none to set it free"
        )
    return notes
