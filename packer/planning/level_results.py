"""What each level of detail of a figure costs: the values that `packer.planning.levels` returns."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from packer.planning.layer_estimate import joint_layers
from packer.units import HOLDS, SEARCHES_DIFFER

if TYPE_CHECKING:
    from packer.model.packing import Packing
    from packer.planning.landmark_demand import LandmarkDemand
    from packer.planning.ranking import FoldingDemand


@dataclass(frozen=True)
class LeftOut:
    """One part of a level left out alone.

    Parameters
    ----------
    part
        Its name as written.
    scale
        That of the figure without it, packed again from the level's packing.
    first_order
        Fraction by which the scale would grow by the multipliers of the level's packing, as if
        its length fell to nothing.
    creases_saved
        Creases of the level's pattern less those of this one, both before settling; None where
        one of them was not found.
    """

    part: str
    scale: float
    first_order: float
    creases_saved: int | None = None


@dataclass(frozen=True)
class Level:
    """A figure at one detail, packed on one sheet.

    Parameters
    ----------
    shape
        The sheet as it was asked for.
    detail
        Parts up to this detail are in.
    adds
        The parts, as written, that the coarser level has not.
    packing
        The best found; its bound is also held against coarser levels.
    repeated
        Fraction by which packing it a second time, from where the first ended, made it larger.
    folding
        How hard it is to fold, where that was asked for and its creases were found.
    left_out
        Its parts left out alone, the dearest first.
    untried
        How many more of its parts were not left out.
    landmarks
        What it takes to find its tips by folding, where that was asked for and found.
    """

    shape: str
    detail: int
    adds: tuple[str, ...]
    packing: Packing
    repeated: float = 0.0
    folding: FoldingDemand | None = None
    left_out: tuple[LeftOut, ...] = ()
    untried: int = 0
    landmarks: LandmarkDemand | None = None

    @property
    def uncertainty(self) -> float:
        """Fraction of the scale that the search cannot vouch for.

        What a second search gained, and not less than searches differ by experience; but never
        more than the proven headroom.
        """
        seen = max(self.repeated, SEARCHES_DIFFER)
        headroom = self.packing.headroom
        return seen if headroom is None else min(headroom, seen)

    @cached_property
    def finished(self) -> float:
        """The longest way from tip to tip of the finished figure, its pleats folded, in sheet units."""
        packing = self.packing
        apart = packing.tree.distances_with(np.array(packing.finished_lengths))
        return float(apart.max()) * packing.scale

    @cached_property
    def layers(self) -> float:
        """Layers at the thickest joint, estimated from the lengths of hinge curves."""
        return joint_layers(self.packing)[0].layers

    def gain(self, left_out: LeftOut) -> float:
        """Return the fraction of scale gained by leaving one part out."""
        return left_out.scale / self.packing.scale - 1

    def told_apart(self, left_out: LeftOut) -> bool:
        """Return whether a gain is more than the search's own uncertainty."""
        return self.gain(left_out) > self.uncertainty + HOLDS

    def as_first_order(self, left_out: LeftOut) -> bool:
        """Return whether the gain is there exactly where the multipliers say that there is one.

        They speak of the paths that are active now: other paths soon take over, so that the gain
        is less, and a quite other packing may become the best, so that there is one where they
        say none.
        """
        return self.told_apart(left_out) == (left_out.first_order > self.uncertainty + HOLDS)


