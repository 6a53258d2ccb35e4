"""The durable queue: asked for twice is one, claimed by one, lost by none."""

import shutil
from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session, select

from judging.jobs.queue import (
    claim,
    enqueue,
    fail,
    finish,
    held,
    is_waiting,
    release,
    renew,
    requeue_expired,
    try_again,
)
from judging.store import Settings, Store, StoredJob
from judging.store.columns import utc_now

KINDS = ("listen",)


def ask(session: Session, params: dict[str, object] | None = None, version: str = "ear 1") -> StoredJob:
    return enqueue(session, kind="listen", input_sha256="a" * 64, engine_version=version, params=params)


def take(session: Session, worker: str = "w1", *, lease_s: float = 60.0, attempts: int = 3) -> StoredJob | None:
    return claim(session, worker=worker, lease_s=lease_s, attempts=attempts, kinds=KINDS)


def test_a_job_asked_for_twice_is_one(store: Store) -> None:
    with store.write() as session:
        first = ask(session, {"entry": 1, "first_blow_s": None})
        second = ask(session, {"first_blow_s": None, "entry": 1})

    assert first.id == second.id


def test_another_parameter_or_a_newer_engine_makes_another_job(store: Store) -> None:
    with store.write() as session:
        jobs = {ask(session).id, ask(session, {"entry": 1}).id, ask(session, version="ear 2").id}

    assert len(jobs) == 3


def test_a_paper_is_made_first_and_a_sound_waits_for_what_is_to_be_heard(store: Store) -> None:
    kinds = ("sound", "listen", "paper")
    with store.write() as session:
        for kind in kinds:
            enqueue(session, kind=kind, input_sha256="a" * 64, engine_version="1")
        taken = [claim(session, worker="w1", lease_s=60.0, attempts=3, kinds=kinds) for _ in kinds]

    assert [job.kind for job in taken if job is not None] == ["paper", "listen", "sound"]


def test_a_job_done_stays_done_and_a_failed_one_is_tried_afresh_when_asked_for_again(store: Store) -> None:
    with store.write() as session:
        done, failed = ask(session), ask(session, {"entry": 2})
        finish(session, done)
        failed.attempts = 3
        fail(session, failed, "the recording: is silent")

        assert ask(session).state == "done"
        again = ask(session, {"entry": 2})

        assert (again.id, again.state, again.attempts, again.error) == (failed.id, "queued", 0, "")


def test_jobs_are_taken_in_the_order_of_asking_but_one_that_failed_waits_behind_the_rest(store: Store) -> None:
    with store.write() as session:
        ids = [ask(session, {"entry": number}).id for number in range(3)]
        first = take(session)
        assert first is not None
        try_again(session, first, attempts=3)
        session.flush()

        order = [job.id for _ in range(3) if (job := take(session)) is not None]

    assert order == [ids[1], ids[2], ids[0]]


def test_a_runner_takes_only_what_it_can_do(store: Store) -> None:
    with store.write() as session:
        ask(session)

        assert claim(session, worker="w", lease_s=1, attempts=3, kinds=("print",)) is None
        assert not is_waiting(session, ("print",))
        assert is_waiting(session, KINDS)


def test_a_lease_that_ran_out_is_queued_again_and_the_old_holder_holds_it_no_more(store: Store) -> None:
    with store.write() as session:
        job_id = ask(session).id
        assert take(session, "dead runner", lease_s=0.0) is not None
        assert is_waiting(session, KINDS)

        taken = take(session, "new runner")

        assert taken is not None
        assert (taken.id, taken.attempts, taken.worker) == (job_id, 2, "new runner")
        assert held(session, job_id, worker="dead runner") is None
        assert held(session, job_id, worker="new runner") is not None


def test_a_lease_that_is_renewed_does_not_run_out(store: Store) -> None:
    with store.write() as session:
        ask(session)
        job = take(session, lease_s=1.0)
        assert job is not None
        renew(session, job, lease_s=100.0, progress=0.4, message="following the bells")
        session.flush()

        assert requeue_expired(session, attempts=3, now=utc_now() + timedelta(seconds=99)) == 0
        assert (job.progress, job.message) == (0.4, "following the bells")
        assert requeue_expired(session, attempts=3, now=utc_now() + timedelta(seconds=101)) == 1


