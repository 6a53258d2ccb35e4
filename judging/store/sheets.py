"""Judges' sheets: the first signed version and every revision, all kept."""

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from sqlmodel import Session, col, select

from judging.contest import check_changes
from judging.errors import InputError, RuleError
from judging.marks.lines import changes_a_line, check_lines, most_a_tap
from judging.marks.panel import check_figure
from judging.marks.sheet_rules import Sheets
from judging.marks.values import Sheet, Tap
from judging.piece import piece_from_file
from judging.store.audit import audit
from judging.store.lookups import entry_by_key, judge_by_key, piece_of, rules_of
from judging.store.publications import refuse_if_shown
from judging.store.sheet_tables import StoredSheet, StoredTap
from judging.store.tables import StoredContest, StoredEntry, StoredJudge

#: More faults than any sheet can hold: a figure above it is a slip of the hand.
_MOST = 1_000_000

#: As in a sheet's file: no touch outlasts a day.
_MOST_TAP_S = 86_400.0


def add_sheet(session: Session, contest_id: int, sheet: Sheet, *, who: str) -> StoredSheet:
    """Signed sheet kept: the first version, or the next revision with its reason.

    Parameters
    ----------
    session : Session
        A writing session.
    contest_id : int
        Whose contest.
    sheet : Sheet
        ``judge`` and ``entry`` are identifiers of this contest; ``revision`` is given by the store;
        ``reason`` is needed for every later version, and for a first one where the figure is a surprising one.
    who : str
        Who signs.

    Returns
    -------
    StoredSheet
        As kept. The very same sheet sent twice is kept once.

    Raises
    ------
    InputError
        No such judge or entry; a total or tap that is no number of faults, or a tap beyond the piece.
    RuleError
        A version is signed already and no reason is given, or the contest is final.
    """
    contest = session.get_one(StoredContest, contest_id)
    judge = judge_by_key(session, contest_id, sheet.judge)
    entry = entry_by_key(session, contest_id, sheet.entry)
    if judge is None:
        raise InputError(f"sheet for {sheet.entry}", f"there is no judge {sheet.judge} in this contest")
    if entry is None:
        raise InputError(f"sheet of judge {sheet.judge}", f"there is no entry {sheet.entry} in this contest")
    sheet = checked(session, sheet, contest, entry)
    latest = latest_sheet(session, judge.id, entry.id)
    if latest is not None and as_sheet(session, latest, sheet.judge, sheet.entry) == _next(
        sheet, latest.revision, latest.reason
    ):
        return latest
    refuse_if_shown(session, contest)
    if latest is not None and not sheet.reason:
        raise RuleError(
            f"Judge {judge.name} has signed a sheet for this band already ({latest.total} in all); "
            "a revision is kept beside it and needs a reason."
        )
    stored = StoredSheet(
        contest_id=contest_id,
        entry_id=entry.id,
        judge_id=judge.id,
        revision=1 if latest is None else latest.revision + 1,
        total=sheet.total,
        comment=sheet.comment,
        reason=sheet.reason,
    )
    session.add(stored)
    session.flush()
    _add_taps(session, stored, sheet.taps)
    audit(
        session,
        who=who,
        what="sheet signed" if latest is None else "sheet revised",
        contest=contest.slug,
        about=f"judge {sheet.judge}, entry {sheet.entry}, revision {stored.revision}",
        before="" if latest is None else {"total": latest.total, "comment": latest.comment},
        after={
            "total": stored.total,
            "comment": stored.comment,
            "taps": [[tap.change, tap.faults, tap.time_s] for tap in sheet.taps],
        },
        reason=stored.reason,
    )
    return stored


def checked(session: Session, sheet: Sheet, contest: StoredContest, entry: StoredEntry) -> Sheet:
    """Return a sheet as it is kept, if the declared rules and the entry's piece allow it and a file could hold it.

    Raises
    ------
    InputError
        Otherwise.
    """
    sheet, rules = _tidy(sheet), rules_of(contest).marks.sheets
    _refuse_nonsense(sheet, rules)
    if changes_a_line(rules):
        _refuse_beyond_the_piece(session, entry, sheet)
    return sheet


def latest_sheet(session: Session, judge_id: int, entry_id: int) -> StoredSheet | None:
    """Return the version in force of a judge's sheet for an entry, if one is signed."""
    return session.exec(
        select(StoredSheet)
        .where(StoredSheet.judge_id == judge_id, StoredSheet.entry_id == entry_id)
        .order_by(col(StoredSheet.revision).desc())
    ).first()


