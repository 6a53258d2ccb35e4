"""What judges' pads send: every event kept once, as it came, for good."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import cast

from sqlalchemy import insert
from sqlmodel import Session, col, func, select

from judging.contest.tally import Kind, PadEvent
from judging.errors import RuleError
from judging.store.audit import audit
from judging.store.sheet_tables import StoredPadEvent
from judging.store.tables import StoredContest, StoredEntry, StoredJudge

#: More than any judge does in the longest touch; a pad that sends more is stuck.
MOST_EVENTS = 20_000


@dataclass(frozen=True, slots=True)
class Sent:
    """An event as a pad sent it.

    Parameters
    ----------
    event : PadEvent
        Its moment is on the server's clock as the pad reckons it.
    device_ms : int
        Its moment on the pad's own clock.
    """

    event: PadEvent
    device_ms: int


def keep_events(
    session: Session, entry: StoredEntry, judge: StoredJudge, sent: Iterable[Sent], *, received_ms: int
) -> tuple[PadEvent, ...]:
    """Keep what a pad sent; what is there already stays as it is.

    Parameters
    ----------
    session : Session
        A writing session.
    entry, judge : StoredEntry and StoredJudge
        Whose touch, and whose pad.
    sent : iterable of Sent
        In any order; an event may be among them twice.
    received_ms : int
        Now, on the server's clock. An event that claims to be later happened now.

    Returns
    -------
    tuple of PadEvent
        Those that are new, as kept.

    Raises
    ------
    RuleError
        There are more than a judge can have made; none of these is kept.
    """
    by_id = {one.event.id: one for one in sent}
    mine = select(StoredPadEvent.event).where(StoredPadEvent.judge_id == judge.id, StoredPadEvent.entry_id == entry.id)
    known = set(session.exec(mine.where(col(StoredPadEvent.event).in_(by_id))).all())
    new = [one for event_id, one in by_id.items() if event_id not in known]
    if not new:
        return ()
    held = _held(session, entry, judge)
    _refuse_flood(sum(held.values()), len(new))
    _note_new_pads(session, entry, judge, {one.event.device for one in new} - set(held))
    kept = [replace(one.event, at_ms=min(one.event.at_ms, received_ms)) for one in new]
    whose = {"contest_id": entry.contest_id, "entry_id": entry.id, "judge_id": judge.id, "received_ms": received_ms}
    session.connection().execute(  # no objects: thirty pads wait for each other here
        insert(StoredPadEvent),
        [
            {
                **whose,
                "event": event.id,
                "device": event.device,
                "seq": event.seq,
                "kind": event.kind,
                "at_ms": event.at_ms,
                "device_ms": one.device_ms,
                "faults": event.faults,
                "change": event.change,
                "of": event.of,
                "text": event.text,
            }
            for event, one in zip(kept, new, strict=True)
        ],
    )
    return tuple(kept)


def pad_events(
    session: Session, entry_id: int, judge_id: int, *, after: int = 0, but_of: str = ""
) -> tuple[Sequence[PadEvent], int]:
    """Return what was kept of a judge's pads for an entry, and the number of the last.

    Parameters
    ----------
    session : Session
        A reading session will do.
    entry_id, judge_id : int
        Whose touch, and whose pads.
    after : int
        Only what was kept after that number.
    but_of : str
        A pad whose own events are left out.

    Returns
    -------
    tuple
        The events in the order in which they were kept, and the number to ask after next time.
    """
    rows = session.exec(
        select(StoredPadEvent)
        .where(StoredPadEvent.judge_id == judge_id, StoredPadEvent.entry_id == entry_id)
        .where(col(StoredPadEvent.id) > after, StoredPadEvent.device != but_of)
        .order_by(col(StoredPadEvent.id))
    ).all()
    return [_value(row) for row in rows], rows[-1].id if rows else after


def _held(session: Session, entry: StoredEntry, judge: StoredJudge) -> dict[str, int]:
    """Return how many events are kept of each pad."""
    rows = session.exec(
        select(StoredPadEvent.device, func.count())
        .where(StoredPadEvent.judge_id == judge.id, StoredPadEvent.entry_id == entry.id)
        .group_by(StoredPadEvent.device)
    ).all()
    return dict(rows)


def _refuse_flood(held: int, more: int) -> None:
    if held + more > MOST_EVENTS:
        raise RuleError(
            f"{held:,} touches are kept of this pad already, and {more:,} more would be over {MOST_EVENTS:,}, which no "
            "judge makes; is a key stuck? What is kept stays; sign the sheet, or write it on paper."
        )


def _note_new_pads(session: Session, entry: StoredEntry, judge: StoredJudge, devices: set[str]) -> None:
    for device in sorted(devices):
        audit(
            session,
            who=f"judge {judge.key}",
            what="pad in use",
            contest=session.get_one(StoredContest, entry.contest_id).slug,
            about=f"judge {judge.key}, entry {entry.key}, pad {device}",
        )


def _value(stored: StoredPadEvent) -> PadEvent:
    return PadEvent(
        id=stored.event,
        device=stored.device,
        seq=stored.seq,
        kind=cast(Kind, stored.kind),
        at_ms=stored.at_ms,
        faults=stored.faults,
        change=stored.change,
        of=stored.of,
        text=stored.text,
    )
