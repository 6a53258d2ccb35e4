"""A practice night is its band's own: all that was recorded and heard of it goes when the band says so."""

from sqlmodel import Session, col, select

from judging.errors import RuleError
from judging.store.audit import audit
from judging.store.evenings import erase_stands
from judging.store.evidence import erase_recording, wanted_recordings
from judging.store.lookups import entries_of
from judging.store.service_tables import StoredJob
from judging.store.tables import StoredContest, StoredRecording, StoredStrikeLog
from judging.store.towers import erase_hearings


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


def logs_of_night(session: Session, night: StoredContest) -> tuple[StoredStrikeLog, ...]:
    """Return every strike log of a practice night, those not in force too."""
    entries = [entry.id for entry in entries_of(session, night.id or 0)]
    return tuple(session.exec(select(StoredStrikeLog).where(col(StoredStrikeLog.entry_id).in_(entries))).all())
