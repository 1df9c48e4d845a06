"""A fold guide as JSON, so that anyone can check it without us; and read back in short."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from packer.errors import PackingError
from packer.files.json_values import (
    as_finite,
    as_list,
    as_object,
    as_point,
    as_positive,
    check_keys,
    json_object,
    shown,
)
from packer.files.text import read_as
from packer.landmarks.alignments import ALIGNMENTS
from packer.landmarks.guide_brief import GuideBrief
from packer.landmarks.pleating import as_written
from packer.landmarks.sequence import CORNERS, EDGES
from packer.landmarks.wording import instruction, marks_made, used_names

if TYPE_CHECKING:
    from pathlib import Path

    from packer.landmarks.fold_guide import FoldGuide
    from packer.landmarks.pleating import PartPleats
    from packer.landmarks.sequence import Landmarks, Mark


FORMAT: Final = "packer.guide"
VERSION: Final = 1

LARGEST_GUIDE: Final = 64 * 2**20
"""Largest guide read, in bytes. A stage holds the whole sheet: 1 MB where it has 5118 creases."""

GUIDE_AGAIN: Final = "; make the guide again with packer guide"
"""The remedy for what no packer has written."""

_READ: Final = (
    "sheet", "steps", "tips", "unmarked", "precreasing", "stages", "together", "togetherBefore",
    "pleats",
)  # fmt: skip


def guide_text(guide: FoldGuide, command: str = "") -> str:
    """Return a guide as the text of a JSON file; `command` is the line of a shell that made it.

    Coordinates, lines and errors are in the units of the pattern's sheet, lower left origin, y up;
    ``mmPerUnit`` makes them millimetres. A line is ``[a, b, c]`` with ``a x + b y = c``. A step's
    ``uses`` names marks and lines in the order of its alignment; what a bare sheet has is under
    ``given``. An ``error`` is the root mean square distance to be expected by hand. ``distance`` is
    a share of the sheet's shorter side. Tips under ``unmarked`` have no mark: they are measured at
    the place given. ``onGrid`` says that the steps divide the sheet into a grid, whose crossings are all
    known to the pre-creasing. The stages fold ``collapse``: the pattern, cut by the lines along which
    polygons wait folded in half; ``edgeOf`` and ``faceOf`` tell the edge and face of the pattern,
    null for such a line, and ``rank`` the faces' layers from the lowest up. The folds of ``pleats`` come after the base: ``seen`` is the
    fold through all layers as seen from the base's front, ``fold`` that of each line on the open
    sheet seen from its front, ``side`` what its layer shows in the base, ``along`` the distance
    from the joint ``start``, or from the tip where that is null.
    """
    pattern = guide.pattern
    record = {
        "format": FORMAT,
        "version": VERSION,
        **({"command": command} if command else {}),
        "title": pattern.title,
        "sheet": {
            "width": pattern.sheet.width,
            "height": pattern.sheet.height,
            "mmPerUnit": guide.mm,
        },
        "within": guide.within / guide.mm,
        "alignments": {str(k): words for k, words in ALIGNMENTS.items()},
        "onGrid": guide.on_grid,
        **_landmarks(guide),
        "precreasing": _precreasing(guide),
        "collapse": _collapse(guide),
        "stages": _stages(guide),
        "togetherBefore": guide.before,
        "together": guide.most_together,
        "pleats": [_pleats(part) for part in guide.pleats],
    }
    rows = (f"{_json(key)}: {_json(value)}" for key, value in record.items())
    return "{\n" + ",\n".join(rows) + "\n}\n"


def _pleats(part: PartPleats) -> dict[str, Any]:
    return {
        "part": part.name,
        "start": part.start,
        "folds": [
            {
                "pleat": one.pleat,
                "seen": one.fold,
                "along": one.along,
                "lines": [
                    {
                        "ends": [list(end) for end in line.ends],
                        "fold": line.fold,
                        "side": "back" if back else "front",
                    }
                    for line, back in zip(one.lines, one.backs, strict=True)
                ],
            }
            for one in part.folds
        ],
    }


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def _landmarks(guide: FoldGuide) -> dict[str, Any]:
    made = guide.landmarks
    lines = made.lines.tolist()
    corners = {mark.name: list(mark.at) for mark in made.marks.values() if mark.name in CORNERS}
    return {
        "given": {"lines": dict(zip(EDGES, lines[:4], strict=True)), "marks": corners},
        "axis": None if made.axis is None else list(made.axis),
        "steps": [_step(made, k) for k in range(len(made.steps))],
        "tips": {name: _tip(guide, made, name) for name in made.tips},
        "unmarked": {name: list(at) for name, at in made.unmarked.items()},
    }


def _step(made: Landmarks, number: int) -> dict[str, Any]:
    step = made.steps[number]
    return {
        "id": made.name_of(number + 4),
        "alignment": step.alignment,
        "uses": used_names(made, step),
        "line": made.lines[number + 4].tolist(),
        "marks": [_mark(made, mark) for mark in made.made_by(number)],
        "mirrorOf": made.name_of(step.image + 4) if step.image >= 0 else None,
        "text": f"{instruction(made, number)} {marks_made(made, number)}".rstrip(),
    }


def _mark(made: Landmarks, mark: Mark) -> dict[str, Any]:
    lines = [made.name_of(line) for line in mark.point]
    return {"id": mark.name, "at": list(mark.at), "of": lines, "error": mark.error}


def _tip(guide: FoldGuide, made: Landmarks, name: str) -> dict[str, Any]:
    tip = made.tips[name]
    at = guide.pattern.points[guide.pattern.tips[name]].tolist()
    shorter = min(made.sheet.width, made.sheet.height)
    return {
        "mark": made.marks[tip.point].name,
        "at": at,
        "distance": tip.distance / shorter,
        "error": tip.error,
    }


def _precreasing(guide: FoldGuide) -> list[dict[str, Any]]:
    """Return every straight crease of the pattern, by levels."""
    pattern = guide.pattern
    order = sorted(range(len(guide.precreases)), key=lambda k: (guide.precreases[k].level, k))
    names = {v: name for name, v in pattern.tips.items()}
    rows = []
    for number in order:
        one = guide.precreases[number]
        crease = one.crease
        ends = pattern.points[list(crease.ends)]
        rows.append(
            {
                "id": f"p{number}",
                "role": crease.role,
                "how": one.how,
                "level": one.level,
                "alignment": one.alignment or None,
                "points": [
                    {
                        "at": pattern.points[v].tolist(),
                        "tip": names.get(v),
                        "crossingOf": [f"p{k}" for k in crossing],
                    }
                    for v, crossing in zip(one.points, one.crossings, strict=True)
                ],
                "lines": [f"p{k}" for k in one.lines],
                "measured": [
                    {
                        "at": pattern.points[m.vertex].tolist(),
                        "along": f"p{m.along}",
                        "from": pattern.points[m.start].tolist(),
                        "length": _apart(guide, m.vertex, m.start),
                    }
                    for m in one.measured
                ],
                "line": crease.line.tolist(),
                "ends": ends.tolist(),
                "folds": [pattern.folds[edge] for edge in crease.edges],
                "vertices": list(crease.vertices),
                "edges": list(crease.edges),
                "mirror": f"p{one.image}" if one.image != number else None,
            }
        )
    return rows


def _apart(guide: FoldGuide, a: int, b: int) -> float:
    return float(np.hypot(*(guide.pattern.points[a] - guide.pattern.points[b])))


def _collapse(guide: FoldGuide) -> dict[str, Any]:
    """Return the pattern that the stages fold: with the lines that polygons are halved along."""
    halved = guide.halved
    return {
        "vertices": halved.pattern.points.tolist(),
        "edges": halved.pattern.edges.tolist(),
        "faces": [list(loop) for loop in halved.pattern.faces],
        "edgeOf": [None if k < 0 else k for k in halved.edge_of.tolist()],
        "faceOf": halved.face_of.tolist(),
    }


def _stages(guide: FoldGuide) -> list[dict[str, Any]]:
    return [
        {
            "polygons": len(stage.polygons),
            "halved": len(stage.halved),
            "together": stage.together,
            "moving": np.flatnonzero(stage.moving).tolist(),
            "folded": np.flatnonzero(stage.form.folded).tolist(),
            "open": np.flatnonzero(stage.still_open).tolist(),
            "positions": stage.form.positions.tolist(),
            "layerOrder": "not found" if stage.order is None else "valid",
            "rank": None if stage.order is None else stage.order.of_faces.tolist(),
        }
        for stage in guide.stages
    ]


def read_guide(path: Path | str) -> GuideBrief:
    """Read a guide in short.

    Raises
    ------
    ReadError
        Where the file cannot be read or is no guide of a known version.
    PackingError
        Where an entry is wrong.
    """
    return read_as(path, "a guide such as crab.guide.json", parse_guide, LARGEST_GUIDE)


def parse_guide(text: str) -> GuideBrief:
    """Make a guide in short of the text of its file; errors as of `read_guide`."""
    record = json_object(text, FORMAT, VERSION)
    check_keys(record, _READ, remedy=GUIDE_AGAIN)
    sheet = as_object(record["sheet"], "sheet")
    width, height, mm = (
        as_positive(sheet.get(key), f"sheet.{key}") for key in ("width", "height", "mmPerUnit")
    )
    steps = _rows(record, "steps")
    tips = {
        name: as_object(row, f"tips.{name}")
        for name, row in as_object(record["tips"], "tips").items()
    }
    unmarked = as_object(record["unmarked"], "unmarked")
    places = {name: row.get("at") for name, row in tips.items()} | unmarked
    creased = [
        row for row in _rows(record, "precreasing") if row.get("how") in {"folded", "measured"}
    ]
    return GuideBrief(
        size=(width, height),
        mm=mm,
        places={name: as_point(at, f"tips.{name}", GUIDE_AGAIN) for name, at in places.items()},
        creases=tuple(map(_words, steps)),
        steps=sum(row.get("mirrorOf") is None for row in steps),
        off=_most(tips, "distance") * min(width, height) * mm,
        error=_most(tips, "error") * mm,
        unmarked=tuple(unmarked),
        levels=len({shown(row.get("level")) for row in creased}),
        precreased=len(creased),
        measured=sum(
            len(as_list(row.get("measured"), "precreasing.measured")) for row in creased
        ),
        collapse=sum(row.get("how") == "collapse" for row in _rows(record, "precreasing")),
        stages=len(_rows(record, "stages")),
        together=_count(record["together"], "together"),
        before=_count(record["togetherBefore"], "togetherBefore"),
        pleats=_pleated(_rows(record, "pleats")),
    )


def _rows(record: dict[str, Any], key: str) -> list[dict[str, Any]]:
    return [as_object(row, key) for row in as_list(record[key], key)]


def _words(step: dict[str, Any]) -> str:
    words = step.get("text")
    if not isinstance(words, str):
        raise PackingError(f"{shown(words)} is no text{GUIDE_AGAIN}", "steps.text")
    return words


def _most(tips: dict[str, dict[str, Any]], key: str) -> float:
    numbers = (
        as_finite(row.get(key), f"tips.{name}.{key}", GUIDE_AGAIN) for name, row in tips.items()
    )
    return max(numbers, default=0.0)


def _count(value: object, entry: str) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or value < 0:
        raise PackingError(f"{shown(value)} is no number of creases{GUIDE_AGAIN}", entry)
    return value


def _pleated(rows: list[dict[str, Any]]) -> dict[str, int]:
    """Return how many pleats each part has; twins, which are pleated alike, are one."""
    return {
        as_written(str(row.get("part"))): len(as_list(row.get("folds"), "pleats.folds")) // 2
        for row in rows
    }
