"""The kinds of job: what is handed to the worker, and what is kept of its result.

A kind is added by a task in `judging.jobs.tasks` and an entry of `KINDS`.
"""

import hashlib
import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session

from judging import __version__
from judging.jobs.day_cutting import call_cutting, call_finding, cut_task, find_task, keep_found, keep_parts
from judging.jobs.ear_testing import call_test
from judging.jobs.excerpting import call_excerpt, excerpt_task
from judging.jobs.ideal_pull_off import KIND as IDEAL
from judging.jobs.ideal_pull_off import call_ideal
from judging.jobs.limits import Limits
from judging.jobs.queue import enqueue
from judging.jobs.resounding import call_sound, sound_task
from judging.jobs.setting_papers import call_paper, paper_task
from judging.jobs.tasks import Listened, Refused, listen_task
from judging.store.engine import Store
from judging.store.evidence import add_strike_log, recordings_of, strike_log_of
from judging.store.lookups import contests, entries_of, piece_of
from judging.store.service_tables import StoredJob
from judging.store.tables import StoredEntry, StoredRecording

#: Changes whenever the ear hears differently, so that recordings are heard again.
EAR_VERSION = f"ear {__version__}"


@dataclass(frozen=True, slots=True)
class Call:
    """What a worker is handed: plain values only.

    Parameters
    ----------
    arguments : tuple
        By position.
    options : mapping
        By name.
    """

    arguments: tuple[Any, ...]
    options: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class JobKind:
    """One kind of job.

    Parameters
    ----------
    task : callable
        Runs in a worker, on plain values; takes ``progress_path`` and ``limits``; returns its result or `Refused`.
    call : callable
        What the task is handed, from a reading session, the store and the job.
    keep : callable
        Keeps the result, in the transaction that ends the job.
    """

    task: Callable[..., Any]
    call: Callable[[Session, Store, StoredJob], Call]
    keep: Callable[[Session, StoredJob, Any], None]


def enqueue_listening(
    session: Session, entry: StoredEntry, recording: StoredRecording, *, first_blow_s: float | None = None
) -> StoredJob:
    """Ask for a recording to be heard, in the transaction that added it.

    Parameters
    ----------
    session : Session
        A writing session.
    entry : StoredEntry
        Whose ringing it is; its test piece must be there.
    recording : StoredRecording
        Of that entry.
    first_blow_s : float or None
        Where the first blow is, if the organiser says.

    Returns
    -------
    StoredJob
        The job; asked for twice, it is one.

    Raises
    ------
    RuleError
        No test piece is declared for the entry yet.
    """
    piece = piece_of(session, entry)
    return enqueue(
        session,
        kind="listen",
        input_sha256=recording.sha256,
        engine_version=EAR_VERSION,
        params={
            "entry": entry.id,
            "recording": recording.id,
            "piece_sha256": hashlib.sha256(f"{piece.file_name}\n{piece.text}".encode()).hexdigest(),
            "first_blow_s": first_blow_s,
        },
        entry_id=entry.id,
    )


def enqueue_unheard(session: Session, contest_id: int | None = None) -> list[StoredJob]:
    """Ask for every recording to be heard whose entry has no strike log, such as after a folder was taken in.

    Parameters
    ----------
    session : Session
        A writing session.
    contest_id : int or None
        Only of this contest; of all where None.

    Returns
    -------
    list of StoredJob
        One for each such entry.
    """
    chosen = [contest_id] if contest_id is not None else [contest.id for contest in contests(session)]
    jobs = []
    for entry in [entry for chosen_id in chosen for entry in entries_of(session, chosen_id)]:
        recordings = recordings_of(session, entry.id)
        if recordings and strike_log_of(session, entry.id) is None:
            jobs.append(enqueue_listening(session, entry, recordings[0]))
    return jobs


def _call_listen(session: Session, store: Store, job: StoredJob) -> Call:
    params = json.loads(job.params_json)
    piece = piece_of(session, session.get_one(StoredEntry, params["entry"]))
    settings = store.settings
    return Call(
        (str(store.recordings.path(job.input_sha256)), job.input_sha256, piece.file_name, piece.text),
        {
            "first_blow_s": params["first_blow_s"],
            "limits": Limits(settings.worker_memory_bytes, settings.job_seconds),
        },
    )


def _keep_listened(session: Session, job: StoredJob, result: Listened) -> None:
    params = json.loads(job.params_json)
    entry = session.get_one(StoredEntry, params["entry"])
    add_strike_log(
        session,
        entry,
        data=result.log_csv,
        name=f"what the ear heard of {entry.key}",
        origin="heard",
        who="ear",
        recording_id=params["recording"],
        notes=result.notes,
        start_is_sure=result.start_is_sure,
    )


#: Every kind of job there is, by name.
KINDS: Mapping[str, JobKind] = {
    "listen": JobKind(listen_task, _call_listen, _keep_listened),
    # The file is the result, and is there once the task is done: nothing is kept of it.
    "sound": JobKind(sound_task, lambda *of: Call(*call_sound(*of)), lambda *_: None),
    "ear test": JobKind(sound_task, lambda *of: Call(*call_test(*of)), lambda *_: None),
    "find cuts": JobKind(find_task, lambda *of: Call(*call_finding(*of)), keep_found),
    "cut": JobKind(cut_task, lambda *of: Call(*call_cutting(*of)), keep_parts),
    "excerpt": JobKind(excerpt_task, lambda *of: Call(*call_excerpt(*of)), lambda *_: None),
    "paper": JobKind(paper_task, lambda *of: Call(*call_paper(*of)), lambda *_: None),
    IDEAL: JobKind(sound_task, lambda *of: Call(*call_ideal(*of)), lambda *_: None),
}

__all__ = ["EAR_VERSION", "KINDS", "Call", "JobKind", "Refused", "enqueue_listening", "enqueue_unheard"]
