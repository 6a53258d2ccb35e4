"""What can be heard of a band: its recording, and its strike log rung in several ways, on made-up or its own bells."""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import groupby

import numpy as np
from fastapi import HTTPException
from sqlmodel import Session

from judging.errors import RuleError
from judging.figures import counted
from judging.jobs import enqueue_sound, jobs_of, sound_path
from judging.jobs.resounding import Way, first_habit
from judging.papers.sheet_values import Evidence
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

#: Of these, those on the bells of the band's own recording, and the way that each is.
ON_OWN_BELLS: Mapping[str, str] = {"own-steady": "steady", "own-repaired": "repaired"}

_TITLES = {
    "recording": "As recorded",
    "steady": "Steady, at the band’s own pace",
    "repaired": "With the first habit put right",
    "as-rung": "As rung",
}

MADE_UP, OWN = "on made-up bells", "on the tower’s own bells"


#: Rows of a repaired touch that are offered to be heard.
_SAVED_ROWS = 12


@dataclass(frozen=True, slots=True)
class Sound:
    """One thing that can be heard.

    Parameters
    ----------
    key : str
        As the page's address calls it: ``recording``, ``steady``, ``own-steady`` and the like.
    way, title, said : str
        How it is rung, what it is called, and what it would have counted.
    on : str
        Which bells, in words; empty for the recording.
    address : str
        Of the sound; empty where it is not made yet.
    is_coming : bool
        Whether it is being made.
    why_not : str
        Why it could not be made, in words.
    saved : tuple of Evidence
        Rows that would have cost less, those that would have saved most, in order.
    """

    key: str
    way: str
    title: str
    said: str
    on: str
    address: str
    is_coming: bool = False
    why_not: str = ""
    saved: tuple[Evidence, ...] = ()

    @property
    def name(self) -> str:
        """What is heard, in full."""
        return f"{self.title}, {self.on}" if self.on else self.title


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
    recording = recording_of(log, session)
    if recording is not None:
        yield Sound("recording", "recording", _TITLES["recording"], "", "", f"{band.address}/recording")
    for key, way in WAYS.items():
        said, saved = _said(band.count, band.of.judged, key)
        if key == "repaired" and not said:
            continue
        for own_key, bells_of in ((key, None), *((own, recording) for own, of in ON_OWN_BELLS.items() if of == key)):
            if own_key != key and recording is None:
                continue
            is_there = sound_path(store, log, way, band.of.stored.rules_text, bells_of=bells_of).is_file()
            job = next((job for job in jobs if _is_for(job, way, bells_of)), None)
            yield Sound(
                own_key,
                key,
                _TITLES[key],
                said,
                MADE_UP if bells_of is None else OWN,
                f"{band.address}/sounds/{own_key}" if is_there else "",
                is_coming=job is not None and job.state in {"queued", "running"} and not is_there,
                why_not=job.error if job is not None and job.state == "failed" and not is_there else "",
                saved=saved,
            )


def _is_for(job: StoredJob, way: Way, bells_of: StoredRecording | None) -> bool:
    """Whether a job rings in a way, on made-up bells or on those of a recording."""
    params = json.loads(job.params_json)
    return bool(params["way"] == way and params.get("bells_of") == (None if bells_of is None else bells_of.id))


def offered(sounds: tuple[Sound, ...], *, may_ask: bool) -> tuple[tuple[Sound, ...], ...]:
    """Return what is shown of what can be heard, by way.

    Parameters
    ----------
    sounds : tuple of Sound
        From `sounds_of`.
    may_ask : bool
        Whether the visitor may ask for what is not there.

    Returns
    -------
    tuple of tuple of Sound
        Each way with the bells it is rung on.
    """
    shown = [one for one in sounds if one.address or one.is_coming or one.why_not or may_ask]
    return tuple(tuple(of_way) for _, of_way in groupby(shown, key=lambda one: one.way))


def playing_of(sounds: tuple[Sound, ...], asked: str) -> Sound | None:
    """Return what is played: what is asked for; what cannot be rung on own bells, on made-up ones; else the first.

    Parameters
    ----------
    sounds : tuple of Sound
        From `sounds_of`.
    asked : str
        A key, or nothing.

    Returns
    -------
    Sound or None
        Nothing where what is asked for is not made yet.
    """
    wanted = next((one for one in sounds if one.key == asked), None)
    if wanted is not None and wanted.why_not:
        asked = wanted.way
    return next((one for one in sounds if one.address and asked in {"", one.key}), None)


def _said(count: Count, judged: Judged, key: str) -> tuple[str, tuple[Evidence, ...]]:
    """Return what a way of ringing would have counted, in words, and the rows that would have cost less."""
    if key != "repaired":
        return "", ()
    try:
        habit = first_habit(count, "the band")
    except RuleError:
        return "", ()
    again = count_striking(repaired(count, habit), count.rung.piece, judged.rules.counting)
    saves = [float(before.sum() - after.sum()) for before, after in zip(count.charge, again.charge, strict=True)]
    best = sorted((row for row, saved in enumerate(saves) if saved > 0), key=lambda row: (-saves[row], row))
    rows = tuple(
        Evidence(count.rung.row_id(row), str(change), float(np.nanmin(count.rung.times_s[row])))
        for row in sorted(best[:_SAVED_ROWS])
        if (change := count.rung.piece.change_of(row)) is not None and np.isfinite(count.rung.times_s[row]).any()
    )
    return f"{counted(again.total, 'faults')} instead of {counted(count.total, 'faults')}", rows


def recording_of(log: StoredStrikeLog, session: Session) -> StoredRecording | None:
    """Return the recording whose clock a log's times are on.

    A log that was given, and not heard here, is taken to be of the entry's recording where there is just one.
    """
    kept = recordings_of(session, log.entry_id)
    if log.recording_id is None:
        return kept[0] if len(kept) == 1 else None
    return next((recording for recording in kept if recording.id == log.recording_id), None)


def way_and_bells(key: str, log: StoredStrikeLog, session: Session) -> tuple[Way, StoredRecording | None]:
    """Return how something is rung and whose bells it is rung on; without their recording, own bells are not found."""
    if key not in ON_OWN_BELLS:
        return WAYS[key], None
    recording = recording_of(log, session)
    if recording is None:
        raise HTTPException(404, "There is no recording of this band to measure its bells from, or it was erased.")
    return WAYS[ON_OWN_BELLS[key]], recording


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
            if key == "repaired" and not _said(judged.outcome.counts[entry.key], judged, key)[0]:
                continue
            if key == "as-rung" and recording_of(log, session) is not None:
                continue
            enqueue_sound(session, store, entry, way)
