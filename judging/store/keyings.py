"""Paper sheets keyed in by one person and confirmed by another: what agrees is signed, in the same transaction."""

import json
from dataclasses import dataclass
from decimal import Decimal

from sqlmodel import Session, col, select

from judging.contest import Keying, agreed
from judging.errors import InputError, RuleError
from judging.marks.values import Sheet, Tap
from judging.store.audit import audit
from judging.store.lookups import entry_by_key, judge_by_key
from judging.store.publications import refuse_if_shown
from judging.store.sheet_tables import StoredKeying, StoredSheet
from judging.store.sheets import add_sheet, as_sheet, checked, latest_sheet
from judging.store.tables import StoredContest, StoredEntry, StoredJudge


@dataclass(frozen=True, slots=True)
class KeyedIn:
    """What became of a keying.

    Parameters
    ----------
    signed : StoredSheet or None
        The sheet, where another person had keyed the same.
    others : tuple of Keying
        What other people have keyed for this sheet, each one's newest.
    """

    signed: StoredSheet | None
    others: tuple[Keying, ...]


def key_in(session: Session, contest_id: int, sheet: Sheet, *, who: str) -> KeyedIn:
    """Paper sheet keyed in; it counts as soon as two people have keyed the same.

    Parameters
    ----------
    session : Session
        A writing session.
    contest_id : int
        Whose contest.
    sheet : Sheet
        As read from the paper; ``reason`` for the revision of a signed sheet.
    who : str
        Who keys it; the same person twice only replaces what that person keyed before.

    Returns
    -------
    KeyedIn

    Raises
    ------
    InputError
        No such judge or entry; a total or tap that is no number of faults.
    RuleError
        A version is signed already and no reason is given, or the result is shown.
    """
    contest = session.get_one(StoredContest, contest_id)
    judge, entry = judge_by_key(session, contest_id, sheet.judge), entry_by_key(session, contest_id, sheet.entry)
    if judge is None or entry is None:
        raise InputError(f"sheet of judge {sheet.judge} for {sheet.entry}", "there is nobody of that name here")
    sheet = checked(session, sheet, contest, entry)
    refuse_if_shown(session, contest)
    latest = latest_sheet(session, judge.id, entry.id)
    revision = 1 if latest is None else latest.revision + 1
    if latest is not None and agreed(as_sheet(session, latest, sheet.judge, sheet.entry), sheet):
        return KeyedIn(latest, ())  # the paper says what is signed: sent twice, or confirmed by a third person
    if latest is not None and not sheet.reason:
        raise RuleError(
            f"A sheet of {judge.name} is signed already ({latest.total} in all); a revision is kept beside it and "
            "needs a reason."
        )
    others = tuple(keying for keying in keyings_of(session, judge, entry) if keying.who != who)
    _keep(session, contest, judge, entry, sheet, revision, who)
    for other in others:
        same = agreed(other.sheet, sheet)
        if same is not None:
            signed = add_sheet(session, contest_id, same, who=f"{other.who} and {who}, from the paper of {judge.key}")
            return KeyedIn(signed, others)
    return KeyedIn(None, others)


def keyings_of(session: Session, judge: StoredJudge, entry: StoredEntry) -> tuple[Keying, ...]:
    """Return what has been keyed in for the next version of a sheet, each person's newest, in order of first keying."""
    latest = latest_sheet(session, judge.id, entry.id)
    rows = session.exec(
        select(StoredKeying)
        .where(StoredKeying.judge_id == judge.id, StoredKeying.entry_id == entry.id)
        .where(StoredKeying.revision == (1 if latest is None else latest.revision + 1))
        .order_by(col(StoredKeying.id))
    ).all()
    newest = {row.who: Keying(row.who, _sheet(row, judge.key, entry.key)) for row in rows}
    return tuple(newest.values())


def open_keyings(session: Session, contest_id: int) -> dict[tuple[str, str], int]:
    """Return by judge and entry how many people have keyed a paper in that is not confirmed."""
    rows = session.exec(
        select(StoredJudge, StoredEntry)
        .where(StoredKeying.contest_id == contest_id)
        .where(StoredKeying.judge_id == StoredJudge.id, StoredKeying.entry_id == StoredEntry.id)
        .distinct()
    ).all()
    waiting = {(judge.key, entry.key): len(keyings_of(session, judge, entry)) for judge, entry in rows}
    return {pair: people for pair, people in waiting.items() if people}


def _keep(
    session: Session,
    contest: StoredContest,
    judge: StoredJudge,
    entry: StoredEntry,
    sheet: Sheet,
    revision: int,
    who: str,
) -> None:
    taps = [[tap.change, format(tap.faults, "f"), tap.time_s] for tap in sheet.taps]
    session.add(
        StoredKeying(
            contest_id=contest.id,
            entry_id=entry.id,
            judge_id=judge.id,
            revision=revision,
            who=who,
            total=sheet.total,
            taps_json=json.dumps(taps),
            comment=sheet.comment,
            reason=sheet.reason,
        )
    )
    session.flush()
    audit(
        session,
        who=who,
        what="paper keyed in",
        contest=contest.slug,
        about=f"judge {judge.key}, entry {entry.key}, revision {revision}",
        after={"total": sheet.total, "comment": sheet.comment, "taps": taps},
        reason=sheet.reason,
    )


def _sheet(row: StoredKeying, judge: str, entry: str) -> Sheet:
    taps = tuple(Tap(change, Decimal(faults), time_s) for change, faults, time_s in json.loads(row.taps_json))
    return Sheet(judge, entry, row.total, taps, row.comment, reason=row.reason)
