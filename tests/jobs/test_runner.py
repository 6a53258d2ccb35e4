"""The runner: what is asked for is done and kept, and trouble of any kind ends in words."""

import logging
import time
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import BrokenExecutor, Executor, Future, ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from sqlmodel import select

from judging.errors import RuleError
from judging.jobs import JobKind, Runner
from judging.jobs.queue import claim
from judging.jobs.task_frame import ProgressFile, read_progress
from judging.store import Store, StoredAudit, StoredJob, verify_chain


@contextmanager
def threads() -> Iterator[Executor]:
    """Workers that cannot die, for all that needs no death."""
    with ThreadPoolExecutor(2) as pool:
        yield pool


def runner_of(store: Store, kinds: Mapping[str, JobKind], **options: Any) -> Runner:  # noqa: ANN401 passed on
    return Runner(store, kinds=kinds, **({"executor": threads, "poll_s": 0.01} | options))


def kept_results(store: Store) -> list[str]:
    with store.read() as session:
        verify_chain(session)
        return [entry.after for entry in session.exec(select(StoredAudit)).all() if entry.what == "kept"]


def test_a_job_is_done_and_its_result_kept_once(
    store: Store, kinds: Mapping[str, JobKind], ask: Callable[..., int], ended: Callable[..., StoredJob]
) -> None:
    job_id = ask("answer", "ting")
    with runner_of(store, kinds):
        job = ended(job_id)

    assert (job.state, job.progress, job.attempts, job.error) == ("done", 1.0, 1, "")
    assert kept_results(store) == ["TING"]
    assert job.finished_at is not None
    assert list((store.data / "progress").iterdir()) == []


def test_a_job_asked_for_while_the_runner_waits_is_taken_at_once_when_it_is_woken(
    store: Store, kinds: Mapping[str, JobKind], ask: Callable[..., int], ended: Callable[..., StoredJob]
) -> None:
    with runner_of(store, kinds, poll_s=60.0) as runner:
        time.sleep(0.05)
        job_id = ask("answer")
        runner.wake()

        assert ended(job_id, within_s=30).state == "done"


def test_what_a_task_refuses_fails_in_its_own_words_and_is_not_tried_again(
    store: Store, kinds: Mapping[str, JobKind], ask: Callable[..., int], ended: Callable[..., StoredJob]
) -> None:
    job_id = ask("refuse")
    with runner_of(store, kinds):
        job = ended(job_id)

    assert (job.state, job.error, job.attempts) == ("failed", "the recording: is silent from beginning to end", 1)
    assert kept_results(store) == []


def test_a_mistake_of_ours_fails_without_its_details_and_the_log_has_them(
    store: Store,
    kinds: Mapping[str, JobKind],
    ask: Callable[..., int],
    ended: Callable[..., StoredJob],
    caplog: pytest.LogCaptureFixture,
) -> None:
    job_id, after = ask("break_down"), ask("answer")
    with caplog.at_level(logging.ERROR), runner_of(store, kinds):
        job = ended(job_id)
        assert ended(after).state == "done"

    assert job.state == "failed"
    assert "Something went wrong in the program" in job.error
    assert "ZeroDivision" not in job.error
    assert "ZeroDivisionError" in caplog.text


def test_progress_is_seen_while_a_job_runs(
    store: Store,
    kinds: Mapping[str, JobKind],
    ask: Callable[..., int],
    ended: Callable[..., StoredJob],
    tmp_path: Path,
) -> None:
    job_id = ask("wait_for", str(tmp_path / "go"))
    with runner_of(store, kinds):
        deadline = time.monotonic() + 60
        seen = (0.0, "")
        while seen != (0.25, "waiting") and time.monotonic() < deadline:
            with store.read() as session:
                job = session.get_one(StoredJob, job_id)
                seen = (job.progress, job.message)
            time.sleep(0.01)
        (tmp_path / "go").touch()
        ended(job_id)

    assert seen == (0.25, "waiting")


def test_a_long_job_keeps_its_lease_while_its_worker_lives(
    store: Store,
    kinds: Mapping[str, JobKind],
    ask: Callable[..., int],
    ended: Callable[..., StoredJob],
    tmp_path: Path,
) -> None:
    """Another runner looks all the time and must not get the job."""
    store.settings = store.settings.model_copy(update={"job_lease_s": 1.5})
    job_id = ask("wait_for", str(tmp_path / "go"))
    with runner_of(store, kinds):
        ended(job_id, states=("running",))
        until = time.monotonic() + 2.2
        while time.monotonic() < until:
            with store.write() as session:
                assert claim(session, worker="other", lease_s=9, attempts=3, kinds=("wait_for",)) is None
            time.sleep(0.05)
        (tmp_path / "go").touch()
        job = ended(job_id)

    assert (job.state, job.attempts) == ("done", 1)


def test_a_result_that_comes_after_its_lease_was_lost_is_not_kept_twice(
    store: Store, kinds: Mapping[str, JobKind], ask: Callable[..., int], tmp_path: Path
) -> None:
    """The machine slept with its lid closed; meanwhile another runner has taken the job."""
    job_id = ask("wait_for", str(tmp_path / "go"))
    with runner_of(store, kinds):
        while True:
            with store.write() as session:
                job = session.get_one(StoredJob, job_id)
                if job.state == "running":
                    job.worker = "another runner"
                    break
            time.sleep(0.01)
        (tmp_path / "go").touch()
        time.sleep(0.3)

    with store.read() as session:
        assert session.get_one(StoredJob, job_id).worker == "another runner"
    assert kept_results(store) == []


