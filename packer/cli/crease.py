"""``packer crease``: turn a packing into a crease pattern that folds, and prove that it does."""

from __future__ import annotations

import json
from dataclasses import replace
from math import inf
from typing import TYPE_CHECKING, Annotated, Any

import typer

from packer.cli.options import (
    HERE,
    ForceOption,
    JsonOption,
    OutOption,
    PackingArgument,
    QuietOption,
    SeedOption,
    stem_of,
)
from packer.cli.output import ProgressLine, check_free, print_table, save, warn
from packer.cli.plan import count_record
from packer.deadline import Deadline
from packer.errors import OptionError, PatternError, did_you_mean
from packer.report.plan_table import layer_heads, layer_rows

if TYPE_CHECKING:
    from packer.creases.settling.settle import Settled
    from packer.folded.checks import Finding
    from packer.folded.difficulty import Difficulty
    from packer.folded.layers import FlatBase

GiveOption = Annotated[
    float,
    typer.Option(
        "--give", metavar="PERCENT", help="Most scale to give up for creases one can fold."
    ),
]
CreaseTimeOption = Annotated[
    float | None,
    typer.Option(
        "--time",
        metavar="SECONDS",
        help="Time for all, at most a tenth of it for the layer order; by default it ends when "
        "nothing better turns up for a while. Ctrl-C ends the stage that runs and keeps its best.",
        show_default=False,
    ),
]
SETTLING = 0.9
"""Share of the time that settling may take; what it leaves is the layer order's."""

ORDERING = 20.0
"""Least time for the layer order, in seconds; it takes below 1 s for most figures."""

FINE = 0.005
"""Share of the shorter side below which a feature calls for advice: 1.5 mm on a sheet of 300 mm."""

LookOption = Annotated[
    str,
    typer.Option(
        "--look",
        metavar="NAME",
        help="role: creases in the colours of their roles; fold: mountains and valleys alone.",
    ),
]


def command(
    packing: PackingArgument,
    give: GiveOption = 2.0,
    time: CreaseTimeOption = None,
    seed: SeedOption = 0,
    look: LookOption = "role",
    out: OutOption = HERE,
    force: ForceOption = False,
    quiet: QuietOption = False,
    json_: JsonOption = False,
) -> None:
    """Make the crease pattern of a packing, check that it folds, and find its layer order."""
    if look not in {"role", "fold"}:
        raise OptionError(
            f'unknown look "{look}"{did_you_mean(look, ["role", "fold"])}', "--look"
        )
    stem = stem_of(packing)
    ends = ("creases.svg", "creases.png", "creases.fold", "settled.packing.json")
    files = [out / f"{stem}.{end}" for end in ends]
    check_free(files, force)

    from packer.creases.settling.settle import settle
    from packer.creases.settling.settling_params import DEFAULT, SHORT_PATIENCE
    from packer.drawing.crease_drawing import crease_drawing
    from packer.drawing.marks.styles import part_colours
    from packer.drawing.plates.crease_plate import crease_plate
    from packer.drawing.writers.png import png_bytes
    from packer.drawing.writers.svg import svg_text
    from packer.files.fold_json import fold_text
    from packer.files.packing_json import packing_text, read_packing
    from packer.folded.checks import findings
    from packer.folded.difficulty import difficulty
    from packer.folded.layer_count import layer_count
    from packer.folded.layers import flat_base
    from packer.folded.pleats import pleat_creases, pleated_parts
    from packer.search.enumeration import pool

    read = read_packing(packing)
    deadline = Deadline.after(inf if time is None else time)
    short = max(2, round(SHORT_PATIENCE / read.tree.n_tips))
    with ProgressLine(quiet) as line:
        settled = settle(
            read,
            give / 100,
            deadline=deadline.share(SETTLING),
            seed=seed,
            params=DEFAULT if time is not None else replace(DEFAULT, patience=short),
            more=pool(read, read.scale * (1 - give / 100), seed),
            progress=lambda now: line.show(
                f"{now.seconds:.0f} s, try {now.tries}, smallest feature {now.feature:.3g}"
            ),
        )
        base = flat_base(
            settled.pattern,
            deadline=Deadline.after(max(ORDERING, min(deadline.left, 60.0))),
            progress=line.show,
        )
    wrong = findings(base.pattern, base.form)
    if wrong:
        raise PatternError(
            f"the pattern does not fold: {wrong[0]}; try another --seed or more --time",
            source=str(packing),
        )
    hard = difficulty(base.pattern, base.form)
    layers = layer_count(base.pattern)
    pleats = pleat_creases(base.pattern, base.form, pleated_parts(settled.packing))
    rows = summary(settled, base, hard, read.split_rivers)
    colours = part_colours(read.tree)
    name = read.figure.name
    chosen: Any = look
    plate = crease_plate(base, chosen, [f"{what}: {value}" for what, value in rows], colours)
    contents = (
        svg_text(crease_drawing(base.pattern, None, chosen, colours)),
        png_bytes(plate),
        fold_text(base, pleats),
        packing_text(settled.packing),
    )
    save(dict(zip(files, contents, strict=True)), force=force, quiet=quiet)
    if base.order is None:
        warn(f"{base.status} in {base.seconds:.0f} s; try another --seed or more --time")
    if json_:
        print(
            json.dumps(
                record(settled, base, hard, wrong) | {"layers": count_record(layers)},
                ensure_ascii=False,
                indent=1,
            )
        )
    elif not quiet:
        print_table([list(row) for row in rows], ["", name], left=(0, 1))
        print_changes(settled)
        print()
        print_table(layer_rows(layers), layer_heads())


def summary(
    settled: Settled, base: FlatBase, hard: Difficulty, expected: tuple[str, ...]
) -> list[tuple[str, str]]:
    """Return the result as pairs of what and how much; `expected` are the packing's split rivers."""
    from packer.report.order_table import stages_words

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
        ("the same in stages", ": ".join(stages_words(pattern, hard.together))),
        ("inner vertices", f"{hard.vertices}"),
        ("most layers", f"{hard.layers}, at the thickest point, all flaps laid to one side"),
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


def _split(found: tuple[str, ...], expected: tuple[str, ...]) -> str:
    text = ", ".join(found) or "none"
    if set(found) == set(expected):
        return text
    return f"{text}; the packing expected {', '.join(expected) or 'none'}"


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
    return {
        "given": settled.given,
        "changes": settled.changes,
        "fillers": list(base.pattern.fillers),
        "splitRivers": list(base.pattern.split_rivers),
        "layerOrder": base.status,
        "repaired": base.repaired,
        "unevenCreases": base.mirrored.uneven,
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
    }
