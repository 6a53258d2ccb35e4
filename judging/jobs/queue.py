"""The durable queue: a job is a row, so that nothing asked for is lost when a process dies.

A job is known by what it is made from (kind, input, parameters, engine version): asked for twice, it is one. It is
enqueued in the transaction that brought its input. A runner claims it for a while (a *lease*) and renews the lease
while its worker lives; a lease that runs out means that the runner died, and the job is queued again. After
`Settings.job_attempts` tries it is failed, with a reason that a person can use.
"""

import json
from collections.abc import Mapping
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import ColumnElement
from sqlmodel import Session, col, select

from judging.store.columns import utc_now
from judging.store.service_tables import StoredJob

#: What is said of a job whose worker died each time.
GIVEN_UP = (
    "The computer gave up on this {attempts} times: the recording may be damaged in a way that stops the decoder, or "
    "too large for this machine's memory. Save it again as WAV or FLAC, cut to the ringing, and send it once more."
)


def enqueue(
    session: Session,
    *,
    kind: str,
    input_sha256: str,
    engine_version: str,
    params: Mapping[str, Any] | None = None,
    entry_id: int | None = None,
    makes: Path | None = None,
) -> StoredJob:
    """Ask for a job, in the transaction that brings its input.

    Parameters
    ----------
    session : Session
        A writing session.
    kind : str
        A key of `judging.jobs.kinds.KINDS`.
    input_sha256 : str
        Of the recording or text it is made from.
    engine_version : str
        Of what does the work; a newer one makes another job.
    params : mapping or None
        Anything else the result depends on, as JSON.
    entry_id : int or None
        The entry it is for.
    makes : Path or None
        The file that comes of it, which may be thrown away at any time.

    Returns
    -------
    StoredJob
        New; or the one there is already, which is queued again only if it had failed or its file is gone.
    """
    params_json = json.dumps(params or {}, sort_keys=True, ensure_ascii=False)
    job = session.exec(
        select(StoredJob).where(
            StoredJob.kind == kind,
            StoredJob.input_sha256 == input_sha256,
            StoredJob.params_json == params_json,
            StoredJob.engine_version == engine_version,
        )
    ).first()
    if job is None:
        job = StoredJob(
            kind=kind,
            input_sha256=input_sha256,
            params_json=params_json,
            engine_version=engine_version,
            entry_id=entry_id,
        )
    elif job.state == "failed" or (job.state == "done" and makes is not None and not makes.is_file()):
        _queue_again(job)
        job.attempts, job.error, job.finished_at = 0, "", None
    session.add(job)
    session.flush()
    return job


def is_waiting(session: Session, kinds: tuple[str, ...]) -> bool:
    """Whether `claim` would find a job of these kinds: one queued, or one whose runner died."""
    return (
        session.exec(
            select(StoredJob.id)
            .where(col(StoredJob.kind).in_(kinds))
            .where((col(StoredJob.state) == "queued") | _expired(utc_now()))
            .limit(1)
        ).first()
        is not None
    )


def claim(session: Session, *, worker: str, lease_s: float, attempts: int, kinds: tuple[str, ...]) -> StoredJob | None:
    """Take the oldest waiting job of some kinds, papers first and sounds last; jobs of dead runners wait again.

    Parameters
    ----------
    session : Session
        A writing session, so that no two runners take the same job.
    worker : str
        Who takes it.
    lease_s : float
        For how long, if nothing more is heard.
    attempts : int
        A job whose worker or runner died so often is given up.
    kinds : tuple of str
        What this runner can do.

    Returns
    -------
    StoredJob or None
        Running now; None where nothing waits.
    """
    requeue_expired(session, attempts=attempts)
    job = session.exec(
        select(StoredJob)
        .where(StoredJob.state == "queued", col(StoredJob.kind).in_(kinds))
        # One that kills its worker does not hold up the rest; a paper is waited for, and made in seconds; what a band
        # might listen to does not hold up what is to be heard.
        .order_by(
            col(StoredJob.attempts), col(StoredJob.kind) != "paper", col(StoredJob.kind) == "sound", col(StoredJob.id)
        )
    ).first()
    if job is None:
        return None
    now = utc_now()
    job.state, job.worker, job.lease_until = "running", worker, now + timedelta(seconds=lease_s)
    job.attempts += 1
    job.started_at, job.progress, job.message = now, 0.0, ""
    session.add(job)
    session.flush()
    return job


def held(session: Session, job_id: int, *, worker: str) -> StoredJob | None:
    """Return a running job if it is still this worker's: after a lost lease another may have it."""
    job = session.get(StoredJob, job_id)
    return job if job is not None and job.state == "running" and job.worker == worker else None


def renew(session: Session, job: StoredJob, *, lease_s: float, progress: float, message: str) -> None:
    """Renew a lease and note how far the job is.

    Parameters
    ----------
    session : Session
        A writing session.
    job : StoredJob
        From `held`, in this session.
    lease_s : float
        Held for so long from now.
    progress : float
        From 0 to 1; it never goes back.
    message : str
        What is being done, in words.
    """
    job.lease_until = utc_now() + timedelta(seconds=lease_s)
    job.progress = min(1.0, max(job.progress, progress))
    job.message = message[:200]
    session.add(job)


def finish(session: Session, job: StoredJob) -> None:
    """Note that a job is done; its result is kept in the same transaction."""
    job.state, job.lease_until, job.finished_at = "done", None, utc_now()
    job.progress, job.message, job.error = 1.0, "", ""
    session.add(job)


def fail(session: Session, job: StoredJob, error: str) -> None:
    """Note that a job cannot be done, and why, as a person is told."""
    job.state, job.lease_until, job.finished_at = "failed", None, utc_now()
    job.message, job.error = "", error
    session.add(job)


def try_again(session: Session, job: StoredJob, *, attempts: int) -> None:
    """Queue a job again whose worker died, or give it up after so many attempts."""
    if job.attempts >= attempts:
        fail(session, job, GIVEN_UP.format(attempts=job.attempts))
    else:
        _queue_again(job)
        session.add(job)


def release(session: Session, job: StoredJob) -> None:
    """Queue a job again that its runner gives back unharmed, without counting the try."""
    _queue_again(job)
    job.attempts -= 1
    session.add(job)


def requeue_expired(session: Session, *, attempts: int, now: datetime | None = None) -> int:
    """Queue again every job whose lease has run out, because its runner died.

    Parameters
    ----------
    session : Session
        A writing session.
    attempts : int
        After so many a job is given up.
    now : datetime or None
        This moment where None.

    Returns
    -------
    int
        How many.
    """
    expired = session.exec(select(StoredJob).where(_expired(now or utc_now()))).all()
    for job in expired:
        try_again(session, job, attempts=attempts)
    session.flush()
    return len(expired)


def jobs_of(session: Session, entry_id: int) -> list[StoredJob]:
    """Return an entry's jobs, newest first."""
    return list(
        session.exec(select(StoredJob).where(StoredJob.entry_id == entry_id).order_by(col(StoredJob.id).desc())).all()
    )


def _expired(now: datetime) -> ColumnElement[bool]:
    return (col(StoredJob.state) == "running") & (col(StoredJob.lease_until) <= now)


def _queue_again(job: StoredJob) -> None:
    job.state, job.lease_until, job.worker = "queued", None, ""
    job.progress, job.message = 0.0, ""
