"""What goes when a band says so: all of a practice night, which is its own, and its recording in a contest.

In a contest the strike log stays: it holds which bell struck when and no voice, a result was computed from it that
others were ranked by, and anybody who doubts the result must be able to compute it again.
"""

import json
from dataclasses import dataclass

from sqlmodel import Session, col, select

from judging.errors import RuleError
from judging.store.audit import audit
from judging.store.columns import utc_now
from judging.store.evenings import erase_stands
from judging.store.evidence import erase_recording, set_consent, wanted_recordings
from judging.store.hearings import erase_hearings
from judging.store.lookups import entries_of
from judging.store.publications import publications_of
from judging.store.service_tables import StoredJob
from judging.store.sharing import is_sheet_open, open_sheet
from judging.store.tables import StoredContest, StoredEntry, StoredRecording, StoredStrikeLog


def erase_night(session: Session, night: StoredContest, *, who: str) -> tuple[str, ...]:
    """Erase the recordings, the strike logs and the pull-offs of a practice night; voices kept with a tower stay there.

    Parameters
    ----------
    session : Session
        A writing session.
    night : StoredContest
        A practice night: of a contest the database refuses.
    who : str
        Who erases it.

    Returns
    -------
    tuple of str
        SHA-256 of recordings that nothing refers to any more, whose files are to go once this is committed.

    Raises
    ------
    RuleError
        A touch is being heard at this moment.
    """
    entries = entries_of(session, night.id or 0)
    jobs = session.exec(select(StoredJob).where(col(StoredJob.entry_id).in_([entry.id for entry in entries]))).all()
    if any(job.state == "running" for job in jobs):
        raise RuleError("A touch of this night is being heard just now; erase it when that is done.")
    for job in jobs:
        session.delete(job)  # what waits to be heard would else bring back what was erased
    logs, given_up = logs_of_night(session, night), set()
    for entry in entries:
        for recording in session.exec(select(StoredRecording).where(StoredRecording.entry_id == entry.id)):
            if recording.erased_at is None:
                erase_recording(session, recording, who=who, reason="the band's own wish")
                given_up.add(recording.sha256)
    erase_hearings(session, logs)
    for log in logs:
        session.delete(log)
    session.flush()
    erase_stands(session, night.id or 0, who=who)
    audit(
        session, who=who, what="strike logs of a practice night erased", contest=night.slug, before={"logs": len(logs)}
    )
    return tuple(sorted(given_up - wanted_recordings(session)))


def recordings_there(session: Session, entry: StoredEntry) -> tuple[StoredRecording, ...]:
    """Return every recording of an entry that is not erased, a second recorder's too."""
    wanted = select(StoredRecording).where(StoredRecording.entry_id == entry.id)
    return tuple(session.exec(wanted.where(col(StoredRecording.erased_at).is_(None))).all())


def logs_of_entry(session: Session, entry: StoredEntry) -> tuple[StoredStrikeLog, ...]:
    """Return every strike log of an entry, those not in force too."""
    return tuple(session.exec(select(StoredStrikeLog).where(StoredStrikeLog.entry_id == entry.id)).all())


@dataclass(frozen=True, slots=True)
class TakenBack:
    """Files that are to go once what was written is committed.

    Parameters
    ----------
    recordings : tuple of str
        SHA-256 of recordings that nothing refers to any more.
    excerpts : tuple of str
        Names of the parts that were cut for judges, in the folder ``sounds``.
    """

    recordings: tuple[str, ...]
    excerpts: tuple[str, ...]


def take_back(session: Session, entry: StoredEntry, *, who: str) -> TakenBack:
    """Erase a band's recordings in a contest, at the band's wish, and shut what it had opened to everybody.

    Where no result was ever shown the band is judged by ear alone from now on; where one was, its count stands, since
    others were ranked beside it.

    Parameters
    ----------
    session : Session
        A writing session.
    entry : StoredEntry
        Whose, from this session.
    who : str
        Who does it.

    Returns
    -------
    TakenBack

    Raises
    ------
    RuleError
        Its recording is being heard or cut at this moment.
    """
    contest = session.get_one(StoredContest, entry.contest_id)
    all_jobs = session.exec(select(StoredJob).where(StoredJob.entry_id == entry.id)).all()
    jobs = [job for job in all_jobs if job.kind in {"listen", "excerpt"} or "bells_of" in json.loads(job.params_json)]
    if any(job.state == "running" for job in jobs):
        raise RuleError("The recording is being heard just now; take it back when that is done, in a minute.")
    excerpts = {json.loads(job.params_json)["path"] for job in jobs if job.kind == "excerpt"}
    for job in jobs:
        session.delete(job)  # what waits would else bring back what was erased
    given_up = set()
    for recording in recordings_there(session, entry):
        erase_recording(session, recording, who=who, reason="the band's own wish")
        given_up.add(recording.sha256)
    if is_sheet_open(session, entry):
        open_sheet(session, entry, is_open=False, who=who)
    if not publications_of(session, contest.id):
        set_consent(session, entry, "refused", who=who)
    entry.recording_taken_back_at = utc_now()
    session.add(entry)
    session.flush()
    audit(session, who=who, what="recording taken back", contest=contest.slug, about=f"entry {entry.key}")
    return TakenBack(tuple(sorted(given_up - wanted_recordings(session))), tuple(sorted(excerpts)))


def logs_of_night(session: Session, night: StoredContest) -> tuple[StoredStrikeLog, ...]:
    """Return every strike log of a practice night, those not in force too."""
    entries = [entry.id for entry in entries_of(session, night.id or 0)]
    return tuple(session.exec(select(StoredStrikeLog).where(col(StoredStrikeLog.entry_id).in_(entries))).all())
