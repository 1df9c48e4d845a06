"""The packing that a crease pattern is of: the figure's own tips and lengths as built."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from packer.model.packing import Packing

if TYPE_CHECKING:
    from packer.creases.pattern import CreasePattern


def settled_packing(packing: Packing, pattern: CreasePattern) -> Packing:
    """Return a packing with the tips and lengths that its crease pattern has.

    Parameters
    ----------
    packing
        The packing as searched.
    pattern
        Its crease pattern, on a sheet of the same shape.

    Returns
    -------
    Packing
        On the sheet of `packing`; its scale is that of the part that lost most. It has the bound
        and the record of the search, but no stress: settling gives up what held its tips.
    """
    same = packing.sheet.width / pattern.sheet.width
    built = same * np.array([pattern.built[name] for name in packing.tree.names])
    scale = float((built / np.array(packing.lengths)).min())
    tips = same * pattern.points[[pattern.tips[name] for name in packing.tree.flaps]]
    return Packing(
        packing.problem,
        tuple((x, y) for x, y in tips.tolist()),
        tuple((built / scale).tolist()),
        split_rivers=pattern.split_rivers,
        bound=packing.bound,
        search=replace(packing.search, stopped="given"),
    )


def made_from(settled: Packing, packing: Packing) -> bool:
    """Return whether a settled packing was made from a packing: of one problem and one search."""
    return settled.problem == packing.problem and settled.search == replace(
        packing.search, stopped=settled.search.stopped
    )
