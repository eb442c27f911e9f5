"""Where the blocks of a grid are worked out: in this process, on workers of its own, or on a cluster elsewhere."""

from __future__ import annotations

import logging
import os
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from typing import Any

from sowcal.errors import InputError, NetworkError

__all__ = ["workers"]

_PATIENCE = 15  # seconds until a cluster that does not answer is given up

# What the C library of Linux (glibc) reads as a process begins, bytes; elsewhere they change nothing. The arrays of one
# site are some 90 kB each, those of a block of cells some megabytes, and they live for milliseconds. Left to itself the
# library maps large ones one by one and hands back what lies free, and `distributed` starts its workers with 64 kB that
# may lie free: they spent two fifths of their time on having the same pages cleared again. 32 MiB is the most that the
# first takes (mallopt(3)); common practice, no source.
_ALLOCATOR = {"MALLOC_MMAP_THRESHOLD_": 32 * 2**20, "MALLOC_TRIM_THRESHOLD_": 64 * 2**20}
_SPAWNED_WITH = "distributed.nanny.pre-spawn-environ"


@contextmanager
def workers(count: int, address: str | None = None) -> Iterator[None]:
    """Within it, grids are worked out by so many processes, or by the cluster at an address.

    Parameters
    ----------
    count : int
        1 works in this process. With more, a worker that dies is replaced and its blocks are worked out again, where
        `distributed` is installed.
    address : str, optional
        Of a dask scheduler, such as 'tcp://10.0.0.5:8786'.

    Raises
    ------
    InputError
        For fewer than one worker, or an address without `distributed` installed.
    NetworkError
        For a cluster that does not answer.
    """
    import dask

    if count < 1:
        raise InputError(f"{count} workers do nothing; give 1 or more", where="--workers")
    if address is not None:
        if find_spec("distributed") is None:
            raise InputError("a cluster needs the package distributed; install it with: pip install 'sowcal[grid]'")
        with _cluster(address):
            yield
    elif count == 1:
        with dask.config.set(scheduler="synchronous"):
            yield
    elif find_spec("distributed") is None:
        from concurrent.futures import ProcessPoolExecutor
        from multiprocessing import get_context

        with (
            ProcessPoolExecutor(count, mp_context=get_context("spawn"), initializer=_leave_interrupts) as pool,
            dask.config.set(scheduler="processes", pool=pool),
        ):
            yield
    else:
        with _own_cluster(count):
            yield


@contextmanager
def _own_cluster(count: int) -> Iterator[None]:
    """So many processes on this computer, started with an environment of their own."""
    import dask
    from distributed import Client, LocalCluster, WorkerPlugin

    class Quiet(WorkerPlugin):
        """Workers started later, in the place of dead ones, are set up by it too."""

        def setup(self, worker: Any) -> None:
            _leave_interrupts()

    given = {**dask.config.get(_SPAWNED_WITH, {}), **_ALLOCATOR}  # what the user set in the environment goes before
    before = dict(os.environ)  # `distributed` writes all of it into the environment of this process too, and leaves it
    try:
        with (  # port 0: any that is free, so that two maps can be worked out at once
            dask.config.set({_SPAWNED_WITH: given}),
            LocalCluster(
                n_workers=count, threads_per_worker=1, dashboard_address="127.0.0.1:0", silence_logs=logging.CRITICAL
            ) as cluster,
            Client(cluster) as client,
        ):
            client.register_plugin(Quiet(), name="quiet")
            yield
    finally:
        for name in os.environ.keys() - before.keys():
            del os.environ[name]
        os.environ.update(before)


def _leave_interrupts() -> None:
    """Leave Ctrl-C, which reaches every process of a terminal, to the one that was started from it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


@contextmanager
def _cluster(address: str) -> Iterator[None]:
    from distributed import Client

    try:
        client = Client(address, timeout=_PATIENCE)
    except (OSError, TimeoutError, ValueError) as problem:
        said = " ".join(str(problem).split())[:120] or type(problem).__name__
        raise NetworkError(f"no dask cluster answers at {address!r} ({said})", where="--cluster") from None
    with client:
        yield
