"""The runner: a thread of the server that keeps workers busy with what the queue holds.

It claims a job, hands its task to an executor, renews the lease and copies the worker's progress into the row while
the task runs, and keeps the result together with the end of the job in one transaction. It may die at any instant:
the lease runs out, and the job is queued again by the next runner to look.
"""

import logging
import os
import secrets
import socket
import threading
import time
from collections.abc import Callable, Mapping
from concurrent.futures import CancelledError, Executor, Future
from contextlib import AbstractContextManager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, Self

from sqlmodel import Session

from judging.errors import JudgingError
from judging.jobs import queue
from judging.jobs.engine import is_dead_worker, worker_processes
from judging.jobs.kinds import KINDS, JobKind
from judging.jobs.limits import Limits
from judging.jobs.task_frame import Refused, read_progress, run_task
from judging.store.engine import Store
from judging.store.service_tables import StoredJob

log = logging.getLogger(__name__)

#: Workers are replaced after so many jobs, when idle, because long-lived ones have been seen to grow.
_JOBS_A_CLUSTER = 200

#: A pause before a broken engine is started again, so that a lasting trouble does not fill the log.
_AFTER_TROUBLE_S = 2.0

#: What a person is told of an error that is ours, not theirs.
_OUR_FAULT = "Something went wrong in the program while hearing this recording; the organiser's log has the details."


@dataclass(slots=True)
class _Running:
    """A job that is with a worker now."""

    job_id: int
    kind: JobKind
    future: Future[Any]
    progress_path: Path
    renewed_at: float
    said: tuple[float, str] = (0.0, "")


