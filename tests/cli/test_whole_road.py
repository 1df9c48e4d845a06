"""The whole road by command line: from a drawing to the printed page and the report."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from pypdf import PdfReader

from packer.files.packing_json import read_packing
from tests.conftest import run

DRAWING = Path(__file__).parents[2] / "samples" / "cuttlefish.svg"
MM = 72 / 25.4


@pytest.mark.slow
def test_from_a_drawing_to_the_printed_page(tmp_path, capsys):
    out = ["--out", tmp_path]
    fast = ["--seed", 1, "--starts", 1, "--workers", 1]
    figure, packing = tmp_path / "cuttlefish.toml", tmp_path / "cuttlefish.packing.json"

    assert run("sketch", DRAWING, "--marked", *out) == 0
    assert run("pack", figure, *fast, *out) == 0
    assert run("compare", figure, "--sheet", "1x1", "--sheet", "3x2", *fast, *out) == 0
    capsys.readouterr()
    assert run("plan", packing, "--at-least", "tentacle=80", "--json", *out) == 0
    made = json.loads(capsys.readouterr().out)
    side = f"{made['sheet_mm'][0]:g}mm"
    assert run("print", packing, "--sheet", side, "--on", "A4", *out) == 0
    assert run("report", packing, "--sheet", side, *out) == 0

    assert sorted(path.name for path in tmp_path.iterdir()) == [
        *(f"cuttlefish.compare.{kind}" for kind in ("csv", "json", "png")),
        "cuttlefish.marked.svg",
        *(f"cuttlefish.packing.{kind}" for kind in ("json", "png", "svg")),
        "cuttlefish.plan.json",
        "cuttlefish.print.pdf",
        "cuttlefish.report.html",
        "cuttlefish.toml",
    ]

    found = read_packing(packing)
    assert found.violations() == []
    scale = made["sheet_mm"][0] / found.sheet.width
    tentacle = next(part for part in made["parts"] if part["name"] == "tentacle.left")
    assert tentacle["on_sheet_mm"] == pytest.approx(
        found.sheet_lengths["tentacle.left"] * scale
    )
    assert 80 <= tentacle["finished_mm"] < 80 * (1 + 1 / made["sheet_mm"][0])

    pages = PdfReader(tmp_path / "cuttlefish.print.pdf").pages
    for page in pages:
        assert sorted(float(x) for x in page.mediabox[2:]) == pytest.approx(
            [210 * MM, 297 * MM], abs=0.01 * MM
        )
    inner = (210 - 2 * 6.4) * (297 - 2 * 6.4)
    assert len(pages) - 1 >= made["sheet_mm"][0] ** 2 / inner

    page = (tmp_path / "cuttlefish.report.html").read_text(encoding="utf-8")
    for section in ("parts", "paper", "sheets-compared", "make-it-again"):
        assert f'id="{section}"' in page
