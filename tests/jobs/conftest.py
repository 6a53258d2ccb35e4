"""A store, and job kinds whose tasks behave in every way a task can."""

import importlib
import json
import shutil
import time
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest
from sqlmodel import Session

from judging.jobs import JobKind
from judging.jobs.queue import enqueue
from judging.jobs.task_frame import Call
from judging.store import Settings, Store, StoredJob, audit

IN_WORKERS = Path(__file__).parent / "in_workers"

#: A contest of plain hunting on four, and a log of it rung evenly.
RULES = """
rules = 1
title = "Deanery Contest"
[[section]]
name = "Four bells"
piece = "hunt"
[[judge]]
id = "a"
name = "Judge A"
[draw]
seed = "larch"
"""
ROWS = "1234\n1234\n2143\n2413\n4231\n4321\n3412\n3142\n1324\n1234\n"
LOG = "time_s,bell\n" + "".join(
    f"{0.3 * blow + 0.3 * (blow // 8):.3f},{bell}\n" for blow, bell in enumerate(ROWS.replace("\n", ""))
)


@pytest.fixture
def store(tmp_path: Path, empty_data: Path) -> Iterator[Store]:
    settings = Settings(data=tmp_path / "data", min_free_bytes=0, job_lease_s=5.0)
    shutil.copytree(empty_data, settings.data)
    with Store.open(settings.data, settings) as opened:
        yield opened


@pytest.fixture
def kinds(monkeypatch: pytest.MonkeyPatch) -> Mapping[str, JobKind]:
    """Every odd task as a kind of job: its input is its argument, its result an audit entry."""
    monkeypatch.syspath_prepend(str(IN_WORKERS))
    odd_tasks = importlib.import_module("odd_tasks")

    def call(_session: Session, _store: Store, job: StoredJob) -> Call:
        return Call((json.loads(job.params_json)["text"],), too_large="too large")

    def keep(session: Session, job: StoredJob, result: Any) -> None:  # noqa: ANN401 a kind may return anything
        audit(session, who="worker", what="kept", about=f"job {job.id}", after=result)

    names = ("answer", "refuse", "break_down", "wait_for", "die_once", "die", "never_end", "devour")
    return {name: JobKind(getattr(odd_tasks, name), call, keep) for name in names}


@pytest.fixture
def ask(store: Store) -> Callable[..., int]:
    """Enqueue a job of a kind on a text, and return its id."""

    def enqueue_one(kind: str, text: str = "dong") -> int:
        with store.write() as session:
            return enqueue(session, kind=kind, input_sha256="0" * 64, engine_version="1", params={"text": text}).id

    return enqueue_one


@pytest.fixture
def ended(store: Store) -> Callable[..., StoredJob]:
    """Wait until a job is done or failed, and return it."""

    def wait(job_id: int, *, within_s: float = 120.0, states: tuple[str, ...] = ("done", "failed")) -> StoredJob:
        deadline = time.monotonic() + within_s
        while time.monotonic() < deadline:
            with store.read() as session:
                job = session.get_one(StoredJob, job_id)
            if job.state in states:
                return job
            time.sleep(0.02)
        raise AssertionError(f"job {job_id} is still {job.state} ({job.message}) after {within_s} s")

    return wait
