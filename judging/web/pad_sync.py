"""A pad and the server telling each other what they have: batches in, what is kept and how things stand out.

An answer names every event that is on the disk now, whether it came with this batch or an earlier one; the pad sends
whatever has not been named, again and again, until it has. So a lost message costs time and nothing else.
"""

import time
from collections.abc import Sequence
from decimal import Decimal
from threading import Lock
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field
from sqlmodel import Session, col, func, select

from judging.contest.tally import Kind, PadEvent
from judging.errors import InputError, JudgingError, RuleError
from judging.figures import figure
from judging.marks.panel import latest
from judging.marks.sheet_rules import Sheets
from judging.marks.surprising import surprising_alone
from judging.marks.values import Sheet, Tap
from judging.store import (
    Sent,
    Store,
    StoredPadEvent,
    StoredSheet,
    add_sheet,
    keep_events,
    latest_sheet,
    pad_events,
    rules_of,
    sheets_by,
)
from judging.web.pad_page import PadHeld, is_open, pad_of

#: An event later than now by more than two clocks can differ once their difference is measured.
FUTURE_MS = 2_000

#: No clock is further out than this: a pad that was reset says 1970.
_MOST_OFFSET_MS = 3.2e12

_AT_ONCE = Lock()

Figure = Annotated[Decimal, Field(ge=0, le=10, max_digits=6)]


class Line(BaseModel):
    """One line of a sheet that is signed."""

    model_config = ConfigDict(extra="forbid")

    change: int = Field(ge=1, lt=10**6)
    faults: Figure
    time_s: float | None = Field(default=None, ge=0, le=86_400)


class Signed(BaseModel):
    """A sheet as the judge saw it when signing."""

    model_config = ConfigDict(extra="forbid")

    lines: list[Line] = Field(max_length=6000)
    total: Decimal = Field(ge=0, le=1_000_000, max_digits=12)
    comment: str = Field(default="", max_length=5000)
    reason: str = Field(default="", max_length=500)


class Event(BaseModel):
    """One event as a pad sends it, its moment on the pad's own clock.

    ``offset_ms`` is the server's clock less the pad's, as the pad had measured it.
    """

    model_config = ConfigDict(extra="forbid")

    id: str = Field(pattern=r"^[a-z0-9]{8,40}$")
    seq: int = Field(ge=1, le=10**6)
    kind: Kind
    at_ms: int = Field(ge=0, lt=2**53)
    offset_ms: float = Field(default=0.0, ge=-_MOST_OFFSET_MS, le=_MOST_OFFSET_MS)
    faults: Figure | None = None
    change: int | None = Field(default=None, ge=1, lt=10**6)
    of: str = Field(default="", max_length=40)
    text: str = Field(default="", max_length=5000)
    sheet: Signed | None = None


class Batch(BaseModel):
    """What a pad has to say.

    ``after`` is how far it knows what the judge's other pads sent; ``entry`` is the band it was opened for.
    """

    model_config = ConfigDict(extra="forbid")

    device: str = Field(pattern=r"^[a-z0-9]{4,32}$")
    entry: int
    events: list[Event] = Field(default_factory=list, max_length=200)
    after: int = Field(default=0, ge=0)


def take_batch(held: PadHeld, batch: Batch, store: Store) -> dict[str, Any]:
    """Keep what a pad sent, and tell it how things stand.

    Parameters
    ----------
    held : PadHeld
        Whose pad it is.
    batch : Batch
        What it sent; without events nothing is written.
    store : Store
        Open.

    Returns
    -------
    dict
        ``now_ms``; ``kept``, identifiers on the disk; ``refused``, why an event is not; ``future``, those whose clock
        ran ahead; ``others`` and ``after``, what other pads of this judge sent; ``signed``; ``began_ms``, ``ended_ms``.

    Raises
    ------
    RuleError
        The touch is closed, or the band's number has gone to another; the pad keeps all it has.
    """
    if batch.entry != held.entry.id:
        raise RuleError("The order was changed, and this number is another band’s now; open your list again.")
    if not batch.events:
        with store.read() as session:
            return _standing(held, batch, session)
    if not is_open(held.contest):
        raise RuleError("The result is final, so nothing is taken any more; what is here stays on this device.")
    # One after another here, and not in the database, where whoever waits sleeps longer than the others write.
    with _AT_ONCE, store.write() as session:
        now_ms = now()
        sent = [_sent(event, batch) for event in batch.events if event.kind != "sign"]
        keep_events(session, held.entry, held.judge, sent, received_ms=now_ms)
        kept = [one.event.id for one in sent]
        refused: dict[str, str] = {}
        for event in batch.events:
            if event.kind == "sign":
                why = _sign(held, event, batch, session)
                if why:
                    refused[event.id] = why
                else:
                    kept.append(event.id)
    with store.read() as session:
        return _standing(held, batch, session) | {
            "kept": kept,
            "refused": refused,
            "future": [one.event.id for one in sent if one.event.at_ms > now_ms + FUTURE_MS],
        }


