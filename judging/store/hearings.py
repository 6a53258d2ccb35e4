"""How strike logs were heard: with which voices, how well bells were told apart, what else rang there."""

import json
from typing import NamedTuple

from sqlmodel import Session, col, select

from judging.store.tables import StoredRecording, StoredStrikeLog
from judging.store.tower_tables import StoredHearing


def add_hearing(session: Session, hearing: StoredHearing) -> None:
    """Keep how a strike log was heard, in the transaction that keeps the log and writes its entry in the trail."""
    session.add(hearing)
    session.flush()


def hearing_of(session: Session, log: StoredStrikeLog) -> StoredHearing | None:
    """Return how a strike log was heard; None where it was given, or heard before that was kept."""
    return session.get(StoredHearing, log.id)


class RungStretch(NamedTuple):
    """A stretch of ringing in a recording: from when to when, the share of the piece in it, whether it was heard."""

    begin_s: float
    end_s: float
    rung: float | None
    is_heard: bool


def stretches_of(hearing: StoredHearing | None) -> list[RungStretch]:
    """Return the stretches of ringing in the recording that a log was heard in; none where there are not several."""
    return [RungStretch(*one) for one in json.loads(hearing.segments_json)] if hearing is not None else []


def hearing_of_recording(session: Session, recording: StoredRecording) -> StoredHearing | None:
    """Return how a recording was heard last; None where it was not yet."""
    return session.exec(
        select(StoredHearing)
        .join(StoredStrikeLog, col(StoredStrikeLog.id) == col(StoredHearing.strike_log_id))
        .where(StoredStrikeLog.recording_id == recording.id)
        .order_by(col(StoredHearing.strike_log_id).desc())
    ).first()


def erase_hearings(session: Session, logs: tuple[StoredStrikeLog, ...]) -> None:
    """Erase how some strike logs were heard, which are erased next; only a practice night's can be."""
    for log in logs:
        hearing = hearing_of(session, log)
        if hearing is not None:
            session.delete(hearing)
    session.flush()
