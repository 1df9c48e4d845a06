"""``packer crease``: turn a packing into a crease pattern that folds, and prove that it does."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass, replace
from math import inf
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from packer.cli.command_line import command_line
from packer.cli.groups import Output
from packer.cli.options import JsonOption, PackingArgument, SeedOption, stem_of, time_option
from packer.cli.output import ProgressLine, print_json, print_table, warn
from packer.deadline import Deadline
from packer.errors import OptionError, PatternError, did_you_mean
from packer.report.plan_table import (
    SIDE_HEADS,
    count_record,
    layer_heads,
    layer_rows,
    side_rows,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from packer.creases.settling.settle import Settled
    from packer.drawing.crease_drawing import Look
    from packer.folded.checks import Finding
    from packer.folded.difficulty import Difficulty
    from packer.folded.layers import FlatBase
    from packer.folded.pleats import PleatCrease
    from packer.model.packing import Packing

GiveOption = Annotated[
    float,
    typer.Option(
        "--give", metavar="PERCENT", help="Most scale to give up for creases one can fold."
    ),
]
CreaseTimeOption = Annotated[
    float | None,
    time_option(
        "Time for all but drawing and writing; a tenth of it, and 5 s at least, is kept for the layer "
        "order; without it the run ends when "
        "nothing better turns up: after seconds for most figures, about 60 s for 80 flaps. Ctrl-C "
        "ends the stage that runs and keeps its best."
    ),
]
ENDS = ("creases.svg", "creases.png", "creases.fold", "settled.packing.json", "base.svg")
"""The ends of the files."""

SETTLING = 0.9
"""Share of the time that settling may take; what it leaves is the layer order's."""

LOOKS = ["role", "fold", "sides"]
"""What the pictures of a crease pattern may show."""

FINE = 0.005
"""Share of the shorter side below which a feature calls for advice: 1.5 mm on a sheet of 300 mm."""

LookOption = Annotated[
    str,
    typer.Option(
        "--look",
        metavar="NAME",
        help="role: creases in the colours of their roles; fold: mountains and valleys alone; "
        "sides: what shows of the paper's front and back, and raw edges, where a layer order is found.",
    ),
]


ColoursOption = Annotated[
    str,
    typer.Option(
        "--paper-colours",
        metavar="FRONT,BACK",
        help="Tones of the paper in the pictures of the base, as #f6e3b4,#5b87a6; the front carries "
        "the pattern.",
        show_default=False,
    ),
]


def tones_of(text: str) -> tuple[str, str]:
    """Return the tones of the paper's front and back that an option names.

    Raises
    ------
    OptionError
        Where it is not two colours.
    """
    if not text:
        return "#F6E3B4", "#5B87A6"
    tones = [word.strip() for word in text.split(",")]
    if len(tones) != 2 or not all(re.fullmatch("#[0-9a-fA-F]{6}", word) for word in tones):
        raise OptionError(
            f'"{text}" is not two colours; write them as #f6e3b4,#5b87a6', "--paper-colours"
        )
    return tones[0], tones[1]


def command(
    packing: PackingArgument,
    give: GiveOption = 2.0,
    time: CreaseTimeOption = None,
    seed: SeedOption = 0,
    look: LookOption = "role",
    paper_colours: ColoursOption = "",
    output: Output = Output(),
    json_: JsonOption = False,
) -> None:
    """Make the crease pattern of a packing, check that it folds, and find its layer order."""
    if look not in LOOKS:
        raise OptionError(f'unknown look "{look}"{did_you_mean(look, LOOKS)}', "--look")
    stem = stem_of(packing)
    tones = tones_of(paper_colours)
    files = output.files(stem, ENDS)

    from packer.files.packing_json import read_packing
    from packer.folded.checks import findings
    from packer.folded.difficulty import difficulty
    from packer.folded.pleats import pleat_creases, pleated_parts

    read = read_packing(packing)
    with ProgressLine(output.quiet, time) as line:
        settled, base = settled_base(read, give / 100, time, seed, line.show)
    wrong = findings(base.pattern, base.form)
    if wrong:
        raise PatternError(
            f"the pattern does not fold: {wrong[0]}; try another --seed or more --time",
            source=str(packing),
        )
    known = base.order.layers if base.order else None
    hard = difficulty(base.pattern, base.form, known)
    pleats = pleat_creases(base.pattern, base.form, pleated_parts(settled.packing))
    rows = summary(settled, base, hard, read.split_rivers) + _pleats_row(pleats)
    chosen: Any = look
    contents = _contents(settled, base, pleats, _Pictures(rows, chosen, tones))
    named = zip(files, contents, strict=True)
    output.save({file: text for file, text in named if text is not None})
    if base.order is None:
        warn(f"{base.status} in {base.seconds:.0f} s; try another --seed or more --time")
    if json_:
        print_json(json.dumps(record(settled, base, hard, wrong), ensure_ascii=False, indent=1))
    elif not output.quiet:
        print_table([list(row) for row in rows], ["", read.figure.name], left=(0, 1))
        print_changes(settled)
        _print_layers(base)


