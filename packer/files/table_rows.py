"""Rows of tables: written as CSV for a spreadsheet, and read back from JSON value by value."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from packer.errors import ReadError
from packer.files.json_values import as_finite, as_list, as_object, shown
from packer.folded.difficulty import Difficulty
from packer.planning.ranking import FoldingDemand

if TYPE_CHECKING:
    from collections.abc import Callable


def csv_text(rows: list[dict[str, Any]]) -> str:
    """Return rows as CSV under a head that names their keys; a cell of None is empty.

    Parameters
    ----------
    rows
        At least one; all have the keys of the first.
    """
    out = io.StringIO()
    writer = csv.DictWriter(out, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    for row in rows:
        cells = {key: "" if value is None else value for key, value in row.items()}
        writer.writerow(cells)
    return out.getvalue()


@dataclass(frozen=True)
class TableRow:
    """A row of a table in a JSON file, of which each value is checked when it is asked for.

    Parameters
    ----------
    values
        What the file holds.
    table
        The key of the table in the file, for what is said of a wrong value.
    """

    values: dict[str, Any]
    table: str

    def has(self, key: str) -> bool:
        """Return whether there is a value."""
        return self.values.get(key) is not None

    def text(self, key: str) -> str:
        """Return a value as text."""
        return str(self.values.get(key))

    def number(self, key: str) -> float:
        """Return a value that is a finite number.

        Raises
        ------
        PackingError
            Where it is none.
        """
        return as_finite(self.values.get(key), f"{self.table}.{key}")

    def whole(self, key: str) -> int:
        """Return a value that is a finite number, rounded down."""
        return int(self.number(key))

    def folding(self, key_of: Callable[[str], str]) -> FoldingDemand:
        """Return what a pattern demands of its folder.

        Parameters
        ----------
        key_of
            Gives the key of an attribute of `FoldingDemand` or `Difficulty`.
        """
        return FoldingDemand(
            self.number(key_of("given")),
            self.whole(key_of("fillers")),
            Difficulty(
                self.whole(key_of("creases")),
                self.whole(key_of("vertices")),
                self.whole(key_of("together")),
                self.whole(key_of("middle_flaps")),
                self.number(key_of("feature")),
                self.whole(key_of("layers")),
                self.whole(key_of("angles")),
            ),
        )


def rows_of(record: dict[str, Any], table: str) -> list[TableRow]:
    """Return the rows of a table in a JSON file.

    Raises
    ------
    PackingError
        Where it is no list of objects.
    """
    return [
        TableRow(as_object(line, table), table) for line in as_list(record.get(table), table)
    ]


def rows_with_packings(
    record: dict[str, Any], table: str, remedy: str
) -> list[tuple[TableRow, dict[str, Any]]]:
    """Return the rows of a table, each with the record of its packing.

    Raises
    ------
    ReadError
        Where there are none, or more of one than of the other.
    """
    rows, packings = rows_of(record, table), as_list(record.get("packings"), "packings")
    if not rows or len(rows) != len(packings):
        raise ReadError(f"{table} and packings are not alike; {remedy}", table)
    return [
        (row, as_object(packing, "packings"))
        for row, packing in zip(rows, packings, strict=True)
    ]


def seed_of(record: dict[str, Any], remedy: str) -> int:
    """Return the seed in a record, 0 where there is none.

    Raises
    ------
    ReadError
        Where it is no whole number.
    """
    seed = record.get("seed", 0)
    if isinstance(seed, bool) or not isinstance(seed, int):
        raise ReadError(f"{shown(seed)} is no seed; {remedy}", "seed")
    return seed