def test_progress_never_goes_back_nor_past_the_end(store: Store) -> None:
    with store.write() as session:
        ask(session)
        job = take(session)
        assert job is not None
        for said, shown in ((0.5, 0.5), (0.2, 0.5), (7.0, 1.0)):
            renew(session, job, lease_s=1.0, progress=said, message="x" * 500)
            assert job.progress == shown
        assert len(job.message) == 200


def test_after_so_many_deaths_a_job_is_given_up_with_a_reason_a_person_can_use(store: Store) -> None:
    with store.write() as session:
        job = ask(session)
        for _ in range(3):
            assert take(session, lease_s=0.0) is not None

        assert take(session) is None
        assert job.state == "failed"
        assert "gave up on this 3 times" in job.error
        assert "Save it again as WAV or FLAC" in job.error


def test_a_job_given_back_unharmed_does_not_count_as_a_try(store: Store) -> None:
    with store.write() as session:
        ask(session)
        for _ in range(5):
            job = take(session)
            assert job is not None
            release(session, job)
            session.flush()

        assert job.attempts == 0


@pytest.mark.parametrize(
    ("change", "constraint"),
    [
        ({"state": "lost"}, "ck_job_state"),
        ({"state": "running"}, "ck_job_lease"),
        ({"state": "failed"}, "ck_job_failed_has_error"),
        ({"progress": 1.5}, "ck_job_progress"),
        ({"attempts": -1}, "ck_job_attempts"),
    ],
)
def test_the_database_refuses_a_job_in_no_possible_state(
    store: Store, change: dict[str, object], constraint: str
) -> None:
    def spoil() -> None:
        with store.write() as session:
            job = ask(session)
            for name, value in change.items():
                setattr(job, name, value)

    with pytest.raises(IntegrityError, match=constraint):
        spoil()


def test_two_stores_never_take_the_same_job(store: Store) -> None:
    with store.write() as session:
        for number in range(10):
            ask(session, {"entry": number})
    taken: list[int] = []
    with Store.open(store.data, Settings(min_free_bytes=0)) as other:
        for number in range(12):
            with (store if number % 2 else other).write() as session:
                job = take(session, f"w{number % 2}")
                if job is not None:
                    taken.append(job.id)

    assert len(taken) == len(set(taken)) == 10


@given(deeds=st.lists(st.sampled_from(["ask", "take", "finish", "die", "expire", "release"]), max_size=25))
@settings(max_examples=25, deadline=None)
def test_whatever_happens_no_job_is_lost_and_none_runs_for_ever(
    deeds: list[str], tmp_path_factory: pytest.TempPathFactory, empty_data: Path
) -> None:
    """At every moment each job asked for is queued, running under a lease, done, or failed with a reason."""
    folder = shutil.copytree(empty_data, tmp_path_factory.mktemp("queue") / "data")
    asked = 0
    with Store.open(folder, Settings(min_free_bytes=0)) as store, store.write() as session:
        for deed in deeds:
            running = session.exec(select(StoredJob).where(StoredJob.state == "running")).all()
            if deed == "ask":
                ask(session, {"entry": asked})
                asked += 1
            elif deed == "take":
                take(session)
            elif deed == "expire":
                requeue_expired(session, attempts=3, now=utc_now() + timedelta(days=1))
            elif running:
                {
                    "finish": lambda job: finish(session, job),
                    "die": lambda job: try_again(session, job, attempts=3),
                    "release": lambda job: release(session, job),
                }[deed](running[0])
            session.flush()
            jobs = session.exec(select(StoredJob)).all()
            assert len(jobs) == asked
            assert all((job.state == "running") == (job.lease_until is not None) for job in jobs)
            assert all(job.error for job in jobs if job.state == "failed")
            assert all(0 <= job.attempts <= 3 for job in jobs)
        # From anywhere, dead runners and enough tries bring every job to an end.
        requeue_expired(session, attempts=3, now=utc_now() + timedelta(days=1))
        for _ in range(3 * asked):
            take(session, lease_s=0.0)
        requeue_expired(session, attempts=3, now=utc_now() + timedelta(days=1))
        assert {job.state for job in session.exec(select(StoredJob)).all()} <= {"done", "failed"}
