"""One thread for linear algebra while searching.

The systems of a search are small and there are many: a BLAS that spreads each over all processors
is slower than one thread, and far slower beside other workers.
"""

from __future__ import annotations

from contextlib import contextmanager
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np  # noqa: F401 - its BLAS is to be loaded before it is looked for
import scipy.linalg  # noqa: F401 - the same
from threadpoolctl import ThreadpoolController

if TYPE_CHECKING:
    from collections.abc import Iterator


@contextmanager
def one_thread() -> Iterator[None]:
    """Use one thread in every BLAS that is loaded; restore the number afterwards."""
    with _controller().limit(limits=1, user_api="blas"):
        yield


@lru_cache(maxsize=1)
def _controller() -> ThreadpoolController:
    """Return the controller of the libraries loaded: looking for them takes some milliseconds."""
    return ThreadpoolController()
