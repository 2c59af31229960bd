"""Where the work is done: on all cores of this machine, or on a cluster."""

import contextlib
import multiprocessing
import os
from collections.abc import Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from typing import Final

from driftlead.errors import UserInputError

_PATIENCE: Final = "10s"


@contextlib.contextmanager
def all_cores(workers: int | None = None) -> Iterator[Executor]:
    """Processes of this machine, as many as it has cores unless said otherwise."""
    # A fresh interpreter each: one forked from a program with threads may never wake up.
    pool = ProcessPoolExecutor(
        workers or os.cpu_count() or 1, mp_context=multiprocessing.get_context("spawn")
    )
    try:
        yield pool
    finally:
        pool.shutdown(cancel_futures=True)


@contextlib.contextmanager
def cluster(address: str) -> Iterator[Executor]:
    """The workers of a Dask scheduler, such as ``tcp://192.168.4.2:8786``.

    They need the same driftlead, and must find the logs under the same paths. Raises
    UserInputError if the library is missing or nobody answers.
    """
    try:
        from distributed import Client  # noqa: PLC0415  # large, and an extra
    except ImportError as error:
        raise UserInputError(
            "A cluster needs the library distributed, which is not installed.",
            remedy="Install it: pip install 'driftlead[cluster]'.",
        ) from error
    try:
        client = Client(address, timeout=_PATIENCE)
    except (OSError, TimeoutError, ValueError) as error:
        raise UserInputError(
            f"No cluster answers at {address}: {error}.",
            remedy="Give the address its scheduler shows, such as tcp://192.168.4.2:8786.",
        ) from error
    with client:
        yield client.get_executor()
