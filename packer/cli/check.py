"""``packer check``: read a figure, say what it is and draw it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from packer.cli.groups import Subject
from packer.cli.options import ForceOption, JsonOption, QuietOption
from packer.cli.output import check_free, print_json, save, visible
from packer.files.figure_record import sheet_record
from packer.numbers import counted

if TYPE_CHECKING:
    from packer.model.figure import Figure, Flap, River
    from packer.model.problem import Problem, Range
    from packer.model.sheet import Sheet

DrawingOption = Annotated[
    Path | None,
    typer.Option(
        "--out",
        metavar="DIR",
        help="Draw the stick figure there, as NAME.figure.svg and NAME.figure.png.",
        show_default=False,
    ),
]


def command(
    subject: Subject,
    out: DrawingOption = None,
    force: ForceOption = False,
    quiet: QuietOption = False,
    json_: JsonOption = False,
) -> None:
    """Check a figure: describe its tree and what it asks for, and draw it."""
    problem, stem = subject.posed()
    files = [] if out is None else [out / f"{stem}.figure.{kind}" for kind in ("svg", "png")]
    check_free(files, force)
    record = description(problem)
    if json_:
        print_json(json.dumps(record, ensure_ascii=False, indent=1))
    elif not quiet:
        _print(problem, record)
    if files:
        from packer.drawing.figure_drawing import figure_drawing
        from packer.drawing.writers.png import png_bytes
        from packer.drawing.writers.svg import svg_text

        drawing = figure_drawing(problem.figure)
        pictures = (svg_text(drawing), png_bytes(drawing))
        save(dict(zip(files, pictures, strict=True)), force=force, quiet=quiet)


def description(problem: Problem) -> dict[str, Any]:
    """Return what can be said of a figure before it is packed, as plain keys and values.

    Returns
    -------
    dict
        Name, sheet, symmetry, number of flaps, pairs, rivers and joints, length of all parts
        together (of paper, where parts have pleats), the longest distance between two tips and the
        tips at its ends; for a figure with finer parts also its levels.
    """
    import numpy as np

    tree = problem.tree
    levels = {"levels": levels} if (levels := _levels(problem.figure)) else {}
    i, j = np.unravel_index(int(tree.distances.argmax()), tree.distances.shape)
    return {
        "name": problem.figure.name,
        "sheet": sheet_record(problem.sheet),
        "symmetry": problem.symmetry,
        "flaps": tree.n_tips,
        "pairs": int((tree.twin[: tree.n_tips] > np.arange(tree.n_tips)).sum()),
        "rivers": len(tree.rivers),
        "joints": len(tree.joints),
        "length": float(tree.lengths.sum()),
        "longest": {
            "ends": [tree.flaps[i], tree.flaps[j]],
            "length": float(tree.distances[i, j]),
        },
        **levels,
    }


def _levels(figure: Figure) -> list[dict[str, Any]]:
    """Return what is left at each detail, with the parts that it adds; none of a plain figure."""
    from packer.errors import FigureError
    from packer.model.tree import tree_of

    if len(figure.details) == 1:
        return []
    lines: list[dict[str, Any]] = []
    for detail in figure.details:
        adds = [part.name for part in figure.parts if part.detail == detail]
        try:
            tree = tree_of(figure.at(detail))
        except FigureError as error:
            lines.append({"detail": detail, "adds": adds, "fault": error.message})
            continue
        lines.append(
            {
                "detail": detail,
                "flaps": tree.n_tips,
                "rivers": len(tree.rivers),
                "length": float(tree.lengths.sum()),
                "adds": adds,
            }
        )
    return lines


def _level_lines(levels: list[dict[str, Any]]) -> list[str]:
    lines = []
    for line in levels:
        adds = "" if line["detail"] == 1 else f", adds {', '.join(line['adds'])}"
        if "fault" in line:
            lines.append(line["fault"])
            continue
        parts = ", ".join(counted(line[f"{part}s"], part) for part in ("flap", "river"))
        lines.append(f"detail {line['detail']}: {parts}, {line['length']:g} long in all{adds}")
    return ["", *lines] if lines else []


def _print(problem: Problem, record: dict[str, Any]) -> None:
    from packer.model.figure import SYMMETRY_NAMES

    pairs = f", {counted(record['pairs'], 'pair')} among them" if record["pairs"] else ""
    inner = ", ".join(counted(record[f"{thing}s"], thing) for thing in ("river", "joint"))
    longest = record["longest"]
    lines = [
        f"{record['name']}: {SYMMETRY_NAMES[problem.symmetry]}, sheet {problem.sheet.describe()}",
        f"{record['flaps']} flaps{pairs}, {inner}; {record['length']:g} long in all",
        f"longest from tip to tip: {longest['length']:g}, between {' and '.join(longest['ends'])}",
        "",
        *_branches(problem),
        *_level_lines(record.get("levels", [])),
    ]
    if notes := _notes(problem):
        lines += ["", *notes]
    for line in lines:
        print(visible(line))


def _branches(problem: Problem) -> list[str]:
    """Draw the tree with one line a part, each indented below the part it grows from."""
    from packer.model.tree import central_joint, walk

    tree = problem.tree
    parts = {part.name: part for part in problem.figure.parts}
    root = central_joint(tree, tree.lengths)
    children: dict[int, list[tuple[int, int]]] = {}
    for node, parent, edge in walk(tree, root):
        children.setdefault(parent, []).append((node, edge))
    lines = [tree.joints[root - tree.n_tips]]
    todo = [(node, edge, "", k) for k, (node, edge) in enumerate(reversed(children[root]))]
    while todo:
        node, edge, indent, from_last = todo.pop()
        bend, on = ("└─ ", "   ") if from_last == 0 else ("├─ ", "│  ")
        wish = " or ".join(_places(problem, edge)) if edge < tree.n_tips else ""
        joint = "" if edge < tree.n_tips else f"  to {tree.joints[node - tree.n_tips]}"
        lines.append(
            f"{indent}{bend}{tree.names[edge]}  {tree.lengths[edge]:g}{joint}"
            + (f"  at {wish}" if wish else "")
            + _wishes(parts[tree.written[edge]])
        )
        below = reversed(children.get(node, []))
        todo += [(n, e, indent + on, k) for k, (n, e) in enumerate(below)]
    return lines


def _places(problem: Problem, tip: int) -> list[str]:
    """Return the places of a tip in words; of twins each is told its own side."""
    from packer.model.figure import CORNERS, SIDES

    tree = problem.tree
    written = tree.places[tip]
    sided = any(place in {*SIDES, *CORNERS} or not isinstance(place, str) for place in written)
    if sided and problem.symmetry != "none" and tree.twin[tip] != tip:
        return [_called(problem.sheet, box) for box in problem.ranges[tip]]
    return [p if isinstance(p, str) else "({:g}, {:g})".format(*p) for p in written]


def _called(sheet: Sheet, box: Range) -> str:
    """Return the name of a side or corner of a sheet, or a point in fractions of the sheet."""
    from packer.model.problem import SIDE_FRACTIONS

    (left, right), (low, high) = (
        [side / whole for side in sides]
        for sides, whole in ((box.x, sheet.width), (box.y, sheet.height))
    )
    for name, fractions in SIDE_FRACTIONS.items():
        if ((left, right), (low, high)) == fractions:
            return name
    if box.is_point:
        return f"({left:g}, {low:g})"
    return "middle" if box.margin else "anywhere"


def _notes(problem: Problem) -> list[str]:
    """Return a sentence for each list of places that may have been meant as all of them."""
    from packer.model.figure import CORNERS

    notes = []
    for flap in problem.figure.flaps:
        if len(flap.place) > 1:
            listed = " or ".join(f'"{p}"' if isinstance(p, str) else str(p) for p in flap.place)
            corner = next((c for c in CORNERS if set(c.split()) == set(flap.place)), None)
            both = f'; for both at once write "{corner}"' if corner else ""
            if set(flap.place) == {"edge", "axis"}:
                both = "; for both at once write the points [[0.5, 0], [0.5, 1]]"
            notes.append(f"{flap.name}: a list means any of these, {listed}{both}")
    return notes


def _wishes(part: Flap | River) -> str:
    """Return what else a part asks for: pleats, width and detail, if any."""
    wishes = []
    if pleats := part.folded_away.depths:
        wishes.append(f"{counted(len(pleats), 'pleat')} shorten it to {part.length:g}")
    if width := getattr(part, "width", 0):
        wishes.append(f"{counted(width, 'cell')} wide on a grid")
    if part.detail > 1:
        wishes.append(f"detail {part.detail}")
    return "".join(f"  {words}" for words in wishes)
