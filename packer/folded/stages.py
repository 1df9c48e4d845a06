"""The collapse in stages: what folds flat while the rest waits.

An axial crease that joins two tips on the border runs straight through the sheet and cuts it into
two regions. One of them can be folded flat along it while the other still lies open, if the tree's
path between the two tips is laid out straight: a joint on it folds later. Crosswise cuts do not
exist, since active paths do not cross; so the regions hang together as a tree, and the collapse
goes from its leaves inwards.

Within a region no part can lie open, since at a tip inside the sheet an open corner beside folded
ones breaks Kawasaki's theorem. But polygons that reach the sheet's edge can wait folded in half
(`packer.folded.halving`): the region comes together with all of those that can wait, and then they
are folded one by one, as petal folds follow a preliminary base.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from packer.folded.checks import folds_flat
from packer.folded.difficulty import together
from packer.folded.flat_states import Parts, can_fold, flat_state
from packer.folded.layers import LayerOrder
from packer.folded.overlaps import layers_of
from packer.folded.stage_order import layer_order

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
    pattern
        The creases with the lines along which polygons are folded in half, alike in all stages; its
        last stage is the base.
    polygons
        The polygons of active paths that are folded flat in it.
    halved
        Those that are folded in half in it.
    moving
        (e,) whether an edge is folded, or folded back open, in this stage.
    form
        The sheet at the end of the stage, folded flat; what is open lies as the sheet lay.
    waiting
        (f,) whether a face lies open or in a halved polygon at its end.
    still_open
        (f,) whether a face lies open at its end.
    together
        How many straight creases come at once, as `packer.folded.difficulty` counts.
    order
        The layer order at its end; None where none is known.
    """

    pattern: CreasePattern
    polygons: tuple[int, ...]
    halved: tuple[int, ...]
    moving: NDArray[np.bool_]
    form: FoldedForm
    waiting: NDArray[np.bool_]
    still_open: NDArray[np.bool_]
    together: int
    order: LayerOrder | None


State = tuple[frozenset[int], frozenset[int]]
"""The polygons folded flat, and those folded in half."""


def stages(pattern: CreasePattern, base: LayerOrder | None = None) -> tuple[Stage, ...]:
    """Return the stages in which a pattern collapses, from the outermost regions inwards.

    Regions that are mirror images of each other are separate stages. The last stage ends in the
    base. Every other state is flat-foldable at every vertex and has a valid layer order; what has
    none comes together with the next. A pattern without such states has one stage.

    Parameters
    ----------
    pattern
        A uniaxial base's creases.
    base
        The layer order of the base, where one is known.
    """
    parts = Parts.of(pattern)
    made: list[Stage] = []
    before: State = frozenset(), frozenset()
    rows = _states(parts)
    for number, state in enumerate(rows, 1):
        last = number == len(rows)
        form = flat_state(parts, *state)
        order = _base_order(parts, form, base) if last else _order_of(parts, form)
        if last or order is not None:
            made.append(_stage(parts, before, state, form, order, made))
            before = state
    return tuple(made)


def _stage(
    parts: Parts,
    before: State,
    state: State,
    form: FoldedForm,
    order: LayerOrder | None,
    made: Sequence[Stage],
) -> Stage:
    refined = parts.halved.pattern
    moving = form.folded != made[-1].form.folded if made else form.folded
    polygons = parts.polygon_of[parts.halved.face_of]
    folded, halved = state
    return Stage(
        refined,
        tuple(sorted(folded - before[0])),
        tuple(sorted(halved - before[1])),
        moving,
        form,
        ~np.isin(polygons, sorted(folded)),
        ~np.isin(polygons, sorted(folded | halved)),
        together(refined, replace(form, folded=moving)),
        order,
    )


def _order_of(parts: Parts, form: FoldedForm) -> LayerOrder | None:
    """Return a layer order of a state, None where it is not flat or none was found."""
    refined = parts.halved.pattern
    return layer_order(refined, form) if folds_flat(refined, form) else None


def _base_order(
    parts: Parts, form: FoldedForm, base: LayerOrder | None
) -> LayerOrder | None:
    """Return the layer order of the base as one of the pattern with its halving lines."""
    if base is None:
        return None
    layers = layers_of(parts.halved.pattern, form)
    rank = np.zeros(len(layers.regions), dtype=np.intp)
    rank[layers.layer_of] = base.of_faces[parts.halved.face_of]
    return LayerOrder(layers, rank)


def _states(parts: Parts) -> list[State]:
    """Return the states that may lie on the way, the base last."""
    states: list[State] = []
    folded: frozenset[int] = frozenset()
    for group in _order(parts):
        own = parts.polygons_in(group)
        halved = _waiting(parts, folded, own)
        states.append((folded | (own - halved), halved))
        while halved:
            folded = states[-1][0]
            ways = [k for k in sorted(halved) if can_fold(parts, folded | {k})]
            one = frozenset(ways[:1]) or halved
            halved = halved - one
            states.append((folded | one, halved))
        folded = states[-1][0]
    return states


def _waiting(
    parts: Parts, folded: frozenset[int], own: frozenset[int]
) -> frozenset[int]:
    """Return polygons of a region that can wait folded in half while the others are folded."""
    waiting = own & frozenset(parts.halved.lines)
    while waiting and not can_fold(parts, folded | (own - waiting)):
        ways = [k for k in sorted(waiting) if can_fold(parts, folded | (own - waiting) | {k})]
        waiting -= {(ways or sorted(waiting))[0]}
    return waiting


def _order(parts: Parts) -> list[frozenset[int]]:
    """Return the regions in groups, from the leaves of their tree to the one that comes last.

    The last is the one with the most faces. A region waits where it cannot be folded while the
    others lie open; what must wait to the end comes with the last.
    """
    of = parts.regions
    sizes = np.bincount(of.of_face, minlength=of.count)
    last = int(sizes.argmax())
    depth = _depths(of, last)
    waiting = sorted(set(range(of.count)) - {last}, key=lambda r: (-depth[r], sizes[r], r))
    order: list[frozenset[int]] = []
    folded: set[int] = set()
    while waiting:
        for region in waiting:
            tried = folded | {region}
            inside = all(_beyond(of, n, depth) <= tried for n in tried)
            if inside and can_fold(parts, parts.polygons_in(tried)):
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
