"""Long tasks in worker processes, several at once, with their progress told as they go.

A shell command uses this; the service uses the durable jobs of `judging.jobs.runner`. Recordings are decoded by native
code that has crashed on odd files, so a crash must cost one recording and be said to be so.
"""

import multiprocessing
import os
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from threading import Thread
from typing import Any, Protocol, TypeVar

from judging.errors import InputError

#: What a task calls as it goes on: share done from 0 to 1, and what it is doing.
Step = Callable[[float, str], None]

Answer = TypeVar("Answer")


class Progress(Protocol):
    """Where progress is shown."""

    def line(self, name: str) -> Step:
        """Return what one task calls as it goes on."""
        ...


def run_in_workers(tasks: Mapping[str, Callable[[Step], Answer]], *, progress: Progress) -> dict[str, Answer]:
    """Answers of all tasks, each run in a worker process.

    Parameters
    ----------
    tasks : mapping of str to callable
        By name; each takes a `Step` and must pickle (a `functools.partial` of a module's function).
    progress : Progress
        Gets one line a task.

    Returns
    -------
    dict
        Answer by name, in the order of ``tasks``.

    Raises
    ------
    JudgingError
        The first that a task raises.
    InputError
        Where a task took its whole process down.
    """
    lines = {name: progress.line(name) for name in tasks}
    answers: dict[str, Answer] = {}
    with _relayed(lines) as queue:
        try:
            with _pool(len(tasks), queue) as pool:
                answers = _gather(pool, tasks)
        except BrokenProcessPool:  # one by one finds the guilty task and saves the others
            for name, task in tasks.items():
                try:
                    with _pool(1, queue) as pool:
                        answers |= _gather(pool, {name: task})
                except BrokenProcessPool:
                    raise InputError(
                        name, "the worker process died on it; is the file damaged, or the machine out of memory?"
                    ) from None
    return {name: answers[name] for name in tasks}


def _gather(pool: ProcessPoolExecutor, tasks: Mapping[str, Callable[[Step], Answer]]) -> dict[str, Answer]:
    futures: dict[Future[Answer], str] = {pool.submit(_run, name, task): name for name, task in tasks.items()}
    try:
        return {futures[future]: future.result() for future in as_completed(futures)}
    except BaseException:
        # Waited for: a pool left to itself while the interpreter ends can print a traceback of its own.
        pool.shutdown(wait=True, cancel_futures=True)
        raise


@contextmanager
def _pool(wanted: int, queue: Any) -> Iterator[ProcessPoolExecutor]:  # noqa: ANN401 - a queue of multiprocessing
    cores = len(os.sched_getaffinity(0))
    workers = max(1, min(wanted, cores))
    # Linear algebra in every worker with as many threads as cores would make them wait for each other.
    threads = {name: str(max(1, cores // workers)) for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS")}
    before = {name: os.environ.get(name) for name in threads}
    os.environ.update(threads)
    try:
        with ProcessPoolExecutor(
            workers, mp_context=multiprocessing.get_context("spawn"), initializer=_take_queue, initargs=(queue,)
        ) as pool:
            yield pool
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


@contextmanager
def _relayed(lines: Mapping[str, Step]) -> Iterator[Any]:
    """Yield a queue whose messages reach the lines."""
    queue = multiprocessing.get_context("spawn").SimpleQueue()

    def relay() -> None:
        while (message := queue.get()) is not None:
            name, share, doing = message
            lines[name](share, doing)

    thread = Thread(target=relay, daemon=True)
    thread.start()
    try:
        yield queue
    finally:
        queue.put(None)
        thread.join()
        queue.close()


_queue: list[Any] = []  # in a worker: the one queue it tells its progress to


def _take_queue(queue: Any) -> None:  # noqa: ANN401 - a queue of multiprocessing
    _queue.append(queue)


def _run(name: str, task: Callable[[Step], Answer]) -> Answer:
    def step(share: float, doing: str) -> None:
        _queue[-1].put((name, share, doing))

    answer = task(step)
    step(1.0, "done")
    return answer
