"""The workers of a dask cluster, as an executor of searches."""

from __future__ import annotations

import contextlib
import importlib
import logging
from concurrent.futures import CancelledError
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from packer.cli.output import note
from packer.errors import OptionError
from packer.numbers import counted

if TYPE_CHECKING:
    from collections.abc import Iterator
    from concurrent.futures import Executor

WORKER_SECONDS: Final = 60.0
"""How long a cluster may take until its first worker is there."""


@dataclass(frozen=True)
class Cluster:
    """Who works in a search: an executor and how many tasks it takes at once; none of both by default."""

    executor: Executor | None = None
    count: int | None = None


@contextlib.contextmanager
def executor_at(address: str | None, quiet: bool = False) -> Iterator[Cluster]:
    """Give the workers of a dask cluster, or none where no address is given.

    Raises
    ------
    OptionError
        Where dask.distributed is not installed or nobody answers at the address.
    """
    if address is None:
        yield Cluster()
        return
    try:
        from distributed import Client
        from distributed.comm import get_address_host_port
    except ImportError:
        raise OptionError(
            "dask.distributed is missing; install the extra: pip install 'packer[cluster]'",
            "--cluster",
        ) from None
    place = address if "://" in address else f"tcp://{address}"
    try:
        get_address_host_port(
            place, strict=True
        )  # a client of a wrong one complains at its end
        client = Client(place, timeout="5s", set_as_default=False)
    except (OSError, ValueError, TypeError):
        raise OptionError(
            f'no scheduler answers at "{address}"; start one or write an address such as '
            "tcp://host:8786",
            "--cluster",
        ) from None
    # dask tells of the legs that Ctrl-C cancels as of errors in its own loop
    logging.getLogger("tornado.application").addFilter(unforeseen)
    with client:
        _await_workers(client, quiet)
        yield Cluster(client.get_executor(), sum(client.nthreads().values()) or None)


def _await_workers(client: Any, quiet: bool) -> None:
    """Wait until a cluster's workers have loaded what a search needs: that is no searched time.

    Raises
    ------
    OptionError
        Where no worker comes in `WORKER_SECONDS`.
    """
    count = len(client.scheduler_info()["workers"])
    note(f"waiting for {counted(count, 'worker') if count else 'workers'}", quiet)
    try:
        client.wait_for_workers(1, timeout=WORKER_SECONDS)
    except TimeoutError:
        raise OptionError(
            f"no worker joined the cluster in {WORKER_SECONDS:g} s; start some and try again",
            "--cluster",
        ) from None
    client.run(load_search)


def load_search() -> None:
    """Load, in a worker, the modules that a search uses."""
    importlib.import_module("packer.search.memetic.run")
    importlib.import_module("packer.search.parallel.background_bound")


def unforeseen(record: logging.LogRecord) -> bool:
    """Whether a message is of anything but a leg that was cancelled."""
    return not (record.exc_info and isinstance(record.exc_info[1], CancelledError))