@dataclass(frozen=True)
class _Pictures:
    """What the pictures of a crease pattern show besides it: summary, colours, tones of paper."""

    rows: list[tuple[str, str]]
    look: Look | Literal["sides"]
    tones: tuple[str, str]


def _contents(
    settled: Settled, base: FlatBase, pleats: tuple[PleatCrease, ...], pictures: _Pictures
) -> tuple[str | bytes | None, ...]:
    """Return what goes into the files of a crease pattern, in the order of `ENDS`."""
    from packer.drawing.base_drawing import base_drawing, beside
    from packer.drawing.crease_drawing import crease_drawing
    from packer.drawing.marks.styles import part_colours
    from packer.drawing.packing_drawing import mm_of
    from packer.drawing.plates.crease_plate import crease_plate
    from packer.drawing.sides_drawing import sides_drawing
    from packer.drawing.writers.png import png_bytes
    from packer.drawing.writers.svg import svg_text
    from packer.files.fold_json import fold_text
    from packer.files.packing_json import packing_text

    colours = part_colours(settled.packing.tree)
    look = pictures.look if base.order or pictures.look != "sides" else "role"
    lines = [f"{what}: {value}" for what, value in pictures.rows]
    drawn = base_drawing(base, pictures.tones)
    two_columns = base_drawing(base, pictures.tones, columns=2)
    return (
        svg_text(
            sides_drawing(base, mm_of(base.pattern.sheet), pictures.tones)
            if look == "sides"
            else crease_drawing(base.pattern, None, look, colours)
        ),
        png_bytes(
            beside(crease_plate(base, look, lines, colours, pictures.tones), two_columns)
        ),
        fold_text(base, pleats, command_line()),
        packing_text(settled.packing),
        None if drawn is None else svg_text(drawn),
    )


def _print_layers(base: FlatBase) -> None:
    from packer.folded.layer_count import layer_count
    from packer.folded.paper_sides import paper_sides

    print()
    print_table(layer_rows(layer_count(base.pattern)), layer_heads())
    print()
    print_table(side_rows(paper_sides(base), base.pattern.sheet.mm_per_unit), SIDE_HEADS)


def settled_base(
    read: Packing,
    give: float,
    time: float | None,
    seed: int,
    progress: Callable[[str], None],
) -> tuple[Settled, FlatBase]:
    """Settle a packing and find mountains, valleys and the layer order of its pattern.

    Without a time settling ends when nothing better has turned up for a while.
    """
    from packer.creases.settling.settle import settle
    from packer.creases.settling.settling_params import DEFAULT
    from packer.folded.layers import flat_base, ordering_deadline
    from packer.model.laying import laid
    from packer.search.enumeration import pool

    deadline = Deadline.after(inf if time is None else time)
    short = max(1, round(DEFAULT.short_patience / read.tree.n_tips))
    settled = settle(
        read,
        give,
        deadline=deadline.share(SETTLING),
        seed=seed,
        params=DEFAULT if time is not None else replace(DEFAULT, patience=short),
        more=(
            other if other is None else laid(other)
            for other in pool(read, read.scale * (1 - give), seed)
        ),
        progress=lambda now: progress(f"try {now.tries}, smallest feature {now.feature:.3g}"),
    )
    base = flat_base(settled.pattern, deadline=ordering_deadline(deadline), progress=progress)
    if base.order is None and settled.spare is not None:
        settled = settled.spare
        base = flat_base(
            settled.pattern, deadline=ordering_deadline(deadline), progress=progress
        )
    return settled, base


