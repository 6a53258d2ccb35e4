"""A server killed in the middle of a job: its workers go with it, and the next server does the job."""

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import Executor, ThreadPoolExecutor
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest

from judging.jobs import JobKind, Runner
from judging.jobs.queue import enqueue
from judging.jobs.task_frame import Call
from judging.store import Settings, Store, StoredJob

IN_WORKERS = Path(__file__).parents[1] / "jobs" / "in_workers"


@contextmanager
def threads() -> Iterator[Executor]:
    with ThreadPoolExecutor(1) as pool:
        yield pool


def is_alive(pid: int) -> bool:
    with suppress(ProcessLookupError):
        os.kill(pid, 0)
        return "zombie" not in Path(f"/proc/{pid}/status").read_text(encoding="ascii")
    return False


@pytest.mark.slow
def test_the_job_of_a_killed_server_is_done_by_the_next_one(tmp_path: Path) -> None:
    data = tmp_path / "data"
    settings = Settings(min_free_bytes=0, job_lease_s=1.0)
    with Store.open(data, settings) as store:
        with store.write() as session:
            job_id = enqueue(session, kind="wait_for", input_sha256="0" * 64, engine_version="1").id
        script = Path(__file__).with_name("run_jobs.py")
        with subprocess.Popen(
            [sys.executable, str(script), str(data), str(IN_WORKERS)], stdout=subprocess.PIPE, text=True
        ) as server:
            assert server.stdout is not None
            said, *workers = server.stdout.readline().split()
            server.kill()
        assert (said, len(workers) > 0) == ("running", True)
        with store.read() as session:
            left = session.get_one(StoredJob, job_id)
        assert (left.state, left.attempts, left.progress) == ("running", 1, 0.25)

        kept: list[str] = []
        kind = JobKind(
            lambda job, *, progress: progress(0.5, "again") or f"done again, job {job}",
            lambda _session, _store, job: Call((job.id,)),
            lambda _session, _job, result: kept.append(result),
        )
        with Runner(store, kinds={"wait_for": kind}, executor=threads, poll_s=0.02):
            deadline = time.monotonic() + 60
            while time.monotonic() < deadline and left.state != "done":
                time.sleep(0.02)
                with store.read() as session:
                    left = session.get_one(StoredJob, job_id)

    assert (left.state, left.attempts) == ("done", 2)
    assert kept == [f"done again, job {job_id}"]
    deadline = time.monotonic() + 60
    while time.monotonic() < deadline and any(is_alive(int(pid)) for pid in workers):
        time.sleep(0.05)
    assert [pid for pid in workers if is_alive(int(pid))] == []
