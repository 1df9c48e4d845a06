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

from packer.model.regions import MANY_TIPS, discs_together
from packer.model.tree import node_distances
from packer.planning.sampled_hinges import sampled_hinges

if TYPE_CHECKING:
    from collections.abc import Iterable

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
    on_sheet = packing.sheet_lengths
    widths = {name: SLENDER * on_sheet[name] for name in packing.tree.flaps}
    if width is None:
        return widths
    return {name: min(width, natural) for name, natural in widths.items()}


def hinge_lengths(packing: Packing) -> dict[tuple[str, str], float]:
    """Return the length of the hinge curve of each part at each of its joints, in sheet units.

    Keys are (joint, part). The curve bounds the discs, round all tips beyond the part, that
    reach as far as the joint; what the sheet's edge cuts off is not there.
    """
    tree = packing.tree
    n = tree.n_tips
    if n > MANY_TIPS:
        lengths = _outlines(packing, range(n)) | sampled_hinges(packing)
    else:
        lengths = _outlines(packing, range(len(tree.names)))
    return {
        (tree.joints[joint - n], tree.names[edge]): length
        for (joint, edge), length in lengths.items()
    }


def _outlines(packing: Packing, edges: Iterable[int]) -> dict[tuple[int, int], float]:
    """Return the length of the hinge curve of some edges, by joint (as a node) and edge."""
    tree, n = packing.tree, packing.tree.n_tips
    far = node_distances(tree, np.array(packing.lengths)) * packing.scale
    width, height = packing.sheet.width, packing.sheet.height
    lengths: dict[tuple[int, int], float] = {}
    for edge in edges:
        ends = tree.ends[edge].tolist()
        for joint, other in (ends, ends[::-1]):
            if joint >= n:
                tips = np.flatnonzero(far[joint, :n] > far[other, :n]).tolist()
                rim = shapely.boundary(discs_together(packing, tips, far[joint, tips]))
                curve = shapely.clip_by_rect(rim, 0, 0, width, height)
                lengths[joint, edge] = float(curve.length)
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
    parts_at: dict[str, list[str]] = {}
    for joint, name in hinges:
        parts_at.setdefault(joint, []).append(name)
    own = set(tree.flaps)
    rows = []
    for joint in tree.joints:
        parts = parts_at[joint]
        flaps = [name for name in parts if name in own]
        natural = SLENDER * max(on_sheet[name] for name in flaps or parts)
        across = natural if width is None else min(width, natural)
        total = sum(hinges[joint, name] for name in parts)
        rows.append(JointLayers(joint, across, total / across))
    return tuple(sorted(rows, key=lambda row: (-row.layers, row.joint)))
