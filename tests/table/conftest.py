"""One browser for all tests of a module."""

import pytest

from tests.table.chromium import chromium


@pytest.fixture(scope="module")
def browser():
    with chromium() as opened:
        yield opened
