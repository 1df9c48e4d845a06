"""What tests of searches over pairs of layers share."""

from __future__ import annotations

import pytest

from packer.folded import cadical_search


@pytest.fixture(params=["compiled", "propagation"])
def either_search(request, monkeypatch):
    """The solver in compiled code, and the search of an install without it."""
    if request.param == "compiled":
        pytest.importorskip("pysolvers")
    else:
        monkeypatch.setattr(cadical_search, "available", lambda: False)
