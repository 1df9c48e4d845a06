"""The packing as settled that lies beside the one it was made from."""

from __future__ import annotations

from typing import TYPE_CHECKING

from packer.cli.options import stem_of
from packer.errors import ReadError

if TYPE_CHECKING:
    from pathlib import Path

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
