"""The pleats of a folded base, fold by fold: where each lies, and which way each layer takes it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
import shapely

from packer.errors import PatternError
from packer.folded.form import apply
from packer.model.tree import node_distances
from packer.units import SAME_POINT

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from packer.creases.pattern import CreasePattern
    from packer.folded.form import FoldedForm
    from packer.folded.pleats import PleatCrease


@dataclass(frozen=True)
class PleatFold:
    """One of the two folds of a pleat, through all layers of a part.

    Attributes
    ----------
    fold
        "M" or "V", seen from the front of the base: the same for all layers.
    pleat
        Which of the part's pleats, counted from 0 where its length is.
    along
        How far it lies from the part's start, in sheet units.
    lines
        Its creases on the sheet, one for each face that it crosses.
    backs
        For each of them whether the face shows its back in the base.
    place
        Where it lies in the folded plane, in sheet units: how far from the root, and from where
        to where above the axis.
    """

    fold: Literal["M", "V"]
    pleat: int
    along: float
    lines: tuple[PleatCrease, ...]
    backs: tuple[bool, ...]
    place: tuple[float, float, float]


@dataclass(frozen=True)
class PartPleats:
    """A flap or river of a base with all folds of its pleats, in order from its start.

    Attributes
    ----------
    name
        Of the edge of the tree, as "abdomen" or "leg.left".
    start
        The joint from which its length counts; None where that is the flap's tip.
    folds
        In order.
    """

    name: str
    start: str | None
    folds: tuple[PleatFold, ...]


def pleated_base(
    pattern: CreasePattern, form: FoldedForm, pleats: Sequence[PleatCrease]
) -> tuple[PartPleats, ...]:
    """Return the pleated parts of a base.

    Parameters
    ----------
    pattern
        The creases of the flat base.
    form
        That base folded.
    pleats
        The lines of its pleats (see `packer.folded.pleats.pleat_creases`).

    Raises
    ------
    PatternError
        Where a line lies in no face, or its part is none of the pattern's.
    """
    faces = _faces_of(pattern, pleats)
    parts = []
    for name in dict.fromkeys(pleat.part for pleat in pleats):
        rows = [k for k, pleat in enumerate(pleats) if pleat.part == name]
        parts.append(_part(pattern, form, name, [(pleats[k], faces[k]) for k in rows]))
    return tuple(parts)


def alike(parts: Sequence[PartPleats]) -> list[tuple[str, list[PartPleats]]]:
    """Return parts by their names as written: twins are pleated alike and told together."""
    groups: dict[str, list[PartPleats]] = {}
    for part in parts:
        groups.setdefault(as_written(part.name), []).append(part)
    return list(groups.items())


def as_written(name: str) -> str:
    """Return the name of a part as the designer wrote it, which twins share."""
    return name.removesuffix(".left").removesuffix(".right")


def _faces_of(pattern: CreasePattern, pleats: Sequence[PleatCrease]) -> list[int]:
    """Return the face in which each line lies; on an edge that stays flat either of its two."""
    outlines = shapely.polygons(
        [shapely.LinearRing(pattern.points[list(loop)]) for loop in pattern.faces]
    )
    tree, faces = shapely.STRtree(outlines), []
    tolerance = SAME_POINT * pattern.sheet.diagonal
    for pleat in pleats:
        middle = shapely.Point(np.mean(pleat.ends, axis=0))
        near = tree.query(middle, predicate="dwithin", distance=tolerance)
        if not len(near):
            raise PatternError(f'a pleat of "{pleat.part}" lies in no face; crease again')
        faces.append(int(near.min()))
    return faces


def _part(
    pattern: CreasePattern,
    form: FoldedForm,
    name: str,
    lines: Iterable[tuple[PleatCrease, int]],
) -> PartPleats:
    groups: dict[tuple[int, str], list[tuple[PleatCrease, int]]] = {}
    for pleat, face in lines:
        back = bool(form.flipped[face])
        seen = {"M": "V", "V": "M"}[pleat.fold] if back else pleat.fold
        groups.setdefault((pleat.pleat, seen), []).append((pleat, face))
    places = {key: _place(form, rows) for key, rows in groups.items()}
    if {(0, "M"), (0, "V")} - places.keys():
        raise PatternError(f'the first pleat of "{name}" is not whole; crease again')
    # the mountain of each is the fold nearer to the start (see `pleat_creases`)
    node, at = _start(pattern, form, name, places[0, "M"][0] < places[0, "V"][0])
    tree = pattern.tree
    folds = [
        PleatFold(
            "M" if seen == "M" else "V",
            number,
            abs(places[number, seen][0] - at),
            tuple(pleat for pleat, _ in rows),
            tuple(bool(form.flipped[face]) for _, face in rows),
            places[number, seen],
        )
        for (number, seen), rows in groups.items()
    ]
    folds.sort(key=lambda fold: fold.along)
    start = None if node < tree.n_tips else tree.joints[node - tree.n_tips]
    return PartPleats(name, start, tuple(folds))


def _place(
    form: FoldedForm, rows: Iterable[tuple[PleatCrease, int]]
) -> tuple[float, float, float]:
    ends = np.concatenate(
        [apply(form.transforms[face], np.array(pleat.ends)) for pleat, face in rows]
    )
    return float(ends[:, 0].mean()), float(ends[:, 1].min()), float(ends[:, 1].max())


def _start(
    pattern: CreasePattern, form: FoldedForm, name: str, outwards: bool
) -> tuple[int, float]:
    """Return the node where a part starts, and how far that is from the root."""
    tree = pattern.tree
    pieces = [e for e, own in enumerate(tree.names) if pattern.part_of.get(own) == name]
    if not pieces:
        raise PatternError(
            f'the pleats are of "{name}", which the pattern has not; crease again'
        )
    nodes = np.unique(tree.ends[pieces])
    far = node_distances(tree, pattern.lengths)[form.root][nodes]
    k = int(far.argmin() if outwards else far.argmax())
    return int(nodes[k]), float(far[k])
