"""One recording of a contest's whole day: kept until it is cut to its entries, and then erased.

It holds more than the touches (practice, talk), so nobody but the organiser may have it, and nobody hears it here.
"""

from sqlmodel import Session, col, select

from judging.store.audit import audit
from judging.store.columns import utc_now
from judging.store.publications import refuse_if_final
from judging.store.recordings import Kept
from judging.store.tables import StoredContest, StoredDayRecording


def add_day_recording(
    session: Session, contest: StoredContest, kept: Kept, *, name: str, who: str
) -> StoredDayRecording:
    """Keep a recording of the whole day, in the place of any before.

    Parameters
    ----------
    session : Session
        A writing session.
    contest : StoredContest
        Whose day.
    kept : Kept
        Its file.
    name, who : str
        The giver's own name for it; who gave it.

    Returns
    -------
    StoredDayRecording

    Raises
    ------
    RuleError
        The contest is final.
    """
    refuse_if_final(contest)
    before = day_recording_of(session, contest.id)
    if before is not None:
        erase_day_recording(session, before, who=who, reason="another was given")
    day = StoredDayRecording(contest_id=contest.id, sha256=kept.sha256, size_bytes=kept.size_bytes, name=name[:200])
    session.add(day)
    session.flush()
    audit(
        session,
        who=who,
        what="recording of the day given",
        contest=contest.slug,
        after={"sha256": kept.sha256, "size_bytes": kept.size_bytes},
    )
    return day


def day_recording_of(session: Session, contest_id: int) -> StoredDayRecording | None:
    """Return the recording of a contest's day that is there, if there is one."""
    return session.exec(
        select(StoredDayRecording)
        .where(StoredDayRecording.contest_id == contest_id, col(StoredDayRecording.erased_at).is_(None))
        .order_by(col(StoredDayRecording.id).desc())
    ).first()


def set_cuts(session: Session, day: StoredDayRecording, cuts_json: str, *, who: str) -> None:
    """Note what was found in a day's recording, or where its cuts were moved to."""
    contest = session.get_one(StoredContest, day.contest_id)
    before, day.cuts_json = day.cuts_json, cuts_json
    session.add(day)
    session.flush()
    audit(session, who=who, what="cuts of the day set", contest=contest.slug, before=before, after=cuts_json)


def erase_day_recording(session: Session, day: StoredDayRecording, *, who: str, reason: str) -> None:
    """Give a day's recording up; its file goes with the next `Store.sweep`."""
    contest = session.get_one(StoredContest, day.contest_id)
    day.erased_at = utc_now()
    session.add(day)
    session.flush()
    audit(
        session,
        who=who,
        what="recording of the day erased",
        contest=contest.slug,
        before={"sha256": day.sha256},
        reason=reason,
    )
