"""The collapse in stages: which parts of a pattern fold flat while the rest lies open.

An axial crease that joins two tips on the border runs straight through the sheet and cuts it into
two regions. One of them can be folded flat along it while the other still lies open, if the tree's
path between the two tips is laid out straight: a joint on it folds later. Crosswise cuts do not
exist, since active paths do not cross; so the regions hang together as a tree, and the collapse
goes from its leaves inwards. What no such crease cuts comes together at once: at a tip inside the
sheet a flat wedge of open paper beside folded corners breaks Kawasaki's theorem.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from packer.folded.difficulty import together
from packer.folded.flat_states import components, flat_state, turned_over
from packer.folded.form import root_of
from packer.folded.regions import polygons_of, regions

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from packer.creases.pattern import CreasePattern
    from packer.folded.form import FoldedForm
    from packer.folded.regions import Regions


@dataclass(frozen=True, eq=False)
class Stage:
    """One stage of a collapse.

    Attributes
    ----------
    regions
        The regions that come together in it.
    polygons
        How many polygons of active paths they hold.
    moving
        (e,) whether an edge is folded, or folded back open, in this stage.
    form
        The sheet at the end of the stage, folded flat; what is open lies as the sheet lay.
    still_open
        (f,) whether a face lies open at its end.
    together
        How many straight creases come at once, as `packer.folded.difficulty` counts.
    """

    regions: tuple[int, ...]
    polygons: int
    moving: NDArray[np.bool_]
    form: FoldedForm
    still_open: NDArray[np.bool_]
    together: int


def stages(pattern: CreasePattern) -> tuple[Stage, ...]:
    """Return the stages in which a pattern collapses, from the outermost regions inwards.

    Regions that are mirror images of each other are separate stages. The last stage ends in the
    base; a pattern without cuts has one stage. Only shapes are judged here: see
    `packer.folded.checks` and `packer.folded.layers` for what a stage's flat state must pass.

    Parameters
    ----------
    pattern
        A uniaxial base's creases.
    """
    parts = regions(pattern)
    root = root_of(pattern)
    polygons = polygons_of(pattern)
    before = np.zeros(len(pattern.edges), dtype=bool)
    folded: frozenset[int] = frozenset()
    made = []
    for group in _order(pattern, parts, root):
        folded = folded | group
        form = flat_state(pattern, parts, folded, root)
        moving = form.folded != before
        before = form.folded
        within = np.isin(parts.of_face, sorted(group))
        made.append(
            Stage(
                tuple(sorted(group)),
                len(np.unique(polygons[within])),
                moving,
                form,
                ~np.isin(parts.of_face, sorted(folded)),
                together(pattern, replace(form, folded=moving)),
            )
        )
    return tuple(made)


def _order(pattern: CreasePattern, parts: Regions, root: int) -> list[frozenset[int]]:
    """Return the regions in groups, from the leaves of their tree to the one that comes last.

    The last is the one with the most faces. A region waits where it cannot be folded while the
    others lie open; what must wait to the end comes with the last.
    """
    sizes = np.bincount(parts.of_face, minlength=parts.count)
    last = int(sizes.argmax())
    depth = _depths(parts, last)
    waiting = sorted(set(range(parts.count)) - {last}, key=lambda r: (-depth[r], sizes[r], r))
    order: list[frozenset[int]] = []
    folded: set[int] = set()
    while waiting:
        for region in waiting:
            tried = folded | {region}
            pieces = components(parts, tried)
            inside = all(_beyond(parts, n, depth) <= tried for n in tried)
            if inside and all(
                turned_over(pattern, parts, p, tried, root) is not None for p in pieces
            ):
                order.append(frozenset({region}))
                folded = tried
                waiting.remove(region)
                break
        else:
            break
    order.append(frozenset(waiting) | {last})
    return order


def _beyond(parts: Regions, region: int, depth: Sequence[int]) -> set[int]:
    """Return the regions that hang on a region, away from the last."""
    return {
        int(b if a == region else a)
        for a, b in parts.beside.tolist()
        if region in (a, b) and depth[b if a == region else a] > depth[region]
    }


def _depths(parts: Regions, start: int) -> list[int]:
    depth = [-1] * parts.count
    depth[start] = 0
    todo = [start]
    for region in todo:
        for a, b in parts.beside.tolist():
            other = b if a == region else a if b == region else region
            if depth[other] < 0:
                depth[other] = depth[region] + 1
                todo.append(other)
    return depth