class Runner:
    """Runs the jobs of a store in worker processes; a context manager that starts and stops its thread.

    Parameters
    ----------
    store : Store
        Open for as long as the runner.
    kinds : mapping of str to JobKind
        What it can do.
    executor : callable or None
        Makes a context manager that gives an executor; worker processes by the store's settings where None, and only
        these are held to limits.
    poll_s : float
        How often the queue and the workers are looked at.
    """

    def __init__(
        self,
        store: Store,
        *,
        kinds: Mapping[str, JobKind] = KINDS,
        executor: Callable[[], AbstractContextManager[Executor]] | None = None,
        poll_s: float = 0.25,
    ) -> None:
        self._store = store
        self._kinds = kinds
        self._executor = executor or partial(worker_processes, store.settings)
        # Limits are a whole process's: other executors may share theirs with much else.
        self._limits = None if executor else Limits(store.settings.worker_memory_bytes, store.settings.job_seconds)
        self._poll_s = poll_s
        self._name = f"{socket.gethostname()}:{os.getpid()}:{secrets.token_hex(4)}"
        self._stopping = threading.Event()
        self._awake = threading.Event()
        self._thread = threading.Thread(target=self._run, name="jobs", daemon=True)
        self._progress_folder = store.data / "progress"

    def __enter__(self) -> Self:
        """Start."""
        self._progress_folder.mkdir(exist_ok=True)
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        """Stop; jobs with a worker are queued again."""
        self._stopping.set()
        self._awake.set()
        self._thread.join()

    def wake(self) -> None:
        """Look at the queue at once, such as after a job was enqueued."""
        self._awake.set()

    def _run(self) -> None:
        """Run until stopped; an engine that breaks is made anew."""
        while not self._stopping.is_set():
            try:
                if self._is_work_waiting():
                    with self._executor() as executor:
                        self._serve(executor)
                else:
                    self._sleep()
            except Exception:  # the thread must outlive any trouble of the engine or the disk
                log.exception("The job engine broke and is started again")
                self._stopping.wait(_AFTER_TROUBLE_S)

    def _is_work_waiting(self) -> bool:
        """Whether it is time to start worker processes: not before there is something to do."""
        with self._store.read() as session:
            return queue.is_waiting(session, tuple(self._kinds))

    def _serve(self, executor: Executor) -> None:
        """Keep the workers of one executor busy until they are to be replaced, or the runner is stopped."""
        running: list[_Running] = []
        begun = 0
        try:
            while not self._stopping.is_set() and (running or begun < _JOBS_A_CLUSTER):
                for item in [item for item in running if item.future.done()]:
                    running.remove(item)
                    self._end(item)
                for item in running:  # before looking for more: after a sleep with the lid closed leases have run out
                    self._report(item)
                while begun < _JOBS_A_CLUSTER and len(running) < self._store.settings.workers:
                    started = self._begin(executor)
                    if started is None:
                        break
                    running.append(started)
                    begun += 1
                self._sleep()
        finally:
            for item in running:
                item.future.cancel()
                self._release(item.job_id)

    def _begin(self, executor: Executor) -> _Running | None:
        """Claim the next job and hand it to a worker; one that cannot be prepared is failed in words."""
        settings = self._store.settings
        if not self._is_work_waiting():
            return None
        with self._store.write() as session:
            job = queue.claim(
                session,
                worker=self._name,
                lease_s=settings.job_lease_s,
                attempts=settings.job_attempts,
                kinds=tuple(self._kinds),
            )
            if job is None:
                return None
            kind = self._kinds[job.kind]
            try:
                call = kind.call(session, self._store, job)
            except JudgingError as problem:
                queue.fail(session, job, str(problem))
                return None
        path = self._progress_folder / f"job-{job.id}.json"
        path.unlink(missing_ok=True)
        try:
            future = executor.submit(run_task, kind.task, call, progress_path=str(path), limits=self._limits)
        except Exception:
            self._release(job.id)
            raise
        future.add_done_callback(lambda _: self._awake.set())
        return _Running(job.id, kind, future, path, time.monotonic())

    def _report(self, item: _Running) -> None:
        """Copy a worker's progress into the row and renew the lease, when there is a reason to write."""
        said = read_progress(item.progress_path)
        is_due = time.monotonic() - item.renewed_at > self._store.settings.job_lease_s / 4
        if said == item.said and not is_due:
            return
        with self._store.write() as session:
            job = queue.held(session, item.job_id, worker=self._name)
            if job is not None:
                queue.renew(session, job, lease_s=self._store.settings.job_lease_s, progress=said[0], message=said[1])
        item.said, item.renewed_at = said, time.monotonic()

    def _end(self, item: _Running) -> None:
        """Keep what came of a job, or say why nothing did."""
        item.progress_path.unlink(missing_ok=True)
        try:
            result = item.future.result()
        except (Exception, CancelledError) as problem:  # whatever a task or an engine can raise
            if is_dead_worker(problem):
                log.warning("The worker of job %d died: %s", item.job_id, problem)
                self._conclude(item, lambda session, job: queue.try_again(session, job, attempts=self._attempts))
            else:
                log.exception("Job %d failed", item.job_id)
                self._conclude(item, lambda session, job: queue.fail(session, job, _OUR_FAULT))
            return
        if isinstance(result, Refused):
            self._conclude(item, lambda session, job: queue.fail(session, job, result.message))
            return
        try:
            self._conclude(item, partial(_keep, item.kind, result))
        except JudgingError as problem:
            words = str(problem)
            self._conclude(item, lambda session, job: queue.fail(session, job, words))

    def _conclude(self, item: _Running, how: Callable[[Session, StoredJob], None]) -> None:
        """End a job in one transaction, unless its lease was lost and another runner has it."""
        with self._store.write() as session:
            job = queue.held(session, item.job_id, worker=self._name)
            if job is not None:
                how(session, job)

    def _release(self, job_id: int) -> None:
        with self._store.write() as session:
            job = queue.held(session, job_id, worker=self._name)
            if job is not None:
                queue.release(session, job)

    def _sleep(self) -> None:
        """Wait for the next look, or until woken."""
        self._awake.wait(self._poll_s)
        self._awake.clear()

    @property
    def _attempts(self) -> int:
        return self._store.settings.job_attempts


def _keep(kind: JobKind, result: Any, session: Session, job: StoredJob) -> None:  # noqa: ANN401 each kind has its own result
    kind.keep(session, job, result)
    queue.finish(session, job)