@dataclass(frozen=True)
class Levels:
    """A figure at all its details, on one sheet or several.

    Parameters
    ----------
    name
        The figure's.
    levels
        Sheet by sheet, each from the coarsest to the finest.
    seed
        Of all searches.
    complete
        Whether every search ran to its end.
    late
        Whether the time was over before every level was packed once more and without each of the
        parts that were to be left out.
    """

    name: str
    levels: tuple[Level, ...]
    seed: int = 0
    complete: bool = True
    late: bool = False

    def before(self, level: Level) -> Level | None:
        """Return the next coarser level on the same sheet, if there is one."""
        k = self.levels.index(level)
        coarser = self.levels[k - 1] if k else None
        return coarser if coarser and coarser.shape == level.shape else None

    def lost(self, level: Level) -> tuple[float, float, float] | None:
        """Return the share of scale lost against the level before.

        Returns
        -------
        tuple or None
            As found, and the least and the most that the proven bounds leave open; the most is 1
            where there is no bound. None of the coarsest level.
        """
        coarser = self.before(level)
        if coarser is None:
            return None
        here, there = level.packing, coarser.packing
        least = 0.0 if here.bound is None else 1 - here.bound.scale / there.scale
        most = 1.0 if there.bound is None else 1 - here.scale / there.bound.scale
        return 1 - here.scale / there.scale, max(0.0, least), most

    def told_apart(self, level: Level) -> bool:
        """Return whether the loss against the level before is more than both are uncertain."""
        coarser, lost = self.before(level), self.lost(level)
        if coarser is None or lost is None:
            return False
        return lost[0] > coarser.uncertainty + level.uncertainty + HOLDS

    def misordered(self, level: Level) -> tuple[tuple[str, str], ...]:
        """Return pairs of parts that first order ranks the other way round.

        Of each pair the first gained more when both were packed again, by more than the level's
        uncertainty, and less to first order: other paths took over as it shrank.
        """
        tolerance = level.uncertainty + HOLDS
        return tuple(
            (one.part, two.part)
            for one in level.left_out
            for two in level.left_out
            if level.gain(one) > level.gain(two) + tolerance
            and one.first_order < two.first_order
        )

    def dearest(self, level: Level) -> LeftOut | None:
        """Return the part whose leaving out gains most; None where none is told apart."""
        known = [one for one in level.left_out if level.told_apart(one)]
        return max(known, key=level.gain, default=None)


def level_row(levels: Levels, level: Level) -> dict[str, Any]:
    """Return one line of the table as plain keys and values, fit for CSV and JSON.

    Returns
    -------
    dict
        `lost` is the share of scale lost against the level before, `lost_least` and `lost_most`
        what the bounds leave open, `told_apart` whether it is more than the search's uncertainty;
        `length_mm` is the longest way from tip to tip of the finished figure. `creases`,
        `together`, `vertices`, `layers_counted`, `feature` and `given` are of the settled creases,
        None where these were not asked for or not found. `landmarks` counts the creases that find
        all tips, mirror images not counted, `landmark_creases` with them; those and the three in
        mm beside them are None where they were not asked for or not found.
    """
    packing, folding = level.packing, level.folding
    kinds = Counter(packing.kinds.values())
    lost = levels.lost(level) or (None, None, None)
    dearest, mm = levels.dearest(level), packing.sheet.mm_per_unit
    hard = folding and folding.difficulty
    marks = level.landmarks
    return {
        "sheet": level.shape,
        "detail": level.detail,
        "flaps": len(packing.tips),
        "rivers": len(packing.tree.rivers),
        "scale": packing.scale,
        "bound": packing.bound.scale if packing.bound else None,
        "bound_rule": packing.bound.rule if packing.bound else None,
        "headroom": packing.headroom,
        "uncertainty": level.uncertainty,
        "lost": lost[0],
        "lost_least": lost[1],
        "lost_most": lost[2],
        "told_apart": levels.told_apart(level) if lost[0] is not None else None,
        "size": level.finished,
        "length_mm": level.finished * mm if mm else None,
        "corner": kinds["corner"],
        "edge": kinds["edge"],
        "middle": kinds["middle"],
        "loose": len(packing.loose),
        "layers": level.layers,
        "creases": hard.creases if hard else None,
        "together": hard.together if hard else None,
        "vertices": hard.vertices if hard else None,
        "layers_counted": hard.layers if hard else None,
        "feature": hard.feature if hard else None,
        "given": folding.given if folding else None,
        "fillers": folding.fillers if folding else None,
        "angles": hard.angles if hard else None,
        "landmarks": marks.steps if marks else None,
        "landmark_creases": marks.creases if marks else None,
        "landmark_off_mm": marks.off_mm if marks else None,
        "landmark_error_mm": marks.error_mm if marks else None,
        "landmark_side_mm": marks.side_mm if marks else None,
        "repeated": level.repeated,
        "adds": list(level.adds),
        "dearest": dearest.part if dearest else None,
        "dearest_gain": level.gain(dearest) if dearest else None,
        "untried": level.untried,
    }


def left_out_row(level: Level, one: LeftOut) -> dict[str, Any]:
    """Return one part left out alone as plain keys and values."""
    return {
        "part": one.part,
        "scale": one.scale,
        "gain": level.gain(one),
        "told_apart": level.told_apart(one),
        "first_order": one.first_order,
        "as_first_order": level.as_first_order(one),
        "creases_saved": one.creases_saved,
    }
