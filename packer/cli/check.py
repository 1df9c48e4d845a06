"""``packer check``: read a figure, say what it is and draw it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from packer.cli.options import (
    FigureArgument,
    ForceOption,
    JsonOption,
    QuietOption,
    SheetOption,
    SymmetryOption,
    pose_subject,
)
from packer.cli.output import check_free, save, visible
from packer.files.figure_record import sheet_record
from packer.numbers import counted

if TYPE_CHECKING:
    from packer.model.problem import Problem

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
    figure: FigureArgument,
    sheet: SheetOption = None,
    symmetry: SymmetryOption = None,
    out: DrawingOption = None,
    force: ForceOption = False,
    quiet: QuietOption = False,
    json_: JsonOption = False,
) -> None:
    """Check a figure: describe its tree and what it asks for, and draw it."""
    problem, stem = pose_subject(figure, sheet, symmetry)
    files = [] if out is None else [out / f"{stem}.figure.{kind}" for kind in ("svg", "png")]
    check_free(files, force)
    record = description(problem)
    if json_:
        print(json.dumps(record, ensure_ascii=False, indent=1))
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
        together, the longest distance between two tips and the tips at its ends.
    """
    import numpy as np

    tree = problem.tree
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
    }


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
    ]
    for line in lines:
        print(visible(line))


def _branches(problem: Problem) -> list[str]:
    """Draw the tree with one line a part, each indented below the part it grows from."""
    from packer.model.tree import central_joint, walk

    tree = problem.tree
    root = central_joint(tree, tree.lengths)
    children: dict[int, list[tuple[int, int]]] = {}
    for node, parent, edge in walk(tree, root):
        children.setdefault(parent, []).append((node, edge))
    lines = [tree.joints[root - tree.n_tips]]
    todo = [(node, edge, "", k) for k, (node, edge) in enumerate(reversed(children[root]))]
    while todo:
        node, edge, indent, from_last = todo.pop()
        bend, on = ("└─ ", "   ") if from_last == 0 else ("├─ ", "│  ")
        places = tree.places[edge] if edge < tree.n_tips else ()
        wish = " or ".join(
            p if isinstance(p, str) else "({:g}, {:g})".format(*p) for p in places
        )
        joint = "" if edge < tree.n_tips else f"  to {tree.joints[node - tree.n_tips]}"
        lines.append(
            f"{indent}{bend}{tree.names[edge]}  {tree.lengths[edge]:g}{joint}"
            + (f"  at {wish}" if wish else "")
        )
        below = reversed(children.get(node, []))
        todo += [(n, e, indent + on, k) for k, (n, e) in enumerate(below)]
    return lines
