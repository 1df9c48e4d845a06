"""What does not hold in a folded pattern: each finding with its place and amount.

A list without findings says that the pattern folds flat at every vertex and closes, into a
uniaxial base of the tree it claims. It says nothing about layers: see `packer.folded.layers`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from packer.creases.plane_graph import loop_areas
from packer.folded.form import shadow
from packer.folded.readback import read_tree
from packer.model.tree import node_distances
from packer.units import SAME_AREA, SHUTS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern
    from packer.folded.form import FoldedForm


@dataclass(frozen=True)
class Finding:
    """One thing that does not hold.

    Attributes
    ----------
    check
        What was looked at: "Kawasaki", "closing", "tips" ...
    place
        Where, in words with coordinates or names.
    amount, limit
        By how much it is off, and how much would have passed; sheet units unless `unit` says
        otherwise.
    unit
        "radians", "creases", "square units" or empty.
    """

    check: str
    place: str
    amount: float
    limit: float
    unit: str = ""

    def __str__(self) -> str:
        amount = f"{self.amount:.3g} {self.unit}".rstrip()
        return f"{self.check}: {self.place} is off by {amount} (allowed {self.limit:.2g})"


def findings(pattern: CreasePattern, form: FoldedForm) -> list[Finding]:
    """Check a folded pattern and return all that does not hold, the worst of each check first.

    Checked are: faces that cover the sheet once and form a disc (areas, Euler); an even number
    of creases and alternate angles of 180 degrees at each inner vertex (Kawasaki); that all
    faces around a vertex fall together (closing); every vertex over its place on the tree and
    at its height, every face over one part of the tree, axial creases on the axis, hinges square
    to it, nothing below it; tips at their tree distance; the tree read back from the folded
    form; and, where mountains and valleys are decided, that they differ by two at each inner
    vertex (Maekawa) and belong to the creases that are folded.
    """
    faults = [
        *_cover(pattern),
        *_kawasaki(pattern, form),
        *_closing(pattern, form),
        *_over_the_tree(pattern, form),
        *_one_part_a_face(pattern),
        *_tips(pattern, form),
        *_tree(pattern, form),
        *_maekawa(pattern, form),
    ]
    checks = list(dict.fromkeys(f.check for f in faults))
    return sorted(faults, key=lambda f: (checks.index(f.check), -f.amount))


def folds_flat(pattern: CreasePattern, form: FoldedForm) -> bool:
    """Return whether every vertex folds flat and closes, whatever tree the pattern claims."""
    faults = [*_kawasaki(pattern, form), *_closing(pattern, form)]
    return not faults


def kawasaki_errors(pattern: CreasePattern, form: FoldedForm) -> NDArray[np.float64]:
    """Return for each vertex by how much its alternate angles miss 180 degrees, in radians.

    Only folded creases count. Vertices on the border give 0; an odd number of creases gives
    infinity (T. Kawasaki 1989; J. Justin 1994).
    """
    errors = np.zeros(len(pattern.points))
    for vertex in np.flatnonzero(~pattern.on_border).tolist():
        edges = [k for k in pattern.edges_at[vertex] if form.folded[k]]
        if len(edges) % 2:
            errors[vertex] = np.inf
        elif edges:
            ends = pattern.edges[edges]
            other = np.where(ends[:, 0] == vertex, ends[:, 1], ends[:, 0])
            ways = pattern.points[other] - pattern.points[vertex]
            angles = np.sort(np.arctan2(ways[:, 1], ways[:, 0]))
            wedges = np.diff(angles, append=angles[0] + 2 * np.pi)
            errors[vertex] = abs(wedges[::2].sum() - np.pi)
    return errors


def at(pattern: CreasePattern, vertex: int) -> str:
    """Return a vertex in words: its number and where it lies on the sheet."""
    x, y = pattern.points[vertex].tolist()
    return f"vertex {vertex} at ({x:.6g}, {y:.6g})"


def _cover(pattern: CreasePattern) -> Iterator[Finding]:
    areas = loop_areas(pattern.points, pattern.faces)
    for face in np.flatnonzero(areas <= 0).tolist():
        yield Finding("faces", f"face {face}", -float(areas[face]), 0.0, "square units")
    off, limit = (
        abs(float(areas.sum()) - pattern.sheet.area),
        SAME_AREA * pattern.sheet.area,
    )
    if off > limit:
        yield Finding("faces", "the sum of all faces", off, limit, "square units")
    euler = len(pattern.points) - len(pattern.edges) + len(pattern.faces) - 1
    if euler:
        yield Finding("Euler", "vertices - edges + faces", abs(euler), 0)


def _kawasaki(pattern: CreasePattern, form: FoldedForm) -> Iterator[Finding]:
    errors = kawasaki_errors(pattern, form)
    ends = pattern.points[pattern.edges]
    lengths = np.hypot(*(ends[:, 0] - ends[:, 1]).T)
    for vertex in np.flatnonzero(errors > 0).tolist():
        edges = [k for k in pattern.edges_at[vertex] if form.folded[k]]
        if len(edges) % 2:
            yield Finding(
                "Kawasaki", f"{at(pattern, vertex)}, {len(edges)} creases", 1, 0, "creases"
            )
            continue
        # An end that is off by the length allowed turns a short crease the most.
        limit = 2 * SHUTS * pattern.sheet.diagonal * float((1 / lengths[edges]).sum())
        if errors[vertex] > limit:
            yield Finding(
                "Kawasaki", at(pattern, vertex), float(errors[vertex]), limit, "radians"
            )


def _closing(pattern: CreasePattern, form: FoldedForm) -> Iterator[Finding]:
    limit = SHUTS * pattern.sheet.diagonal
    worst = np.zeros(len(pattern.points))
    for end in (0, 1):
        np.maximum.at(worst, pattern.edges[:, end], form.gaps)
    for vertex in np.flatnonzero(worst > limit).tolist():
        yield Finding("closing", at(pattern, vertex), float(worst[vertex]), limit)
    left, right = pattern.edge_faces.T
    inner = (left >= 0) & (right >= 0)
    wrong = inner & ((form.flipped[left] != form.flipped[right]) != form.folded)
    for edge in np.flatnonzero(wrong).tolist():
        a = int(pattern.edges[edge, 0])
        yield Finding(
            "closing", f"the sides of the crease from {at(pattern, a)}", 1, 0, "creases"
        )


def _over_the_tree(pattern: CreasePattern, form: FoldedForm) -> Iterator[Finding]:
    limit = SHUTS * pattern.sheet.diagonal
    off = np.abs(form.positions - shadow(pattern, form.root))
    for check, column in (("place on the tree", 0), ("height", 1)):
        for vertex in np.flatnonzero(off[:, column] > limit).tolist():
            yield Finding(check, at(pattern, vertex), float(off[vertex, column]), limit)
    heights = form.positions[:, 1]
    for vertex in np.flatnonzero(heights < -limit).tolist():
        yield Finding("below the axis", at(pattern, vertex), -float(heights[vertex]), limit)
    roles = np.array(pattern.roles)
    ends = form.positions[pattern.edges]
    high = np.abs(ends[:, :, 1]).max(axis=1)
    askew = np.abs(ends[:, 0, 0] - ends[:, 1, 0])
    for check, role, amount in (("axial", "axial", high), ("hinge", "hinge", askew)):
        for edge in np.flatnonzero((roles == role) & (amount > limit)).tolist():
            a, b = pattern.edges[edge].tolist()
            place = f"the crease from {at(pattern, a)} to {at(pattern, b)}"
            yield Finding(check, place, float(amount[edge]), limit)


def _one_part_a_face(pattern: CreasePattern) -> Iterator[Finding]:
    """Find faces that reach over a joint without a hinge there."""
    limit = SHUTS * pattern.sheet.diagonal
    over = []
    for edge, offset in pattern.tree_points:
        node = None
        if offset <= limit:
            node = int(pattern.tree.ends[edge, 0])
        elif offset >= pattern.lengths[edge] - limit:
            node = int(pattern.tree.ends[edge, 1])
        over.append({edge} if node is None else {k for _, k in pattern.tree.neighbours[node]})
    for face, loop in enumerate(pattern.faces):
        if not set.intersection(*(over[vertex] for vertex in loop)):
            place = f"face {face}, which begins at {at(pattern, loop[0])}, has no hinge and"
            yield Finding("one part a face", place, 1, 0, "creases")


def _tips(pattern: CreasePattern, form: FoldedForm) -> Iterator[Finding]:
    limit = SHUTS * pattern.sheet.diagonal
    depth = node_distances(pattern.tree, pattern.lengths)[form.root]
    for node, name in enumerate(pattern.tree.flaps):
        x, y = form.positions[pattern.tips[name]].tolist()
        off = float(np.hypot(x - depth[node], y))
        if off > limit:
            yield Finding("tips", f'the tip of "{name}"', off, limit)


def _tree(pattern: CreasePattern, form: FoldedForm) -> Iterator[Finding]:
    limit = SHUTS * pattern.sheet.diagonal
    read = read_tree(pattern, form)
    n = pattern.tree.n_tips
    wanted = node_distances(pattern.tree, pattern.lengths)[:n, :n]
    off = np.abs(read.distances - wanted)
    off[~np.isfinite(off)] = np.inf
    for a, b in zip(*np.nonzero(np.triu(off > limit)), strict=True):
        place = f'from "{pattern.tree.flaps[a]}" to "{pattern.tree.flaps[b]}"'
        yield Finding("tree read back", place, float(off[a, b]), limit)


def _maekawa(pattern: CreasePattern, form: FoldedForm) -> Iterator[Finding]:
    folds = np.array(pattern.folds)
    if (folds == "U").any():
        return
    wrong = ((folds == "M") | (folds == "V")) != form.folded
    for edge in np.flatnonzero(wrong).tolist():
        place = f'the crease from {at(pattern, int(pattern.edges[edge, 0]))}, "{folds[edge]}"'
        yield Finding("folded or flat", place, 1, 0, "creases")
    for vertex in np.flatnonzero(~pattern.on_border).tolist():
        edges = list(pattern.edges_at[vertex])
        mountains, valleys = ((folds[edges] == fold).sum() for fold in "MV")
        if mountains + valleys and abs(mountains - valleys) != 2:
            place = f"{at(pattern, vertex)}, {mountains} M and {valleys} V"
            off = abs(abs(int(mountains) - int(valleys)) - 2)
            yield Finding("Maekawa", place, off, 0, "creases")
