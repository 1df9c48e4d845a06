"""How many layers of paper lie on each other: at each joint and along each flap and river.

A part of the figure is a stack of faces; across it, at any distance along it, each face takes a
stretch of heights above the axis, and the layers there are the most stretches that share a height.
At a joint the stacks of all parts that meet there count together, all laid to one side, as in the
folded base. Faces, not their order, decide the count; the layer order proves that such a stack can
be folded.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.creases.faces import edges_of_faces, offset_on
from packer.model.tree import walk

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern
    from packer.folded.layers import FlatBase

BESIDE: Final = 1e-3
"""Share of a part's length from its end at which the layers of that end are counted."""


@dataclass(frozen=True)
class PartLayers:
    """The layers along one flap or river of the tree built.

    Attributes
    ----------
    name
        Of the part.
    first, last
        Layers at its two ends: a flap's tip and its joint, a river's two joints.
    middle
        Layers halfway.
    most
        The most at any place along it.
    """

    name: str
    first: int
    middle: int
    last: int
    most: int


@dataclass(frozen=True)
class LayerCount:
    """The layers of a folded base.

    Attributes
    ----------
    joints
        For each joint the layers of all parts that meet there, fillers with them.
    parts
        The layers along each flap and river built, fillers left out.
    """

    joints: Mapping[str, int]
    parts: tuple[PartLayers, ...]

    @property
    def thickest(self) -> tuple[str, int]:
        """The joint with most layers, and how many."""
        joint = max(self.joints, key=lambda name: self.joints[name])
        return joint, self.joints[joint]


def layer_count(pattern: CreasePattern) -> LayerCount:
    """Count the layers of the base that a pattern folds into.

    Raises
    ------
    PatternError
        Where the vertices of a face lie over no common part.
    """
    tree = pattern.tree
    shapes: dict[int, list[NDArray[np.float64]]] = defaultdict(list)
    for edge, loop in zip(edges_of_faces(pattern).tolist(), pattern.faces, strict=True):
        along = [offset_on(pattern, v, edge) for v in loop]
        shapes[edge].append(np.column_stack([along, pattern.heights[list(loop)]]))
    parts = []
    at_joint: dict[int, list[tuple[float, float]]] = defaultdict(list)
    for edge, name in enumerate(tree.names):
        length = float(pattern.lengths[edge])
        faces = shapes[edge]
        sides = sides_of(faces)
        ends = BESIDE * length, (1 - BESIDE) * length
        for node, at in zip(tree.ends[edge].tolist(), ends, strict=True):
            at_joint[node] += stretches(sides, at)
        if name in pattern.fillers:
            continue
        cuts = sorted(
            {round(float(x), 9) for face in faces for x in face[:, 0]} | {0.0, length}
        )
        between = [most_shared(stretches(sides, (a + b) / 2)) for a, b in pairwise(cuts)]
        first, middle, last = (
            most_shared(stretches(sides, at)) for at in (ends[0], length / 2, ends[1])
        )
        parts.append(PartLayers(name, first, middle, last, max(*between, first, last)))
    return LayerCount(
        {joint: most_shared(at_joint[tree.n_tips + k]) for k, joint in enumerate(tree.joints)},
        tuple(parts),
    )


def section(base: FlatBase, joint: int) -> list[tuple[float, float, bool]]:
    """Return the layers just beyond a joint in their order, the lowest first.

    Parameters
    ----------
    base
        A folded pattern with a layer order.
    joint
        Node of the pattern's tree; the parts that lead away from the root are cut.

    Returns
    -------
    list of (least height, greatest height, whether the back shows from the front)
    """
    pattern, order = base.pattern, base.order
    assert order is not None
    tree = pattern.tree
    beyond = {e for _, parent, e in walk(tree, base.form.root) if parent == joint}
    layers_beyond = []
    for face, (edge, loop) in enumerate(
        zip(edges_of_faces(pattern).tolist(), pattern.faces, strict=True)
    ):
        if edge not in beyond:
            continue
        along = np.array([offset_on(pattern, v, edge) for v in loop])
        length = float(pattern.lengths[edge])
        at = BESIDE * length if tree.ends[edge, 0] == joint else (1 - BESIDE) * length
        shape = np.column_stack([along, pattern.heights[list(loop)]])
        rank, back = int(order.of_faces[face]), bool(base.form.flipped[face])
        layers_beyond += [
            (rank, low, high, back) for low, high in stretches(sides_of([shape]), at)
        ]
    return [(low, high, back) for _, low, high, back in sorted(layers_beyond)]


def sides_of(faces: list[NDArray[np.float64]]) -> NDArray[np.float64]:
    """Return (sides, 5) the number of the face of each side, where it begins and where it ends.

    Parameters
    ----------
    faces
        (k, 2) corners as distance along the part and height above the axis.
    """
    ends = [np.roll(face, -1, axis=0) for face in faces]
    number = np.repeat(np.arange(len(faces)), [len(face) for face in faces])
    none = np.zeros((0, 2))
    return np.column_stack(
        [number, np.concatenate([none, *faces]), np.concatenate([none, *ends])]
    )


def stretches(sides: NDArray[np.float64], at: float) -> list[tuple[float, float]]:
    """Return the heights that each convex face takes at one distance along its part.

    Parameters
    ----------
    sides
        Of the faces, as `sides_of` gives them.
    at
        Where; not at a corner.
    """
    face, x, z, u, w = sides[(sides[:, 1] < at) != (sides[:, 3] < at)].T
    if not len(face):
        return []
    heights = z + (at - x) / (u - x) * (w - z)
    starts = np.flatnonzero(np.diff(face, prepend=-1))
    low, high = np.minimum.reduceat(heights, starts), np.maximum.reduceat(heights, starts)
    return list(zip(low.tolist(), high.tolist(), strict=True))


def most_shared(rows: list[tuple[float, float]]) -> int:
    """Return the greatest number of stretches that share more than a point."""
    events = sorted([(low, 1) for low, _ in rows] + [(high, -1) for _, high in rows])
    most = now = 0
    for _, step in events:
        now += step
        most = max(most, now)
    return most
