"""One thread for linear algebra while searching.

The systems of a search are small and there are many: a BLAS that spreads each over all processors
is slower than one thread, and far slower beside other workers (an ascent on 80 flaps took 3040 ms
instead of 33 ms on two busy processors). OpenBLAS and MKL read their variables only when they are
loaded, so their own functions are called.
"""

from __future__ import annotations

import ctypes
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
import scipy

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

_NAMES: Final = (
    ("scipy_openblas_get_num_threads64_", "scipy_openblas_set_num_threads64_"),
    ("scipy_openblas_get_num_threads", "scipy_openblas_set_num_threads"),
    ("openblas_get_num_threads64_", "openblas_set_num_threads64_"),
    ("openblas_get_num_threads", "openblas_set_num_threads"),
    ("MKL_Get_Max_Threads", "MKL_Set_Num_Threads"),
)


@contextmanager
def one_thread() -> Iterator[None]:
    """Use one thread in every BLAS that is loaded and known; restore the number afterwards."""
    before = [(write, read()) for read, write in _switches()]
    for write, _ in before:
        write(1)
    try:
        yield
    finally:
        for write, count in before:
            write(count)


@lru_cache(maxsize=1)
def _switches() -> tuple[tuple[Callable[[], int], Callable[[int], None]], ...]:
    """Return the functions that read and write the number of threads of each library."""
    found = []
    for path in _libraries():
        try:
            library = ctypes.CDLL(path)
        except OSError:
            continue
        for get, put in _NAMES:
            if hasattr(library, get) and hasattr(library, put):
                found.append((getattr(library, get), getattr(library, put)))
                break
    return tuple(found)


def _libraries() -> list[str]:
    """Return the BLAS libraries that numpy and scipy bring, and those this process has loaded."""
    paths = set()
    for package in (np, scipy):
        home = Path(str(package.__file__)).parent
        for place in (home.parent / f"{home.name}.libs", home / ".dylibs"):
            paths |= {str(path) for path in place.glob("*openblas*")}
    maps = Path("/proc/self/maps")
    if maps.exists():
        for line in maps.read_text().splitlines():
            name = line.rpartition(" ")[2]
            if name.startswith("/") and ("openblas" in name or "mkl_rt" in name):
                paths.add(name)
    return sorted(paths)
