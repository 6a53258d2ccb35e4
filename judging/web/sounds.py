"""What can be heard of a band: its recording, and its strike log rung on made-up bells in several ways."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from fastapi import HTTPException
from sqlmodel import Session

from judging.errors import RuleError
from judging.figures import counted
from judging.jobs import enqueue_sound, jobs_of, sound_path
from judging.jobs.resounding import Way, first_habit
from judging.store import (
    Store,
    StoredContest,
    StoredRecording,
    StoredStrikeLog,
    entries_of,
    recordings_of,
    strike_log_of,
)
from judging.store.service_tables import StoredJob
from judging.striking import count_striking
from judging.striking.repairing import repaired
from judging.striking.values import Count
from judging.web.judged import Judged
from judging.web.views import BandView

#: Ways of ringing a log, as addresses have them.
WAYS: Mapping[str, Way] = {"steady": "steady", "repaired": "repaired", "as-rung": "as rung"}

_TITLES = {
    "recording": "As recorded",
    "steady": "Steady, at the band’s own pace",
    "repaired": "With the first habit put right",
    "as-rung": "As rung, on made-up bells",
}


@dataclass(frozen=True, slots=True)
class Sound:
    """One thing that can be heard.

    Parameters
    ----------
    key : str
        As the page's address calls it: ``recording``, ``steady``, ``repaired`` or ``as-rung``.
    title, said : str
        What it is, and what it would have counted.
    address : str
        Of the sound; empty where it is not made yet.
    is_coming : bool
        Whether it is being made.
    """

    key: str
    title: str
    said: str
    address: str
    is_coming: bool


def sounds_of(band: BandView, session: Session, store: Store, log: StoredStrikeLog) -> tuple[Sound, ...]:
    """Return what can be heard of a band, the recording first.

    Parameters
    ----------
    band : BandView
        Whose sheet the visitor may open.
    session : Session
        A reading session will do.
    store : Store
        Where the files are.
    log : StoredStrikeLog
        In force.

    Returns
    -------
    tuple of Sound
        Those that are not made yet too, unless the band has no habit to put right.
    """
    jobs = {job.params_json: job for job in reversed(jobs_of(session, band.stored.id or 0)) if job.kind == "sound"}
    return tuple(_sounds(band, session, store, log, list(jobs.values())))


def _sounds(
    band: BandView, session: Session, store: Store, log: StoredStrikeLog, jobs: list[StoredJob]
) -> Iterator[Sound]:
    if recording_of(log, session) is not None:
        yield Sound("recording", _TITLES["recording"], "", f"{band.address}/recording", is_coming=False)
    for key, way in WAYS.items():
        said = _said(band.count, band.of.judged, key)
        if key == "repaired" and not said:
            continue
        is_there = sound_path(store, log, way, band.of.stored.rules_text).is_file()
        coming = any(f'"way": "{way}"' in job.params_json and job.state in {"queued", "running"} for job in jobs)
        address = f"{band.address}/sounds/{key}" if is_there else ""
        yield Sound(key, _TITLES[key], said, address, is_coming=coming and not is_there)


def _said(count: Count, judged: Judged, key: str) -> str:
    """Return what a way of ringing would have counted, in words."""
    if key != "repaired":
        return ""
    try:
        habit = first_habit(count, "the band")
    except RuleError:
        return ""
    again = count_striking(repaired(count, habit), count.rung.piece, judged.rules.counting)
    return f"{counted(again.total, 'faults')} instead of {counted(count.total, 'faults')}"


def recording_of(log: StoredStrikeLog, session: Session) -> StoredRecording | None:
    """Return the recording whose clock a log's times are on.

    A log that was given, and not heard here, is taken to be of the entry's recording where there is just one.
    """
    kept = recordings_of(session, log.entry_id)
    if log.recording_id is None:
        return kept[0] if len(kept) == 1 else None
    return next((recording for recording in kept if recording.id == log.recording_id), None)


def log_of(band: BandView, session: Session) -> StoredStrikeLog:
    """Return the strike log behind a band's count; an address without one is not found."""
    log = strike_log_of(session, band.stored.id or 0)
    if log is None:
        raise HTTPException(404, "This band has no strike log; it was judged by ear alone.")
    return log


def ask_for_sounds(session: Session, store: Store, contest: StoredContest, judged: Judged) -> None:
    """Ask for every way of hearing each band that has a count, such as when a result has become final.

    Parameters
    ----------
    session : Session
        A writing session.
    store : Store
        Where the files will be.
    contest : StoredContest
        Which.
    judged : Judged
        The same, judged.
    """
    for entry in entries_of(session, contest.id or 0):
        log = strike_log_of(session, entry.id or 0)
        if log is None or entry.key not in judged.outcome.counts:
            continue
        for key, way in WAYS.items():
            if key == "repaired" and not _said(judged.outcome.counts[entry.key], judged, key):
                continue
            if key == "as-rung" and recording_of(log, session) is not None:
                continue
            enqueue_sound(session, store, entry, way)
