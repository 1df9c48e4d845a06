"""``packer print``: fold sheets at true size, on pages, on one large page or for a plotter."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from pathlib import Path  # noqa: TC003 - typer reads the hints
from typing import TYPE_CHECKING, Annotated, Any, Final

import typer

from packer.cli.beside import settled_path
from packer.cli.groups import Output
from packer.cli.options import (
    JsonOption,
    PackingArgument,
    PageOption,
    TrueSizeOption,
    option,
    stem_of,
    true_mm_of,
)
from packer.cli.output import note, print_json, visible
from packer.errors import OptionError, SheetError, did_you_mean
from packer.model.sheet import parse_sheet
from packer.numbers import counted

if TYPE_CHECKING:
    from packer.creases.pattern import CreasePattern, Fold
    from packer.drawing.marks.strokes import Drawing
    from packer.drawing.writers.tiling import Tiling
    from packer.grid.grid_packing import GridPacking
    from packer.model.packing import Packing

FORMATS: Final = {
    "pages": "print.pdf",
    "one-page": "page.pdf",
    "svg": "print.svg",
    "plotter": "plotter.svg",
    "dxf": "plotter.dxf",
}
"""What --as takes, and how the name of its file ends."""

PLEATS: Final = "pleats"
"""What --show calls the pleats of a crease pattern: drawn on request alone."""

CAUTION: Final = (
    "before plotting or cutting (common practice): test on a scrap, let the blade out only a "
    "little more than the paper is thick, keep fingers off the carriage; a laser needs its "
    "extraction on and is never left alone; the maker's manual and local rules come first"
)

AsOption = Annotated[
    list[str] | None,
    typer.Option(
        "--as",
        metavar="FORMAT",
        help="pages (default), one-page, svg, plotter or dxf; may be given more than once.",
        show_default=False,
    ),
]
ShowOption = Annotated[
    list[str] | None,
    typer.Option(
        "--show",
        metavar="PART",
        help="What to draw: sheet, rivers, discs, active-paths, tips, names; of a crease pattern "
        "ridge-valley, hinge-mountain and so on; may be given more than once. Everything by "
        "default, but for pleats, which are made after the flat base: pleats draws them as well.",
        show_default=False,
    ),
]
LookOption = Annotated[
    str | None,
    typer.Option(
        "--look",
        metavar="NAME",
        help="Of a crease pattern: fold, mountains and valleys alone, or role, creases in the "
        "colours of their roles, or sides, what shows of the paper's front and back and raw edges, "
        "where the file holds a layer order; sides also of a packing, where its creases lie beside it. By default fold, and role where mountains and valleys are not "
        "decided.",
        show_default=False,
    ),
]
MirrorOption = Annotated[
    bool, typer.Option("--mirror", help="Mirror it, for drawing on the back of the paper.")
]
MarginOption = Annotated[
    float, typer.Option("--margin", metavar="MM", help="Edge of a page left white.")
]
OverlapOption = Annotated[
    float, typer.Option("--overlap", metavar="MM", help="What neighbouring pages share.")
]


@dataclass(frozen=True)
class PageArguments:
    """The pages of a print-out."""

    on: PageOption = "A4"
    margin: MarginOption = 6.4
    overlap: OverlapOption = 10.0


@dataclass(frozen=True)
class PictureArguments:
    """What is drawn on a fold sheet, and how."""

    show: ShowOption = None
    look: LookOption = None
    mirror: MirrorOption = False


def command(
    packing: PackingArgument,
    sheet: TrueSizeOption = None,
    as_: AsOption = None,
    pages: PageArguments = PageArguments(),
    picture: PictureArguments = PictureArguments(),
    output: Output = Output(),
    json_: JsonOption = False,
) -> None:
    """Print fold sheets at true size, to pre-crease from."""
    formats = chosen("--as", as_ or ["pages"], list(FORMATS))
    # what is made of one packing may be printed side by side
    stem = packing.stem.removesuffix(".packing")
    paths = dict(
        zip(formats, output.files(stem, [FORMATS[form] for form in formats]), strict=True)
    )
    drawing = fold_sheet(packing, sheet, picture)
    settled = settled_path(packing)
    if packing.name == f"{stem_of(packing)}.packing.json" and settled.exists():
        note(
            f"these are the tips as searched; those of its creases are in {settled}",
            output.quiet,
        )
    contents, record = _contents(drawing, formats, pages, paths)
    output.save({paths[form]: content for form, content in contents.items()})
    if "plotter" in record:
        note(CAUTION, output.quiet)
    if json_:
        print_json(json.dumps(record, ensure_ascii=False, indent=1))
    elif not output.quiet:
        _print(drawing, record)


def _contents(
    drawing: Drawing, formats: list[str], pages: PageArguments, paths: dict[str, Path]
) -> tuple[dict[str, str | bytes], dict[str, Any]]:
    """Return what goes into the file of each format, and what can be said of it."""
    from packer.drawing.marks.lines import line_drawing
    from packer.drawing.marks.strokes import said
    from packer.drawing.writers.svg import svg_text
    from packer.drawing.writers.tiled_pdf import plan_pages, planned_pdf, whole_pdf

    record: dict[str, Any] = {
        "sheet": [drawing.width, drawing.height],
        "files": [str(path) for path in paths.values()],
    }
    contents: dict[str, str | bytes] = {}
    if "pages" in formats:
        paper = page_size(pages.on)
        edges = {"margin": pages.margin, "overlap": pages.overlap}
        plan = plan_pages(drawing, paper, **edges)
        contents["pages"] = planned_pdf(plan, paths["pages"].name)
        record["pages"] = page_record(plan.tiling, plan.blank)
    if "one-page" in formats:
        contents["one-page"] = whole_pdf(drawing, paths["one-page"].name)
    if "svg" in formats:
        contents["svg"] = svg_text(said(line_drawing(drawing)))
    if {"plotter", "dxf"} & set(formats):
        cut, record["plotter"] = _plotted(drawing, formats)
        contents |= cut
    return contents, record


def _plotted(
    drawing: Drawing, formats: list[str]
) -> tuple[dict[str, str | bytes], dict[str, Any]]:
    """Return the files for a plotter, by their format, and what can be said of them."""
    from packer.drawing.writers.dxf import dxf_text
    from packer.drawing.writers.plotter import PEN_STYLES, plotter_drawing, travel
    from packer.drawing.writers.svg import svg_text

    pens = plotter_drawing(drawing)
    contents: dict[str, str | bytes] = {}
    if "plotter" in formats:
        contents["plotter"] = svg_text(pens, styles=PEN_STYLES)
    if "dxf" in formats:
        contents["dxf"] = dxf_text(pens)
    layers = {name: len(marks) for name, marks in pens.groups}
    return contents, {"layers": layers, "travel": round(travel(pens), 1)}


def fold_sheet(path: Path, sheet: str | None, picture: PictureArguments) -> Drawing:
    """Return the drawing of a saved packing or crease pattern at true size, with what was chosen.

    Raises
    ------
    PackerError
        Where the file is wrong, or the sheet or a choice does not fit it.
    """
    from packer.drawing.marks.strokes import mirrored, only

    subject = _read(path)
    mm = true_mm_of(subject.sheet, sheet)
    sides = _sides(path, subject, mm) if picture.look == "sides" else None
    drawing = sides or _drawn(subject, mm, picture, stem_of(path))
    if sides is None:
        drawing = _with_pleats(drawing, path, mm, picture.mirror)
    groups = [name for name, _ in drawing.groups if name != "paper"]
    words = [name.replace(" ", "-") for name in groups]
    usual = [word for word in words if word != PLEATS]
    shown = chosen("--show", picture.show or usual, words)
    if shown == [PLEATS]:  # made after the flat base, and drawn on it where alone asked for
        shown = words
    drawing = only(drawing, [groups[words.index(word)] for word in shown])
    return mirrored(drawing) if picture.mirror else drawing


def _sides(
    path: Path, subject: Packing | GridPacking | CreasePattern, mm: float
) -> Drawing | None:
    """Return what shows of the sheet of a crease pattern or packing; None of a grid.

    Raises
    ------
    OptionError
        Where no layer order is known.
    """
    from packer.drawing.sides_drawing import packing_with_sides, same_tips, sides_drawing
    from packer.files.fold_json import read_base
    from packer.model.packing import Packing

    packing = subject if isinstance(subject, Packing) else None
    if packing is None and path.suffix != ".fold":
        return None
    file = path.with_name(f"{stem_of(path)}.creases.fold") if packing else path
    if not file.exists():
        raise OptionError(
            f"creases tell what shows of the paper, and there is no {visible(file.name)}; make it with "
            "packer crease",
            "--look",
        )
    base = read_base(file)
    if base.order is None:
        raise OptionError(
            f"{visible(file.name)} has no layer order, so nothing is known of its sides; crease it again",
            "--look",
        )
    if packing is None:
        return sides_drawing(base, mm)
    if not same_tips(packing, base.pattern):
        raise OptionError(
            f"{visible(file.name)} is of tips moved to settle it; print {stem_of(path)}.settled.packing.json",
            "--look",
        )
    return packing_with_sides(packing, base, mm)


def _with_pleats(drawing: Drawing, path: Path, mm: float, mirror: bool) -> Drawing:
    """Return the drawing of a crease pattern with the pleats that its file holds, if any."""
    if path.suffix != ".fold":
        return drawing
    from packer.drawing.crease_drawing import with_pleats
    from packer.files.fold_json import read_pleats

    pleats = read_pleats(path)
    if mirror:
        pleats = tuple(replace(p, fold="V" if p.fold == "M" else "M") for p in pleats)
    return with_pleats(drawing, pleats, mm) if pleats else drawing


def _read(path: Path) -> Packing | GridPacking | CreasePattern:
    # each format is loaded alone: those of creases and grids bring their geometry along
    if path.suffix == ".fold":
        from packer.files.fold_json import read_fold

        return read_fold(path)
    if path.name.endswith(".grid.json"):
        from packer.files.grid_json import read_grid

        return read_grid(path)
    from packer.files.packing_json import read_packing

    return read_packing(path)


def _drawn(
    subject: Packing | GridPacking | CreasePattern,
    mm: float,
    picture: PictureArguments,
    title: str,
) -> Drawing:
    from packer.creases.pattern import CreasePattern
    from packer.drawing.crease_drawing import LOOKS, crease_drawing, telling_look
    from packer.drawing.grid_drawing import grid_drawing
    from packer.drawing.packing_drawing import packing_drawing
    from packer.model.packing import Packing

    look = picture.look
    if isinstance(subject, CreasePattern):
        if look is not None and look not in LOOKS:
            raise OptionError(
                f'unknown look "{look}"{did_you_mean(look, [*LOOKS, "sides"])}', "--look"
            )
        wished = telling_look(subject) if look is None else look
        if picture.mirror:  # from the back a mountain is a valley
            other: dict[Fold, Fold] = {"M": "V", "V": "M"}
            subject = subject.with_folds([other.get(fold, fold) for fold in subject.folds])
        named = replace(subject, title=subject.title or title)
        return crease_drawing(named, mm, wished)
    if look is not None:
        raise OptionError(
            "only a crease pattern has looks, and a packing the look sides; leave it out",
            "--look",
        )
    if isinstance(subject, Packing):
        return packing_drawing(subject, mm)
    return grid_drawing(subject, mm)


def chosen(name: str, words: list[str], known: list[str]) -> list[str]:
    """Return the words of an option that takes several, each once; commas separate them too.

    Raises
    ------
    OptionError
        Where a word is not known.
    """
    choices = []
    for word in (part.strip() for text in words for part in text.split(",")):
        plain = word.replace(" ", "-").lower()
        if plain not in known:
            raise OptionError(f'unknown choice "{word}"{did_you_mean(plain, known)}', name)
        choices.append(plain)
    return list(dict.fromkeys(choices))


def page_size(text: str) -> tuple[float, float]:
    """Return the width and height of a page in mm.

    Raises
    ------
    OptionError
        Where the text is no paper, or a size without a unit.
    """
    page = option("--on", parse_sheet, text)
    try:
        size = page.in_mm()
    except SheetError:
        raise OptionError(
            f'"{text}" has no unit; write a paper such as A4 or a size such as 210x297mm',
            "--on",
        ) from None
    return size.width, size.height


def page_record(tiling: Tiling, blank: frozenset[str]) -> dict[str, Any]:
    """Return how a drawing is tiled, as plain keys and values; lengths in mm."""
    return {
        "size": [tiling.page_width, tiling.page_height],
        "columns": tiling.columns,
        "rows": tiling.rows,
        "names": [n for n in (tiling.name(*p) for p in tiling.pages) if n not in blank],
        "blank": sorted(blank),
        "margin": tiling.margin,
        "overlap": tiling.overlap,
    }


def _print(drawing: Drawing, record: dict[str, Any]) -> None:
    from packer.drawing.marks.key import OPEN_FOLDS, OPEN_KINDS
    from packer.drawing.marks.strokes import facing

    print(visible(f"{drawing.title}: {drawing.width:.6g} x {drawing.height:.6g} mm, true size"))
    print(facing(drawing))
    if any(mark.kind in OPEN_KINDS for mark in drawing.marks):
        print(OPEN_FOLDS)
    if pages := record.get("pages"):
        width, height = pages["size"]
        blank = f", blank and left out: {' '.join(pages['blank'])}" if pages["blank"] else ""
        print(
            f"{counted(len(pages['names']), 'page')} of {width:g} x {height:g} mm and a map: "
            f"{' '.join(pages['names'])}{blank}"
        )
        print(
            "print at 100 %, not fitted to the page, and measure the square on the first page"
        )
    if plotter := record.get("plotter"):
        layers = ", ".join(f"{name} ({count})" for name, count in plotter["layers"].items())
        print(f"plotter layers: {layers}; {plotter['travel']:g} mm of travel between lines")
