"""Files that lie beside a packing: it as settled, its creases, those of its grid, fold guides."""

from __future__ import annotations

from typing import TYPE_CHECKING

from packer.cli.options import stem_of
from packer.cli.output import warn
from packer.errors import OptionError, ReadError

if TYPE_CHECKING:
    from pathlib import Path

    from packer.creases.pattern import CreasePattern
    from packer.folded.layers import FlatBase
    from packer.landmarks.guide_brief import GuideBrief
    from packer.model.packing import Packing


def settled_path(packing: Path) -> Path:
    """Return where the packing settled from another lies, if it was settled."""
    return packing.with_name(f"{stem_of(packing)}.settled.packing.json")


def settled_beside(path: Path, packing: Packing) -> Packing | None:
    """Return the packing as settled for its creases, where it lies beside the one searched.

    Raises
    ------
    ReadError
        Where it was settled from another packing.
    """
    from packer.creases.settled_packing import made_from
    from packer.files.packing_json import read_packing

    beside = settled_path(path)
    if path == beside or not beside.exists():
        return None
    settled = read_packing(beside)
    if not made_from(settled, packing):
        raise ReadError(
            f"it was settled from another packing than {path.name}; crease that again, or "
            "remove this file and the creases",
            source=str(beside),
        )
    return settled


def base_of_grid(path: Path) -> FlatBase | None:
    """Return the creases of a grid with their layer order, where they lie beside a packing."""
    from packer.files.fold_json import read_base

    beside = path.with_name(f"{stem_of(path)}.grid.creases.fold")
    return read_base(beside) if beside.exists() else None


def grid_guide_path(grid: Path) -> Path:
    """Return where the fold guide of a grid's creases lies, if there is one."""
    return grid.with_name(f"{stem_of(grid)}.grid.guide.json")


def guide_beside(path: Path, pattern: CreasePattern, named: bool = False) -> GuideBrief | None:
    """Return a fold guide in short; None where there is none, or one of other creases.

    Parameters
    ----------
    path
        Of the guide.
    pattern
        The creases that it should be of.
    named
        Whether the guide was asked for by name: then it must be there and of these creases.

    Raises
    ------
    PackerError
        Where it cannot be read, or was named and is of other creases.
    """
    from packer.files.guide_json import read_guide
    from packer.report.guide_table import is_of

    if not named and not path.exists():
        return None
    guide = read_guide(path)
    if is_of(guide, pattern):
        return guide
    if named:
        raise ReadError(
            "this guide is of other creases; make it again with packer guide", source=str(path)
        )
    warn(f"{path} is of other creases and left out; make it again with packer guide")
    return None


def pattern_beside(path: Path, creases: Path | None, packing: Packing) -> CreasePattern | None:
    """Return the crease pattern named, else the one that lies beside a packing file, if any.

    One that lies there but is of other parts is left alone.

    Raises
    ------
    PackerError
        Where the file named cannot be read or is of other parts.
    """
    from packer.files.fold_json import read_fold

    beside = path.parent / f"{stem_of(path)}.creases.fold"
    if creases is None and not beside.exists():
        return None
    pattern = read_fold(creases or beside)
    if set(packing.tree.names) <= set(pattern.built):
        return pattern
    if creases is None:
        return None
    raise OptionError("these creases are of another figure", "--creases")
