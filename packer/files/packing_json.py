"""The packing file: a packing with its figure and all that follows from it, as JSON."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final, cast

from packer.errors import PackerError, PackingError, did_you_mean
from packer.files.figure_record import figure_of, record_of, sheet_of, sheet_record
from packer.files.json_values import (
    REPACK,
    as_finite,
    as_list,
    as_object,
    as_point,
    as_positive,
    as_rivers,
    by_name,
    check_keys,
    json_lines,
    json_object,
    rule_of,
    shown,
)
from packer.files.text import read_as
from packer.model.packing import Bound, Packing, SearchRecord
from packer.model.problem import Problem
from packer.model.regions import efficiency, paper_taken
from packer.units import HOLDS

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from packer.model.figure import Symmetry

FORMAT: Final = "packer.packing"
VERSION: Final = 1

MOST_STRAYED: Final = 1e3
"""Length used against length asked for, or the other way round: far beyond any flex."""

_REQUIRED: Final = (
    "format", "version", "figure", "sheet", "symmetry", "scale", "tips", "lengths", "active",
    "loose", "kinds", "costs", "efficiency", "search",
)  # fmt: skip


def packing_text(packing: Packing, command: str = "", advice: Sequence[str] = ()) -> str:
    """Return a packing as the text of a packing file; reading it gives an equal packing.

    Besides the record it holds `paper`, the share of the sheet that each part takes.

    Parameters
    ----------
    packing
        The packing.
    command
        The line of a shell that made it, if any.
    advice
        What was told of it, in sentences.
    """
    record = packing_record(packing) | {"paper": paper_taken(packing)}
    if command:
        record["command"] = command
    if advice:
        record["advice"] = list(advice)
    return json_lines(record)


def packing_record(packing: Packing) -> dict[str, Any]:
    """Return a packing as plain keys and values.

    Besides what `read_packing` needs, the record holds what follows from it: scale, active
    paths, loose flaps, kinds, `costs` (the derivative of the scale by each length: what follows
    from them, such as the gain of a shorter part, holds to first order, and packing again may
    reach less), `efficiency` (the share of the sheet inside discs and rivers) and `headroom`.
    """
    names = packing.tree.names
    flaps = packing.tree.flaps
    record = {
        "format": FORMAT,
        "version": VERSION,
        "figure": record_of(packing.figure),
        "sheet": sheet_record(packing.sheet),
        "symmetry": packing.symmetry,
        "scale": packing.scale,
        "tips": {name: list(tip) for name, tip in zip(flaps, packing.tips, strict=True)},
        "lengths": dict(zip(names, packing.lengths, strict=True)),
        "active": [list(pair) for pair in packing.active],
        "loose": list(packing.loose),
        "slack": {flaps[tip]: length for tip, length in packing.slack},
        "kinds": packing.kinds,
        "costs": packing.costs,
        "efficiency": efficiency(packing),
        "stress": [[flaps[i], flaps[j], value] for i, j, value in packing.stress],
        "split_rivers": list(packing.split_rivers),
    }
    if packing.bound is not None:
        record["upper_bound"] = packing.bound.scale
        record["bound_rule"] = packing.bound.rule
        record["headroom"] = packing.headroom
    record["search"] = search_record(packing.search)
    return record


def read_packing(path: Path | str) -> Packing:
    """Read a packing file.

    Raises
    ------
    ReadError
        Where the file cannot be read or is no packing file of a known version.
    PackingError, FigureError, SheetError
        Where an entry is wrong or the tips do not give the scale it claims.
    """
    return read_as(path, "a packing file such as crab.packing.json", parse_packing)


def parse_packing(text: str) -> Packing:
    """Make a packing of the text of a packing file.

    Raises
    ------
    ReadError, PackingError, FigureError, SheetError
        As `read_packing`.
    """
    return packing_of(json_object(text, FORMAT, VERSION))


def packing_of(record: dict[str, Any]) -> Packing:
    """Make a packing of the record of a packing file.

    Raises
    ------
    PackingError, FigureError, SheetError
        As `read_packing`.
    """
    check_keys(record, _REQUIRED)
    packing = _packing(record)
    check_scale(record, packing.scale, "the tips give")
    wrong = packing.violations()
    if wrong:
        raise PackingError(f"{wrong[0]}{REPACK}", "tips")
    return packing


def _packing(record: dict[str, Any]) -> Packing:
    problem = problem_of(record)
    flaps, names = problem.tree.flaps, problem.tree.names
    index = {name: k for k, name in enumerate(flaps)}
    tips = by_name(record["tips"], flaps, "tips")
    lengths = by_name(record["lengths"], names, "lengths")
    slack = as_object(record.get("slack", {}), "slack")
    return Packing(
        problem,
        tips=tuple(as_point(tip, f"tips.{name}") for name, tip in tips.items()),
        lengths=tuple(
            _length(value, f"lengths.{name}", asked)
            for (name, value), asked in zip(
                lengths.items(), problem.tree.lengths.tolist(), strict=True
            )
        ),
        stress=_stress(record.get("stress", []), index),
        slack=tuple(
            (_flap(name, index, "slack"), as_finite(value, f"slack.{name}"))
            for name, value in slack.items()
        ),
        split_rivers=as_rivers(record.get("split_rivers", []), problem.tree.rivers),
        bound=_bound(record),
        search=search_of(as_object(record["search"], "search")),
    )


def _length(value: object, entry: str, asked: float) -> float:
    """Return a length used; it may stray by its flex, and settling gives up some more of it."""
    length = as_positive(value, entry)
    if not 1 / MOST_STRAYED <= length / asked <= MOST_STRAYED:
        raise PackingError(
            f"{length:g} is far from the {asked:g} that the figure asks for{REPACK}", entry
        )
    return length


def problem_of(record: dict[str, Any]) -> Problem:
    """Make the problem of a record: its figure on its sheet, in its symmetry.

    Raises
    ------
    PackingError, FigureError, SheetError
        Where one of them is wrong.
    """
    figure_record = as_object(record["figure"], "figure")
    try:
        figure = figure_of(figure_record)
    except PackerError as error:
        raise type(error)(error.message, f"figure.{error.entry}".rstrip(".")) from None
    return Problem(figure, sheet_of(record["sheet"]), symmetry_of(record["symmetry"]))


def symmetry_of(value: object) -> Symmetry:
    """Return the name of a symmetry in a record."""
    if not isinstance(value, str):
        raise PackingError(f"{shown(value)} is no symmetry{REPACK}", "symmetry")
    return cast("Symmetry", value)  # the problem refuses an unknown one


def check_scale(record: dict[str, Any], scale: float, given: str) -> None:
    """Refuse a record that claims another scale than what follows from it; `given` says from what.

    Raises
    ------
    PackingError
        Where they differ by more than rounding.
    """
    claimed = as_finite(record["scale"], "scale")
    if not math.isclose(claimed, scale, rel_tol=HOLDS):
        raise PackingError(f"it says {claimed:.12g}, and {given} {scale:.12g}{REPACK}", "scale")


def _stress(rows: object, index: dict[str, int]) -> tuple[tuple[int, int, float], ...]:
    forces = []
    for row in as_list(rows, "stress"):
        if not isinstance(row, list) or len(row) != 3:
            raise PackingError(f"{shown(row)} is no [flap, flap, number]{REPACK}", "stress")
        i, j = (_flap(name, index, "stress") for name in row[:2])
        forces.append((i, j, as_finite(row[2], "stress")))
    return tuple(forces)


def _flap(name: object, index: dict[str, int], entry: str) -> int:
    if not isinstance(name, str) or name not in index:
        hint = did_you_mean(name, index) if isinstance(name, str) else ""
        raise PackingError(f"{shown(name)} is no flap of the figure{hint}", entry)
    return index[name]


def _bound(record: dict[str, Any]) -> Bound | None:
    if "upper_bound" not in record:
        return None
    return Bound(as_positive(record["upper_bound"], "upper_bound"), rule_of(record))


def search_record(search: SearchRecord) -> dict[str, Any]:
    """Return how a packing was found as plain keys and values."""
    return {
        "seed": search.seed,
        "starts": search.starts,
        "hits": search.hits,
        "seconds": search.seconds,
        "stopped": search.stopped,
    }


def search_of(record: dict[str, Any]) -> SearchRecord:
    """Make a search record of plain keys and values."""
    check_keys(record, ("seed", "starts", "hits", "seconds", "stopped"), "search")
    for key in ("seed", "starts", "hits"):
        if not isinstance(record[key], int) or isinstance(record[key], bool):
            raise PackingError(
                f"{shown(record[key])} is no whole number{REPACK}", f"search.{key}"
            )
    if not isinstance(record["stopped"], str):
        raise PackingError(f"{shown(record['stopped'])} is no text{REPACK}", "search.stopped")
    return SearchRecord(
        record["seed"],
        record["starts"],
        record["hits"],
        as_finite(record["seconds"], "search.seconds"),
        record["stopped"],
    )
