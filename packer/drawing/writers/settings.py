"""Pictures look the same whatever settings of matplotlib a user, or a folder, has."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING

import matplotlib as mpl

if TYPE_CHECKING:
    from collections.abc import Iterator


@contextmanager
def own_settings() -> Iterator[None]:
    """Draw with matplotlib's defaults and leave the caller's settings as they were.

    A ``matplotlibrc`` in the folder may ask for LaTeX that is not installed. Use it as a decorator
    of what makes a whole picture.
    """
    with mpl.rc_context():
        mpl.rcdefaults()
        yield
