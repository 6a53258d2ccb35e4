"""The job that hears a recording: what it is made from, what the worker is handed, and what is kept of its answer.

Where the contest is said to ring at a tower, the voices kept there go with the job, and their digest is part of what
the job is known by. A second recorder's recording is heard without: it stood elsewhere.
"""

import hashlib
import json
from collections.abc import Mapping, Sequence
from typing import Any

from sqlmodel import Session, col, select

from judging import __version__
from judging.errors import RuleError
from judging.jobs.listen_task import Listened
from judging.jobs.queue import enqueue
from judging.jobs.task_frame import Call
from judging.papers.words import day_in_words
from judging.store.engine import Store
from judging.store.evidence import add_strike_log, recordings_of, strike_log_of
from judging.store.hearings import RungStretch, add_hearing, hearing_of_recording, stretches_of
from judging.store.lookups import contests, entries_of, piece_of
from judging.store.places import bells_of_entry, voices_at
from judging.store.service_tables import StoredJob
from judging.store.tables import StoredContest, StoredEntry, StoredRecording
from judging.store.tower_tables import StoredHearing, StoredTower, StoredVoices

#: Changes whenever the ear hears differently, so that recordings are heard again.
EAR_VERSION = f"ear {__version__}"

KIND = "listen"


def enqueue_listening(
    session: Session,
    entry: StoredEntry,
    recording: StoredRecording,
    *,
    first_blow_s: float | None = None,
    between_s: tuple[float, float] | None = None,
    turn: int = 0,
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
    between_s : (float, float) or None
        Where in it the piece was rung, if the organiser says.
    turn : int
        More than 0 to hear it once more although nothing about it is new.

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
    params: dict[str, Any] = {
        "entry": entry.id,
        "recording": recording.id,
        "piece_sha256": hashlib.sha256(f"{piece.file_name}\n{piece.text}".encode()).hexdigest(),
        "first_blow_s": first_blow_s,
    }
    contest = session.get_one(StoredContest, entry.contest_id)
    voices = None if recording.is_second else voices_at(session, contest, bells_of_entry(session, entry))
    if voices is not None:
        params |= {"voices": voices.id, "voices_sha256": voices.sha256}
    if between_s is not None:
        params["between_s"] = between_s
    if turn:
        params["turn"] = turn
    return enqueue(
        session,
        kind=KIND,
        input_sha256=recording.sha256,
        engine_version=EAR_VERSION,
        params=params,
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


def hear_again(session: Session, contest: StoredContest, bells: int) -> list[StoredJob]:
    """Ask for every recording of a contest on so many bells to be heard again, so that all are heard alike.

    A first blow or a part that was set by hand stays set; a log that was given, and not heard here, stays in force.

    Parameters
    ----------
    session : Session
        A writing session.
    contest : StoredContest
        Which.
    bells : int
        Of the pieces.

    Returns
    -------
    list of StoredJob
        One for each recording.
    """
    jobs = []
    for entry in entries_of(session, contest.id):
        log, recordings = strike_log_of(session, entry.id), recordings_of(session, entry.id)
        if not recordings or (log is not None and log.origin == "given") or bells_of_entry(session, entry) != bells:
            continue
        recording = next((one for one in recordings if log is not None and one.id == log.recording_id), recordings[0])
        before = _jobs_on(session, recording)
        said = json.loads(before[-1].params_json) if before else {}
        jobs.append(
            enqueue_listening(
                session,
                entry,
                recording,
                first_blow_s=said.get("first_blow_s"),
                between_s=said.get("between_s"),
                turn=len(before),
            )
        )
    return jobs


def hear_part(session: Session, entry: StoredEntry, between_s: tuple[float, float]) -> StoredJob:
    """Ask for the recording that an entry's log was heard in, or its newest, to be heard again in a part of it.

    Parameters
    ----------
    session : Session
        A writing session.
    entry : StoredEntry
        Whose ringing it is.
    between_s : (float, float)
        Where in it the piece was rung.

    Returns
    -------
    StoredJob
        The one that waits already, where the same was asked last.

    Raises
    ------
    RuleError
        There is no recording of it.
    """
    log, recordings = strike_log_of(session, entry.id), recordings_of(session, entry.id)
    if not recordings:
        raise RuleError("No recording of this band is kept that could be heard again.")
    recording = next((one for one in recordings if log is not None and one.id == log.recording_id), recordings[0])
    before = _jobs_on(session, recording)
    waiting = [job for job in before[-1:] if job.state in {"queued", "running"}]
    if waiting and json.loads(waiting[0].params_json).get("between_s") == list(between_s):
        return waiting[0]
    return enqueue_listening(session, entry, recording, between_s=between_s, turn=len(before))


def call_listen(session: Session, store: Store, job: StoredJob) -> Call:
    """Return what `judging.jobs.listen_task.listen_task` is handed."""
    params = json.loads(job.params_json)
    piece = piece_of(session, session.get_one(StoredEntry, params["entry"]))
    voices = session.get(StoredVoices, params["voices"]) if "voices" in params else None
    path = str(store.recordings.path(job.input_sha256))
    options = {
        "first_blow_s": params["first_blow_s"],
        "voices": voices.data if voices is not None else b"",
        "between_s": params.get("between_s"),
    }
    return Call((path, piece.file_name, piece.text), options, {path: job.input_sha256})


def keep_listened(session: Session, job: StoredJob, result: Listened) -> None:
    """Keep the strike log that was heard and how, unless the same recording was asked to be heard otherwise since."""
    params = json.loads(job.params_json)
    entry = session.get_one(StoredEntry, params["entry"])
    recording = session.get_one(StoredRecording, params["recording"])
    if any(later.id > job.id and later.state != "failed" for later in _jobs_on(session, recording)):
        return
    before = stretches_of(hearing_of_recording(session, recording))
    log = add_strike_log(
        session,
        entry,
        data=result.log_csv,
        name=f"what the ear heard of {entry.key}",
        origin="heard",
        who="ear",
        recording_id=recording.id,
        notes=result.notes,
        start_is_sure=result.start_is_sure,
        is_second=recording.is_second,
    )
    add_hearing(
        session,
        StoredHearing(
            strike_log_id=log.id,
            voices_sha256=params["voices_sha256"] if result.with_voices else "",
            said=_said(session, params, result),
            clarity_json=json.dumps(result.clarity),
            learnt=result.learnt if result.start_is_sure else b"",
            blows=result.blows,
            segments_json=json.dumps(_with_shares(before, result)),
            segment_is_sure=result.segment_is_sure,
        ),
    )


def _with_shares(before: Sequence[RungStretch], result: Listened) -> list[tuple[float, float, float | None, bool]]:
    """Segments with the share of the piece rung in each, from an earlier hearing where this one did not ask."""
    shares = {(begin_s, end_s): share for begin_s, end_s, share, _ in before}
    return [
        (begin_s, end_s, shares.get((begin_s, end_s)) if share is None else share, is_heard)
        for begin_s, end_s, share, is_heard in result.segments
    ]


def _said(session: Session, params: Mapping[str, Any], result: Listened) -> str:
    """Say which voices were used; nothing where there was no choice."""
    if "voices" not in params:
        return ""
    voices = session.get(StoredVoices, params["voices"])
    if voices is None:
        return "The voices it was to be heard with were erased meanwhile, so it was heard without."
    tower = session.get_one(StoredTower, voices.tower_id)
    kept = f"the voices kept at {tower.name} on {day_in_words(voices.kept_at.date())}"
    if result.with_voices:
        return f"Heard with {kept}, learnt from {voices.blows:,} blows."
    why = result.why_without or "they were erased meanwhile"
    return f"Heard without {kept}: {why}."


def _jobs_on(session: Session, recording: StoredRecording) -> list[StoredJob]:
    """Return the jobs that hear a recording, in the order of asking."""
    jobs = session.exec(
        select(StoredJob)
        .where(StoredJob.kind == KIND, StoredJob.entry_id == recording.entry_id)
        .where(StoredJob.input_sha256 == recording.sha256)
        .order_by(col(StoredJob.id))
    ).all()
    return [job for job in jobs if json.loads(job.params_json)["recording"] == recording.id]
