"""A practice night's pull-offs: what is listened for, and each stand as it was heard."""

import json
from collections.abc import Sequence

from sqlmodel import Session, col, select

from judging.piece.rows import read_row
from judging.store.audit import audit
from judging.store.practice_tables import StoredEvening, StoredStand
from judging.store.tables import StoredContest
from judging.striking import read_log
from judging.striking.strike_log import StrikeLog

#: So many stands are kept of one evening: a pull-off a minute for more than eight hours.
MOST_STANDS = 500


def evening_of(session: Session, contest_id: int) -> StoredEvening | None:
    """Return what a practice night listens for, if that was ever said."""
    return session.get(StoredEvening, contest_id)


def set_evening(
    session: Session,
    contest_id: int,
    *,
    row: str,
    there_bells: int | None = None,
    there_minutes: int | None = None,
    who: str,
) -> StoredEvening:
    """Say what a practice night listens for.

    Parameters
    ----------
    session : Session
        A writing session.
    contest_id : int
        The practice night.
    row : str
        What is pulled off in.
    there_bells, there_minutes : int or None
        A tower to be visited: its bells and its pace, as the time of 5,040 rows.
    who : str
        Who says.

    Returns
    -------
    StoredEvening

    Raises
    ------
    InputError
        The row is none.
    """
    read_row(row, where="row")
    evening = session.get(StoredEvening, contest_id) or StoredEvening(contest_id=contest_id, row=row)
    evening.row, evening.there_bells, evening.there_minutes = row, there_bells, there_minutes
    session.add(evening)
    session.flush()
    audit(
        session,
        who=who,
        what="pull-offs asked for",
        contest=_slug(session, contest_id),
        after={"row": row, "there_bells": there_bells, "there_minutes": there_minutes},
    )
    return evening


def add_stand(
    session: Session,
    contest_id: int,
    *,
    row: str,
    csv: str = "",
    notes: Sequence[str] = (),
    problem: str = "",
    who: str,
) -> StoredStand | None:
    """Keep what was rung until a stand.

    Parameters
    ----------
    session : Session
        A writing session.
    contest_id : int
        The practice night.
    row : str
        What it was to begin with.
    csv : str
        Its strike log, where it was heard.
    notes : sequence of str
        What the ear said of the sound.
    problem : str
        Why they were not heard.
    who : str
        Who heard.

    Returns
    -------
    StoredStand or None
        None where the evening has had as many as are kept.
    """
    newest = session.exec(
        select(StoredStand).where(StoredStand.contest_id == contest_id).order_by(col(StoredStand.number).desc())
    ).first()
    number = newest.number + 1 if newest else 1
    if number > MOST_STANDS:
        return None
    stand = StoredStand(
        contest_id=contest_id,
        number=number,
        row=row,
        csv=csv,
        notes_json=json.dumps(list(notes), ensure_ascii=False),
        problem="" if csv else problem,
    )
    session.add(stand)
    session.flush()
    audit(
        session,
        who=who,
        what="stand heard",
        contest=_slug(session, contest_id),
        about=f"stand {number}",
        after={"heard": bool(csv)},
    )
    return stand


def stands_of(session: Session, contest_id: int) -> list[StoredStand]:
    """Return the stands of an evening, in order."""
    return list(
        session.exec(
            select(StoredStand).where(StoredStand.contest_id == contest_id).order_by(col(StoredStand.number))
        ).all()
    )


def log_of_stand(stand: StoredStand) -> StrikeLog:
    """Return the blows of a stand that was heard."""
    return read_log(stand.csv.encode(), name=f"stand {stand.number}", bells=len(stand.row))


def erase_stands(session: Session, contest_id: int, *, who: str) -> int:
    """Erase every stand of an evening; only that there were so many stays in the audit trail.

    Returns
    -------
    int
        How many there were.
    """
    stands = stands_of(session, contest_id)
    for stand in stands:
        session.delete(stand)
    session.flush()
    audit(
        session,
        who=who,
        what="pull-offs erased",
        contest=_slug(session, contest_id),
        before={"stands": len(stands)},
    )
    return len(stands)


def _slug(session: Session, contest_id: int) -> str:
    return session.get_one(StoredContest, contest_id).slug
