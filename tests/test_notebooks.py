"""The notebooks run from beginning to end, and hold no outputs."""

from __future__ import annotations

from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient

from tests.conftest import PATIENCE

NOTEBOOKS = sorted((Path(__file__).parents[1] / "notebooks").glob("*.ipynb"))


def test_there_are_three():
    assert [path.stem for path in NOTEBOOKS] == [
        "a_first_packing",
        "from_python_to_the_printed_sheet",
        "square_against_rectangles",
    ]


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_outputs_are_stripped(path):
    for cell in nbformat.read(path, as_version=4).cells:
        if cell.cell_type == "code":
            assert cell.outputs == []
            assert cell.execution_count is None


@pytest.mark.slow
@pytest.mark.filterwarnings(
    "ignore"
)  # of the kernel's own libraries; packer runs in the kernel
@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_the_notebook_runs(path):
    notebook = nbformat.read(path, as_version=4)
    client = NotebookClient(
        notebook, timeout=PATIENCE, resources={"metadata": {"path": str(path.parent)}}
    )
    client.execute()
    shown = [output for cell in notebook.cells for output in cell.get("outputs", [])]
    assert not any(output.output_type == "error" for output in shown)
    pictures = [o for o in shown if {"image/svg+xml", "image/png"} & set(o.get("data", {}))]
    assert len(pictures) >= 2
