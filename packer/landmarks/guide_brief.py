"""A fold guide in short: what a report tells of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from packer.model.sheet import Point


@dataclass(frozen=True)
class GuideBrief:
    """The numbers of a fold guide and its landmark creases in words.

    Attributes
    ----------
    size
        Width and height of the sheet, in the units of its pattern.
    mm
        Millimetres for one unit of the sheet.
    places
        Where each tip lies, in sheet units, by name.
    creases
        The landmark creases in order, each told in sentences.
    steps
        How many steps make them: a crease and its mirror image are one.
    off, error
        How far a mark lies from its tip at most, and may be expected to miss by hand, in mm.
    unmarked
        The tips without a mark.
    levels, precreased, measured
        Levels of pre-creasing, the creases in them, and points to measure on the way.
    collapse
        How many creases can only come in the collapse.
    stages
        How many stages the collapse has.
    together, before
        How many creases come together at once in the largest stage, and without stages.
    pleats
        How many pleats each pleated part gets after the base, by its name as written.
    """

    size: tuple[float, float]
    mm: float
    places: Mapping[str, Point]
    creases: tuple[str, ...]
    steps: int
    off: float
    error: float
    unmarked: tuple[str, ...]
    levels: int
    precreased: int
    measured: int
    collapse: int
    stages: int
    together: int
    before: int
    pleats: Mapping[str, int]
