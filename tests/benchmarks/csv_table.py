"""The table of a benchmark as a file for a spreadsheet."""

from __future__ import annotations

import csv


def write_csv(path, rows):
    """Write rows, each a dict with the keys of the first, under a head that names the keys."""
    with path.open("w", newline="", encoding="utf-8") as file:
        table = csv.DictWriter(file, list(rows[0]))
        table.writeheader()
        table.writerows(rows)
