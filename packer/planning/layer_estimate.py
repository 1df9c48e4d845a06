"""How many layers lie on each other, estimated from a packing alone.

The model. A hinge of the base is a closed or cut-off curve on the sheet: around a flap it is the
rim of its disc, a quarter, half or whole circle. In the folded form the curve lies to and fro
across the flap, once for each layer, and so layers = length of the curve / width of the flap.
At a joint the hinges of all its flaps and rivers lie on each other.

What it is good for. For the classic bases it comes out right to a twentieth: each corner flap of
the bird base has 4 layers, the four together 16, the middle flap of the frog base 16. It knows
nothing of a pattern's creases, of fillers or of sinks.

What it is not. It is the mean over the width of one joint. What a folded form counts (`most` of
`packer.folded.overlaps.Layers`) is the most at any one point: all branches of the base lie on each
other there, fillers with them, and at the axis also the narrowest folds. On samples the count was
from 0.7 to 3.7 times the estimate. The number of fillers, on which it depends, is not known
before the creases are.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
import shapely

from packer.model.regions import QUARTER_SEGMENTS, sheet_region
from packer.model.tree import node_distances

if TYPE_CHECKING:
    from packer.model.packing import Packing

SLENDER: Final = math.tan(math.radians(22.5))
"""Width of a flap as a share of its length: that of the kite, bird and frog base, 0.41.

Designers fold most flaps narrower in the end, and get more layers for it.
"""


@dataclass(frozen=True)
class JointLayers:
    """The layers at one joint.

    Attributes
    ----------
    joint
        Its name.
    width
        Width of the base there, in sheet units.
    layers
        How many layers lie on each other on average over that width, an estimate.
    """

    joint: str
    width: float
    layers: float


def flap_widths(packing: Packing, width: float | None = None) -> dict[str, float]:
    """Return the folded width of each flap in sheet units, by name.

    Parameters
    ----------
    packing
        Any packing.
    width
        A width to fold all flaps to; no flap gets wider than `SLENDER` allows.
    """
    widths = {name: SLENDER * packing.sheet_lengths[name] for name in packing.tree.flaps}
    if width is None:
        return widths
    return {name: min(width, natural) for name, natural in widths.items()}


def hinge_lengths(packing: Packing) -> dict[tuple[str, str], float]:
    """Return the length of the hinge curve of each part at each of its joints, in sheet units.

    Keys are (joint, part). The curve bounds the discs, round all tips beyond the part, that
    reach as far as the joint; what the sheet's edge cuts off is not there.
    """
    tree = packing.tree
    far = node_distances(tree, np.array(packing.lengths)) * packing.scale
    sheet = sheet_region(packing)
    edge = shapely.buffer(sheet.exterior, 1e-9 * packing.sheet.diagonal)
    lengths: dict[tuple[str, str], float] = {}
    for k, name in enumerate(tree.names):
        for joint, other in (tree.ends[k], tree.ends[k][::-1]):
            if joint < tree.n_tips:
                continue
            tips = np.flatnonzero(far[joint, : tree.n_tips] > far[other, : tree.n_tips])
            discs = shapely.union_all(
                shapely.buffer(
                    shapely.points(packing.points[tips]),
                    far[joint, tips],
                    quad_segs=QUARTER_SEGMENTS,
                )
            )
            inside = shapely.difference(
                shapely.boundary(shapely.intersection(discs, sheet)), edge
            )
            lengths[tree.joints[joint - tree.n_tips], name] = float(inside.length)
    return lengths


def joint_layers(packing: Packing, width: float | None = None) -> tuple[JointLayers, ...]:
    """Return the layers at every joint, most first.

    Parameters
    ----------
    packing
        Any packing.
    width
        A width to fold all flaps to, in sheet units. By default the base is at each joint as
        wide as its longest flap (where none is there, its longest river) has it naturally.
    """
    tree = packing.tree
    on_sheet = packing.sheet_lengths
    hinges = hinge_lengths(packing)
    rows = []
    for joint in tree.joints:
        parts = [name for at, name in hinges if at == joint]
        flaps = [name for name in parts if name in tree.flaps]
        natural = SLENDER * max(on_sheet[name] for name in flaps or parts)
        across = natural if width is None else min(width, natural)
        total = sum(hinges[joint, name] for name in parts)
        rows.append(JointLayers(joint, across, total / across))
    return tuple(sorted(rows, key=lambda row: (-row.layers, row.joint)))