def summary(
    settled: Settled, base: FlatBase, hard: Difficulty, expected: tuple[str, ...]
) -> list[tuple[str, str]]:
    """Return the result as pairs of what and how much; `expected` are the packing's split rivers."""
    pattern, feature = base.pattern, settled.feature
    x, y = feature.at
    mm = pattern.sheet.mm_per_unit
    size = f"{feature.size * mm:.3g} mm" if mm else f"{feature.size:.3g}"
    share = 100 * feature.size / min(pattern.sheet.width, pattern.sheet.height)
    rows = [
        ("scale given up", f"{max(settled.given, 0.0):.2%}"),
        ("fillers", f"{len(pattern.fillers)}"),
        ("layer order", order_words(base)),
        ("mirrored", str(base.mirrored)),
        ("straight creases", f"{hard.creases}, of which {hard.together} come together at once"),
        ("inner vertices", f"{hard.vertices}"),
        ("most layers", f"{hard.layers}, at the thickest point of the base as drawn"),
        ("distinct directions", f"{hard.angles}"),
        ("middle flaps", f"{hard.middle_flaps}"),
        ("smallest feature", f"{size}, {share:.2f} % of the side, at ({x:.4g}, {y:.4g})"),
        ("finest paper belongs to", ", ".join(feature.parts)),
        ("split rivers", _split(pattern.split_rivers, expected)),
    ]
    if settled.coarser_split:
        coarser = settled.coarser_split * share / feature.size
        rows.append(("with more split rivers", f"smallest feature {coarser:.2f} % of the side"))
    advice = settled.advice(FINE * min(pattern.sheet.width, pattern.sheet.height))
    return rows + ([("advice", advice)] if advice else [])


def order_words(base: FlatBase) -> str:
    """Return the status of a layer order, and how much of it was put in by a search."""
    if base.order is None or not base.repaired:
        return base.status
    return f"{base.status}, {base.repaired} polygons put in by a search"


def _split(split: tuple[str, ...], expected: tuple[str, ...]) -> str:
    text = ", ".join(split) or "none"
    if set(split) == set(expected):
        return text
    return f"{text}; the packing expected {', '.join(expected) or 'none'}"


def _pleats_row(pleats: Sequence[PleatCrease]) -> list[tuple[str, str]]:
    """Return a row that names the pleated parts; none where there is none."""
    parts = ", ".join(dict.fromkeys(pleat.part for pleat in pleats))
    return (
        [("pleats", f"{parts}; made after the base, see print --show pleats")] if parts else []
    )


def print_changes(settled: Settled) -> None:
    """Print by how much each flap and river was made longer or shorter."""
    rows = [
        [name, f"{change:+.2%}"]
        for name, change in settled.changes.items()
        if abs(change) >= 5e-5
    ]
    if rows:
        print()
        print_table(rows, ["part", "length"])


def record(
    settled: Settled, base: FlatBase, hard: Difficulty, wrong: list[Finding]
) -> dict[str, Any]:
    """Return the result as plain keys and values."""
    from packer.folded.layer_count import layer_count

    return {
        "given": settled.given,
        "changes": settled.changes,
        "fillers": list(base.pattern.fillers),
        "splitRivers": list(base.pattern.split_rivers),
        "layerOrder": base.status,
        "repaired": base.repaired,
        "unevenCreases": base.mirrored.unlike,
        "unevenShown": base.mirrored.shown,
        "findings": [str(finding) for finding in wrong],
        "feature": {
            "size": settled.feature.size,
            "at": list(settled.feature.at),
            "parts": list(settled.feature.parts),
        },
        "difficulty": {
            "creases": hard.creases,
            "vertices": hard.vertices,
            "together": hard.together,
            "middleFlaps": hard.middle_flaps,
            "layers": hard.layers,
            "angles": hard.angles,
        },
        "layers": count_record(layer_count(base.pattern)),
    }
