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

from collections import Counter
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from packer.creases.plane_graph import loop_areas
from packer.folded.checks import folds_flat
from packer.folded.difficulty import together
from packer.folded.flat_states import Parts, can_fold, flat_state
from packer.folded.layers import LayerOrder
from packer.folded.overlaps import layers_of
from packer.folded.stage_order import layer_order

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

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
    halved_now
        Those that lie folded in half at its end.
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
    halved_now: frozenset[int]
    moving: NDArray[np.bool_]
    form: FoldedForm
    waiting: NDArray[np.bool_]
    still_open: NDArray[np.bool_]
    together: int
    order: LayerOrder | None


MOST_TRIED: Final = 8
"""Sets of waiting polygons whose state is looked at, before a region comes together at once."""

MOST_SETS: Final = 200
"""Sets of waiting polygons asked whether their sides can be straight."""


NARROW: Final = 0.006
"""Width of a polygon, as a share of the sheet's shorter side, below which it is no stage by itself: two
millimetres of 350, less than a finger can open and than a picture of a stage shows."""


def stages(
    pattern: CreasePattern,
    base: LayerOrder | None = None,
    progress: Callable[[str], None] | None = None,
) -> tuple[Stage, ...]:
    """Return the stages in which a pattern collapses, from the outermost regions inwards.

    Regions that are mirror images of each other are separate stages. The last stage ends in the
    base. Every other state is flat-foldable at every vertex and has a valid layer order; what has
    none comes together with the next, and so do polygons too narrow to be folded by themselves. A
    pattern without such states has one stage.

    Parameters
    ----------
    pattern
        A uniaxial base's creases.
    base
        The layer order of the base, where one is known.
    progress
        Called with a few words before each stage.
    """
    way = _Way(Parts.of(pattern), base, progress)
    for group in _order(way.parts):
        way.fold_region(way.parts.polygons_in(group))
    way.finish()
    return _merged(way.stages, _widths(way.parts))


def _widths(parts: Parts) -> NDArray[np.float64]:
    """Return the mean width of each polygon: twice its area over its perimeter, as of a thin strip."""
    pattern, of = parts.pattern, parts.polygon_of
    count = int(of.max()) + 1
    area = np.bincount(of, loop_areas(pattern.points, pattern.faces), count)
    ends = pattern.points[pattern.edges]
    lengths = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    around = np.zeros(count)
    beside = np.where(pattern.edge_faces >= 0, of[pattern.edge_faces], -1)
    outer = beside[:, 0] != beside[:, 1]
    for side in beside.T:
        own = outer & (side >= 0)
        around += np.bincount(side[own], lengths[own], count)
    width: NDArray[np.float64] = 2 * np.abs(area) / around
    return width


def _merged(made: Sequence[Stage], widths: NDArray[np.float64]) -> tuple[Stage, ...]:
    """Return stages with those of narrow polygons alone made part of the next, or the last of one."""
    narrow = NARROW * min(made[0].pattern.sheet.width, made[0].pattern.sheet.height)
    groups: list[list[Stage]] = [[]]
    for stage in made:
        groups[-1].append(stage)
        if (widths[[*stage.polygons, *stage.halved]] >= narrow).any():
            groups.append([])
    rest = groups.pop()  # narrow ones at the end come with what is before them
    if groups:
        groups[-1] += rest
    else:
        groups.append(rest)
    kept: list[Stage] = []
    for group in groups:
        kept.append(group[0] if len(group) == 1 else _as_one(group, kept[-1:]))
    return tuple(kept)


def _as_one(group: Sequence[Stage], before: Sequence[Stage]) -> Stage:
    """Return stages that come together, as one that ends as the last of them does."""
    last = group[-1]
    folded = {k for stage in group for k in stage.polygons}
    halved = {k for stage in group for k in stage.halved} - folded
    moving = last.form.folded.copy()
    if before:
        moving = moving != before[-1].form.folded
    return replace(
        last,
        polygons=tuple(sorted(folded)),
        halved=tuple(sorted(halved)),
        moving=moving,
        together=together(last.pattern, replace(last.form, folded=moving)),
    )


