"""The seam to what runs tasks in other processes: a `concurrent.futures.Executor`, on this machine or on many.

Dask gives one for both: a cluster of worker processes here, each watched and replaced when it dies, or the address of
a scheduler elsewhere (recordings must then lie on a disk that all machines see). When a worker dies only its own task
is lost, which a plain process pool cannot promise.
"""

import logging
from collections.abc import Iterator
from concurrent.futures import BrokenExecutor, CancelledError, Executor
from contextlib import contextmanager
from importlib import import_module
from typing import Any

from judging.store.settings import Settings

#: A worker's own memory before any task: the interpreter, numpy and what decodes sound.
_WORKER_BYTES = 1024 * 1024 * 1024

#: Whoever reaches a worker's port can run code in it, so nobody from outside may.
_HERE = "127.0.0.1"


@contextmanager
def worker_processes(settings: Settings) -> Iterator[Executor]:
    """Executor whose tasks run in worker processes, one at a time in each.

    Parameters
    ----------
    settings : Settings
        ``scheduler``, ``workers`` and ``worker_memory_bytes``.

    Yields
    ------
    Executor
        Ended with the block.
    """
    # Imported here: a server that only shows pages does not pay for it.
    dask: Any = import_module("dask")
    distributed: Any = import_module("distributed")
    quiet = {
        "distributed.scheduler.allowed-failures": 0,  # our own job row counts the attempts
        "distributed.worker.daemon": True,
        "distributed.worker.multiprocessing-method": "spawn",  # forking a server with threads may lock it up
        "distributed.admin.event-loop-warnings": False,
        "distributed.scheduler.http.routes": [],  # its pages would show the paths of recordings
        "distributed.worker.http.routes": [],
    }
    with dask.config.set(quiet):
        if settings.scheduler:
            with distributed.Client(settings.scheduler, set_as_default=False) as client, _executor(client) as executor:
                yield executor
            return
        with (
            distributed.LocalCluster(
                n_workers=settings.workers,
                threads_per_worker=1,
                processes=True,
                host=_HERE,
                dashboard_address=f"{_HERE}:0",  # any free port: None would still take port 8787
                scheduler_kwargs={"dashboard": False},
                memory_limit=settings.worker_memory_bytes + _WORKER_BYTES,
                silence_logs=logging.CRITICAL,
            ) as cluster,
            distributed.Client(cluster, set_as_default=False) as client,
            _executor(client) as executor,
        ):
            yield executor


@contextmanager
def _executor(client: Any) -> Iterator[Executor]:  # noqa: ANN401 distributed ships no types
    """Yield a client's executor; at the end what still runs is dropped, not waited for."""
    executor: Executor = client.get_executor(pure=False)
    try:
        yield executor
    finally:
        executor.shutdown(wait=False)


def is_dead_worker(problem: BaseException) -> bool:
    """Whether an error means that the worker died, and not that the task failed by itself."""
    return isinstance(problem, BrokenExecutor | CancelledError) or type(problem).__module__.startswith("distributed")