def test_a_runner_that_is_stopped_gives_its_job_back_unharmed(
    store: Store, kinds: Mapping[str, JobKind], ask: Callable[..., int], ended: Callable[..., StoredJob], tmp_path: Path
) -> None:
    go = tmp_path / "go"
    job_id = ask("wait_for", str(go))

    @contextmanager
    def impatient() -> Iterator[Executor]:
        pool = ThreadPoolExecutor(1)
        yield pool
        go.touch()
        pool.shutdown()

    with runner_of(store, kinds, executor=impatient):
        ended(job_id, states=("running",))
    with store.read() as session:
        job = session.get_one(StoredJob, job_id)

    assert (job.state, job.attempts, job.lease_until) == ("queued", 0, None)


def test_a_result_that_may_not_be_kept_fails_the_job_and_leaves_nothing(
    store: Store, kinds: Mapping[str, JobKind], ask: Callable[..., int], ended: Callable[..., StoredJob]
) -> None:
    def keep_half(session: Any, job: StoredJob, result: str) -> None:  # noqa: ANN401 a session
        kinds["answer"].keep(session, job, result)
        raise RuleError("No test piece is declared for ash any more.")

    job_id = ask("answer")
    with runner_of(store, {"answer": JobKind(kinds["answer"].task, kinds["answer"].call, keep_half)}):
        job = ended(job_id)

    assert (job.state, job.error) == ("failed", "No test piece is declared for ash any more.")
    assert kept_results(store) == []


def test_a_job_that_cannot_be_prepared_fails_in_words_and_the_next_is_done(
    store: Store, kinds: Mapping[str, JobKind], ask: Callable[..., int], ended: Callable[..., StoredJob]
) -> None:
    def call(*_: object) -> Any:  # noqa: ANN401 it never returns
        raise RuleError("No test piece is declared for ash yet.")

    gone, fine = ask("refuse"), ask("answer")
    with runner_of(store, {**kinds, "refuse": JobKind(kinds["refuse"].task, call, kinds["refuse"].keep)}):
        assert ended(gone).error == "No test piece is declared for ash yet."
        assert ended(fine).state == "done"


def test_an_engine_that_breaks_is_made_anew_and_the_job_done(
    store: Store,
    kinds: Mapping[str, JobKind],
    ask: Callable[..., int],
    ended: Callable[..., StoredJob],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("judging.jobs.runner._AFTER_TROUBLE_S", 0.01)
    made = []

    class Broken(Executor):
        def submit(self, *_: object, **__: object) -> Future[Any]:  # type: ignore[override] it takes nothing
            raise BrokenExecutor("the scheduler is gone")

    @contextmanager
    def sometimes_broken() -> Iterator[Executor]:
        made.append(1)
        if len(made) == 1:
            yield Broken()
        else:
            with threads() as pool:
                yield pool

    job_id = ask("answer")
    with runner_of(store, kinds, executor=sometimes_broken):
        job = ended(job_id)

    assert (job.state, job.attempts, len(made)) == ("done", 1, 2)


def test_workers_are_replaced_after_so_many_jobs(
    store: Store,
    kinds: Mapping[str, JobKind],
    ask: Callable[..., int],
    ended: Callable[..., StoredJob],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("judging.jobs.runner._JOBS_A_CLUSTER", 2)
    made = []

    @contextmanager
    def counted() -> Iterator[Executor]:
        made.append(1)
        with threads() as pool:
            yield pool

    ids = [ask("answer", f"bell {number}") for number in range(5)]
    with runner_of(store, kinds, executor=counted):
        for job_id in ids:
            assert ended(job_id).state == "done"

    assert len(made) == 3


def test_no_workers_are_started_before_there_is_work(
    store: Store, kinds: Mapping[str, JobKind], ask: Callable[..., int], ended: Callable[..., StoredJob]
) -> None:
    started = []

    @contextmanager
    def counted() -> Iterator[Executor]:
        started.append(1)
        with threads() as pool:
            yield pool

    with runner_of(store, kinds, executor=counted):
        time.sleep(0.1)
        assert started == []
        ended(ask("answer"))
        assert started == [1]


@pytest.mark.parametrize(
    ("written", "read"),
    [
        (None, (0.0, "")),
        ("", (0.0, "")),
        ("[0.5", (0.0, "")),
        ('{"a": 1}', (0.0, "")),
        ("[null, 3]", (0.0, "")),
        ('[7, "x"]', (1.0, "x")),
    ],
)
def test_a_progress_file_missing_cut_or_odd_is_no_progress_and_no_error(
    tmp_path: Path, written: str | None, read: tuple[float, str]
) -> None:
    path = tmp_path / "job-1.json"
    if written is not None:
        path.write_text(written)

    assert read_progress(path) == read


def test_progress_comes_through_its_file_as_it_was_told(tmp_path: Path) -> None:
    path = tmp_path / "job-1.json"
    ProgressFile(str(path))(0.375, "following the bells")

    assert read_progress(path) == (0.375, "following the bells")
    assert list(tmp_path.iterdir()) == [path]


def test_progress_told_a_thousand_times_a_second_is_written_a_few_times(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    written = []
    replace = Path.replace
    monkeypatch.setattr(Path, "replace", lambda self, target: (written.append(target), replace(self, target)))
    path = tmp_path / "job-1.json"
    tell = ProgressFile(str(path))
    for block in range(1000):
        tell(block / 1000, "reading the recording")
    tell(0.999, "following the bells")

    assert 2 <= len(written) < 100
    assert read_progress(path) == (0.999, "following the bells")


def test_progress_that_cannot_be_written_does_not_stop_the_task(tmp_path: Path) -> None:
    ProgressFile(str(tmp_path / "no such folder" / "job-1.json"))(0.5, "reading the recording")

    assert list(tmp_path.iterdir()) == []