def sheets_of(session: Session, contest_id: int) -> tuple[Sheet, ...]:
    """Return every signed sheet of those who judge, revisions included, in order of judge, entry and revision."""
    rows = session.exec(
        select(StoredSheet, StoredJudge.key, StoredEntry.key)
        .where(StoredSheet.contest_id == contest_id)
        .where(StoredSheet.judge_id == StoredJudge.id, StoredSheet.entry_id == StoredEntry.id)
        .where(col(StoredJudge.shadow).is_(False))
        .order_by(col(StoredJudge.position), col(StoredEntry.received), col(StoredSheet.revision))
    ).all()
    taps: dict[int, list[Tap]] = defaultdict(list)
    for tap in session.exec(
        select(StoredTap)
        .where(StoredTap.sheet_id == StoredSheet.id, StoredSheet.contest_id == contest_id)
        .order_by(col(StoredTap.sheet_id), col(StoredTap.position))
    ).all():
        taps[tap.sheet_id].append(Tap(tap.change, tap.faults, tap.time_s))
    return tuple(_sheet(stored, judge, entry, taps[stored.id]) for stored, judge, entry in rows)


def sheets_by(session: Session, judge: StoredJudge) -> tuple[Sheet, ...]:
    """Return every version that one judge has signed, a judge who learns included, in order of entry and revision."""
    rows = session.exec(
        select(StoredSheet, StoredEntry.key)
        .where(StoredSheet.judge_id == judge.id, StoredSheet.entry_id == StoredEntry.id)
        .order_by(col(StoredEntry.received), col(StoredSheet.revision))
    ).all()
    return tuple(as_sheet(session, stored, judge.key, entry) for stored, entry in rows)


def as_sheet(session: Session, stored: StoredSheet, judge: str, entry: str) -> Sheet:
    """Return the value of one stored version.

    Parameters
    ----------
    session : Session
        Where its taps are read.
    stored : StoredSheet
        The version.
    judge, entry : str
        Keys of its judge and entry.

    Returns
    -------
    Sheet
        With its taps.
    """
    taps = session.exec(
        select(StoredTap).where(StoredTap.sheet_id == stored.id).order_by(col(StoredTap.position))
    ).all()
    return _sheet(stored, judge, entry, [Tap(tap.change, tap.faults, tap.time_s) for tap in taps])


def _sheet(stored: StoredSheet, judge: str, entry: str, taps: Sequence[Tap]) -> Sheet:
    return Sheet(
        judge=judge,
        entry=entry,
        total=stored.total,
        taps=tuple(taps),
        comment=stored.comment,
        revision=stored.revision,
        reason=stored.reason,
    )


def _next(sheet: Sheet, revision: int, reason: str) -> Sheet:
    """Return the sheet as it would be read back if it were that version."""
    # A first sheet that comes again without its reason, or with one, is still the same sheet.
    return replace(sheet, revision=revision, reason=reason if revision == 1 else sheet.reason)


def _tidy(sheet: Sheet) -> Sheet:
    """Return a sheet as it is kept: words without blanks around them, times to the millisecond, lines ended alike."""
    taps = tuple(
        tap if tap.time_s is None or not math.isfinite(tap.time_s) else replace(tap, time_s=round(tap.time_s, 3))
        for tap in sheet.taps
    )
    return replace(sheet, taps=taps, comment=_words(sheet.comment), reason=_words(sheet.reason))


def _words(text: str) -> str:
    return text.replace("\r\n", "\n").replace("\r", "\n").strip()  # a browser's form ends lines as telegraphs did


def _add_taps(session: Session, stored: StoredSheet, taps: Sequence[Tap]) -> None:
    for position, tap in enumerate(taps):
        session.add(
            StoredTap(sheet_id=stored.id, position=position, change=tap.change, faults=tap.faults, time_s=tap.time_s)
        )


def _refuse_nonsense(sheet: Sheet, rules: Sheets) -> None:
    """Refuse what the declared rules do not allow, and what a sheet's file could not hold."""
    where = f"sheet of judge {sheet.judge}"  # the judge reads this, and an entry's identifier tells whose it is
    figures = [("total", sheet.total, Decimal(_MOST)), *(("tap", tap.faults, most_a_tap(rules)) for tap in sheet.taps)]
    for name, value, most in figures:
        if not (value.is_finite() and 0 <= value <= most):
            raise InputError(where, f"{name} {value} is not a number from 0 to {most:,}; is a digit wrong")
    for tap in sheet.taps:
        if tap.faults % rules.step:
            raise InputError(where, f"tap {tap.faults} is finer than the step declared, {rules.step}")
        if tap.change is not None and not 1 <= tap.change <= _MOST:
            raise InputError(where, f"a tap at change {tap.change}; the first change is 1")
        if tap.time_s is not None and not 0 <= tap.time_s <= _MOST_TAP_S:
            raise InputError(where, f"a tap at {tap.time_s} s is at no time of a day")
    if "\0" in sheet.comment + sheet.reason:
        raise InputError(where, "its words hold a character that is no text")
    check_figure(sheet.total, where, rules)
    check_lines(sheet.taps, sheet.total, where, rules)


def _refuse_beyond_the_piece(session: Session, entry: StoredEntry, sheet: Sheet) -> None:
    """Refuse a fault at a change that the entry's piece does not have, where its piece is declared."""
    try:
        piece = piece_of(session, entry)
    except RuleError:
        return
    check_changes(sheet, piece_from_file(piece.file_name, piece.text), f"sheet of judge {sheet.judge}")