def now() -> int:
    """Return the server's clock, in milliseconds since 1970."""
    return time.time_ns() // 1_000_000


def _sent(event: Event, batch: Batch, text: str = "") -> Sent:
    return Sent(
        PadEvent(
            id=event.id,
            device=batch.device,
            seq=event.seq,
            kind=event.kind,
            at_ms=max(event.at_ms + round(event.offset_ms), 0),
            faults=event.faults,
            change=event.change,
            of=event.of,
            text=text or event.text,
        ),
        device_ms=event.at_ms,
    )


def _sign(held: PadHeld, event: Event, batch: Batch, session: Session) -> str:
    """Sign a sheet unless this signature is kept already; return why it cannot be."""
    known = session.exec(
        select(StoredPadEvent.id).where(
            StoredPadEvent.judge_id == held.judge.id,
            StoredPadEvent.entry_id == held.entry.id,
            StoredPadEvent.event == event.id,
        )
    ).first()
    if known is not None:
        return ""
    try:
        if event.sheet is None:
            raise InputError("sheet", "is missing from the signature")
        sheet = _sheet(held, event.sheet, rules_of(held.contest).marks.sheets, session)
        with session.begin_nested():
            stored = add_sheet(session, held.contest.id, sheet, who=held.visitor.who)
            keep_events(
                session, held.entry, held.judge, [_sent(event, batch, f"version {stored.revision}")], received_ms=now()
            )
    except JudgingError as error:
        return str(error)
    return ""


def _sheet(held: PadHeld, signed: Signed, rules: Sheets, session: Session) -> Sheet:
    """Return the sheet of a signature, if its total is what its lines make, and has a reason if it surprises."""
    lines = tuple(Tap(line.change, line.faults, line.time_s) for line in signed.lines)
    pad, _ = pad_of(held, session)
    made = pad.total(sum((line.faults for line in lines), Decimal(0)))
    if made is not None and made != signed.total:
        raise InputError("total", f"is {figure(signed.total)}, but its lines make {figure(made)} {rules.unit}")
    others = latest(sheet for sheet in sheets_by(session, held.judge) if sheet.entry != held.entry.key)
    question = surprising_alone(
        signed.total, [sheet.total for sheet in others.values()], changes=pad.changes, unit=rules.unit
    )
    if question and not signed.reason.strip():
        raise RuleError(f"{question} If so, say so in a few words.")
    return Sheet(held.judge.key, held.entry.key, signed.total, lines, signed.comment, reason=signed.reason)


def _standing(held: PadHeld, batch: Batch, session: Session) -> dict[str, Any]:
    entry = held.entry  # read for this very request
    others, after = pad_events(session, entry.id, held.judge.id, after=batch.after, but_of=batch.device)
    return {
        "now_ms": now(),
        "kept": [],
        "refused": {},
        "future": [],
        "others": _told(others),
        "after": after,
        "signed": _signed(session, latest_sheet(session, held.judge.id, entry.id)),
        "is_open": is_open(held.contest),
        "began_ms": None if entry.began_at is None else round(entry.began_at.timestamp() * 1000),
        "ended_ms": None if entry.ended_at is None else round(entry.ended_at.timestamp() * 1000),
    }


def _told(events: Sequence[PadEvent]) -> list[dict[str, Any]]:
    """Return what other pads sent, as the pad's own events are written."""
    return [
        {
            "id": event.id,
            "device": event.device,
            "seq": event.seq,
            "kind": event.kind,
            "at_ms": event.at_ms,
            "faults": None if event.faults is None else float(event.faults),
            "change": event.change,
            "of": event.of,
            "text": event.text,
        }
        for event in events
        if event.kind != "sign"
    ]


def _signed(session: Session, sheet: StoredSheet | None) -> dict[str, Any] | None:
    """Return the version in force, and how many taps came after it."""
    if sheet is None:
        return None
    signed_ms = round(sheet.signed_at.timestamp() * 1000)
    late = session.exec(
        select(func.count())
        .select_from(StoredPadEvent)
        .where(StoredPadEvent.judge_id == sheet.judge_id, StoredPadEvent.entry_id == sheet.entry_id)
        .where(StoredPadEvent.kind == "tap", col(StoredPadEvent.received_ms) > signed_ms)
    ).one()
    return {"revision": sheet.revision, "total": figure(sheet.total), "at_ms": signed_ms, "late": late}