class _Way:
    """The stages so far, and the state that the last of them ends in."""

    def __init__(
        self, parts: Parts, base: LayerOrder | None, progress: Callable[[str], None] | None
    ) -> None:
        self.parts, self.base, self.progress = parts, base, progress
        self.stages: list[Stage] = []
        self.folded: frozenset[int] = frozenset()
        self.halved: frozenset[int] = frozenset()
        self.tried: Counter[int] = Counter()
        faces = parts.halved.face_of
        self.like = None if base is None else base.of_faces[faces].astype(float)
        self.all = frozenset(range(int(parts.polygon_of.max()) + 1))

    def fold_region(self, own: frozenset[int]) -> None:
        """Fold a region, if it can be folded now: all that cannot wait, then the rest one by one."""
        folded = self.folded
        for waiting in self._waiting(own):
            if self._go(folded | (own - waiting), waiting):
                break
        while self.halved and own <= self.folded | self.halved:
            # what could not come before is asked last again: most of it waits for all the others
            ways = (
                k
                for k in sorted(self.halved, key=lambda k: (self.tried[k], k))
                if self._go_on(k)
            )
            if next(ways, None) is None:
                break

    def finish(self) -> None:
        """Fold all that is left at once."""
        if self.folded != self.all:
            form = flat_state(self.parts, self.all, frozenset())
            self._add(self.all, frozenset(), form, _base_order(self.parts, form, self.base))

    def _go_on(self, polygon: int) -> bool:
        self.tried[polygon] += 1
        return self._go(self.folded | {polygon}, self.halved - {polygon})

    def _waiting(self, own: frozenset[int]) -> Iterator[frozenset[int]]:
        """Yield sets of polygons of a region that may wait folded in half, the largest first."""
        rows = [own & frozenset(self.parts.halved.lines)]
        seen = set(rows)
        tried = 0
        for waiting in rows:
            if can_fold(self.parts, self.folded | (own - waiting)):
                yield waiting
                tried += 1
                if tried == MOST_TRIED:
                    return
            for polygon in sorted(waiting):
                fewer = waiting - {polygon}
                if fewer not in seen and len(rows) < MOST_SETS:
                    seen.add(fewer)
                    rows.append(fewer)

    def _go(self, folded: frozenset[int], halved: frozenset[int]) -> bool:
        """Add a stage that ends in a state; return whether there is such a state."""
        if folded == self.all:
            self.finish()
            return True
        if not can_fold(self.parts, folded):
            return False
        if self.progress is not None:
            self.progress(f"stage {len(self.stages) + 1} of the collapse")
        form = flat_state(self.parts, folded, halved)
        refined = self.parts.halved.pattern
        order = layer_order(refined, form, self.like) if folds_flat(refined, form) else None
        if order is None:
            return False
        self._add(folded, halved, form, order)
        return True

    def _add(
        self,
        folded: frozenset[int],
        halved: frozenset[int],
        form: FoldedForm,
        order: LayerOrder | None,
    ) -> None:
        refined = self.parts.halved.pattern
        moving = form.folded.copy()
        if self.stages:
            moving = form.folded != self.stages[-1].form.folded
        polygons = self.parts.polygon_of[self.parts.halved.face_of]
        self.stages.append(
            Stage(
                refined,
                tuple(sorted(folded - self.folded)),
                tuple(sorted(halved - self.halved)),
                halved,
                moving,
                form,
                ~np.isin(polygons, sorted(folded)),
                ~np.isin(polygons, sorted(folded | halved)),
                together(refined, replace(form, folded=moving)),
                order,
            )
        )
        self.folded, self.halved = folded, halved


def _base_order(parts: Parts, form: FoldedForm, base: LayerOrder | None) -> LayerOrder | None:
    """Return the layer order of the base as one of the pattern with its halving lines."""
    if base is None:
        return None
    layers = layers_of(parts.halved.pattern, form)
    rank = np.zeros(len(layers.regions), dtype=np.intp)
    rank[layers.layer_of] = base.of_faces[parts.halved.face_of]
    return LayerOrder(layers, rank)


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
