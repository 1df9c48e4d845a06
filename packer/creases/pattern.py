"""The crease pattern: a planar graph on the sheet in which every crease has its role.

A pattern is checked when it is made: its faces are simple loops that cover the sheet once, so
that no two creases cross or overlap. That it also folds into the figure is judged by the folded
form, not here.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Final, Literal, get_args

import numpy as np

from packer.creases.plane_graph import loop_areas, sides_of_edges
from packer.errors import PatternError
from packer.units import SAME_AREA, SAME_POINT

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from packer.model.sheet import Sheet
    from packer.model.tree import Tree

Role = Literal["border", "axial", "ridge", "hinge", "gusset", "between", "fold-back"]
Fold = Literal["B", "M", "V", "F", "U"]
ROLES: Final[tuple[Role, ...]] = get_args(Role)
FOLDS: Final[tuple[Fold, ...]] = get_args(Fold)


@dataclass(frozen=True, eq=False)
class CreasePattern:
    """The creases of a uniaxial base on its sheet.

    Parameters
    ----------
    sheet
        The paper.
    points
        (v, 2) vertices in sheet units, lower left origin, y up.
    edges
        (e, 2) vertex indices.
    roles
        For each edge "border", "axial" (in the sheet, on the axis when folded), "ridge",
        "hinge" or "gusset"; patterns on a grid also have "between" and "fold-back".
    folds
        For each edge, letters as in the FOLD specification: "B" border, "M" mountain,
        "V" valley, "F" flat, "U" not decided.
    faces
        Vertex loops, counter-clockwise.
    heights
        (v,) height above the axis in the folded form, in sheet units.
    tree_points
        For each vertex where it lies over the tree: (edge of `tree`, offset from that edge's
        first end in sheet units). A node is written as an end of its lowest edge.
    tree
        The tree built: that of the figure, with fillers as extra flaps. Where a filler hangs
        off the middle of a part, the part is cut there; `part_of` tells the pieces.
    lengths
        (edges of `tree`,) lengths built, in sheet units.
    tips
        The vertex of each flap's tip, fillers included, by name.
    fillers
        Names of the flaps that were added so that the pattern closes.
    part_of
        For every edge of `tree` that is no filler, the part of the figure it is (a piece of);
        by default its own name.
    split_rivers
        Names of rivers that the paper holds in more than one strand.
    title
        What it is a pattern of, for people to read; may be empty.

    Raises
    ------
    PatternError
        Where the numbers are no crease pattern: wrong shapes or indices, faces that do not
        cover the sheet exactly once.
    """

    sheet: Sheet
    points: NDArray[np.float64]
    edges: NDArray[np.intp]
    roles: tuple[Role, ...]
    folds: tuple[Fold, ...]
    faces: tuple[tuple[int, ...], ...]
    heights: NDArray[np.float64]
    tree_points: tuple[tuple[int, float], ...]
    tree: Tree
    lengths: NDArray[np.float64]
    tips: Mapping[str, int]
    fillers: tuple[str, ...] = ()
    part_of: Mapping[str, str] = field(default_factory=dict)
    split_rivers: tuple[str, ...] = ()
    title: str = ""

    def __post_init__(self) -> None:
        for name, kind in (
            ("points", np.float64),
            ("edges", np.intp),
            ("heights", np.float64),
            ("lengths", np.float64),
        ):
            array = np.array(getattr(self, name), dtype=kind)
            array.setflags(write=False)
            object.__setattr__(self, name, array)
        if not self.part_of:
            own = {n: n for n in self.tree.names if n not in set(self.fillers)}
            object.__setattr__(self, "part_of", own)
        _check_shapes(self)
        _check_words(self)
        _check_tree(self)
        _check_cover(self)

    @cached_property
    def edge_faces(self) -> NDArray[np.intp]:
        """(e, 2) the face to the left and to the right of each edge; -1 where there is none."""
        return sides_of_edges(self.edges, self.faces)

    @cached_property
    def edges_at(self) -> tuple[tuple[int, ...], ...]:
        """For each vertex its edges, counter-clockwise by direction."""
        around: list[list[tuple[float, int]]] = [[] for _ in range(len(self.points))]
        ways = self.points[self.edges[:, 1]] - self.points[self.edges[:, 0]]
        out = np.arctan2(ways[:, 1], ways[:, 0]).tolist()
        back = np.arctan2(-ways[:, 1], -ways[:, 0]).tolist()
        for k, (a, b) in enumerate(self.edges.tolist()):
            around[a].append((out[k], k))
            around[b].append((back[k], k))
        return tuple(tuple(k for _, k in sorted(rows)) for rows in around)

    @cached_property
    def on_border(self) -> NDArray[np.bool_]:
        """(v,) whether a vertex lies on the border of the sheet."""
        on_border = np.zeros(len(self.points), dtype=bool)
        on_border[self.edges[[role == "border" for role in self.roles]]] = True
        return on_border

    @property
    def creases(self) -> int:
        """How many edges are creases, the border left out."""
        return sum(role != "border" for role in self.roles)

    @property
    def decided(self) -> bool:
        """Whether mountains and valleys are known."""
        return "M" in self.folds or "V" in self.folds

    @property
    def built(self) -> dict[str, float]:
        """Length of each flap and river built, in sheet units, by the figure's own names.

        Pieces of a cut part are added up; fillers carry their own names.
        """
        lengths: dict[str, float] = {}
        for name, length in zip(self.tree.names, self.lengths.tolist(), strict=True):
            part = self.part_of.get(name, name)
            lengths[part] = lengths.get(part, 0.0) + length
        return lengths

    def with_folds(self, folds: Sequence[Fold]) -> CreasePattern:
        """Return the same pattern with other folds."""
        return replace(self, folds=tuple(folds))


def _check_shapes(pattern: CreasePattern) -> None:
    v, e = len(pattern.points), len(pattern.edges)
    if pattern.points.shape != (v, 2) or pattern.edges.shape != (e, 2) or e < 4:
        raise PatternError("points and edges of a crease pattern are (v, 2) and (e, 2) arrays")
    if not (np.isfinite(pattern.points).all() and np.isfinite(pattern.heights).all()):
        raise PatternError("a vertex of the crease pattern is not finite")
    if len(pattern.roles) != e or len(pattern.folds) != e:
        raise PatternError(
            f"{len(pattern.roles)} roles and {len(pattern.folds)} folds for {e} edges"
        )
    if pattern.heights.shape != (v,) or len(pattern.tree_points) != v:
        raise PatternError(
            f"{len(pattern.heights)} heights and {len(pattern.tree_points)} tree points for {v} vertices"
        )
    if pattern.edges.min() < 0 or pattern.edges.max() >= v:
        raise PatternError("an edge ends at a vertex that is not there")
    if any(not 0 <= k < v for loop in pattern.faces for k in loop):
        raise PatternError("a face has a vertex that is not there")
    tolerance = SAME_POINT * pattern.sheet.diagonal
    size = (pattern.sheet.width, pattern.sheet.height)
    if pattern.points.min() < -tolerance or (pattern.points > np.add(size, tolerance)).any():
        raise PatternError("a vertex lies off the sheet")


def _check_words(pattern: CreasePattern) -> None:
    for word, known in ((pattern.roles, ROLES), (pattern.folds, FOLDS)):
        strange = set(word) - set(known)
        if strange:
            raise PatternError(f'"{strange.pop()}" is none of {", ".join(known)}')
    if any(
        (r == "border") != (f == "B") for r, f in zip(pattern.roles, pattern.folds, strict=True)
    ):
        raise PatternError('fold "B" belongs to the border, and to it alone')


def _check_tree(pattern: CreasePattern) -> None:
    tree = pattern.tree
    if pattern.lengths.shape != (len(tree.names),) or not (pattern.lengths > 0).all():
        raise PatternError("every flap and river of the tree needs a length above zero")
    if set(pattern.tips) != set(tree.flaps):
        raise PatternError("every flap of the tree needs the vertex of its tip")
    if not set(pattern.fillers) <= set(tree.flaps):
        raise PatternError("a filler is no flap of the tree")
    for edge, offset in pattern.tree_points:
        if not 0 <= edge < len(tree.names):
            raise PatternError("a vertex lies over an edge that the tree does not have")
        tolerance = SAME_POINT * pattern.sheet.diagonal
        if not -tolerance <= offset <= pattern.lengths[edge] + tolerance:
            raise PatternError(f'a vertex lies beyond the ends of "{tree.names[edge]}"')


def _check_cover(pattern: CreasePattern) -> None:
    """Faces of positive area that fill the sheet, joined as a disc: nothing crosses."""
    areas = loop_areas(pattern.points, pattern.faces)
    if not (areas > 0).all():
        raise PatternError("a face has no area or is not counter-clockwise")
    off = abs(float(areas.sum()) - pattern.sheet.area)
    if off > SAME_AREA * pattern.sheet.area:
        raise PatternError(f"the faces miss the sheet's area by {off:.3g}")
    if len(pattern.points) - len(pattern.edges) + len(pattern.faces) != 1:
        raise PatternError("vertices, edges and faces are no disc: V - E + F is not 1")
    single = (pattern.edge_faces < 0).any(axis=1)
    if (single != np.array([role == "border" for role in pattern.roles])).any():
        raise PatternError("an edge has not the number of faces that its role asks for")
