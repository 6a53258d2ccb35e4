"""A stored contest → what is known of it when its next step is asked for."""

from collections.abc import Iterable
from datetime import datetime

from sqlmodel import Session

from judging.contest import Standing, lacking
from judging.contest.day import entrant_of, home_of, piece_of
from judging.contest.values import ContestDay, Entry
from judging.errors import InputError
from judging.marks.adjusting import why_unplaced
from judging.store import (
    StoredContest,
    StoredEntry,
    entries_of,
    is_shown,
    judges_of,
    open_keyings,
    protest_window,
    protests_of,
    recordings_of,
)
from judging.store.columns import utc_now
from judging.web.judged import Judged
from judging.web.where_rung import heard_unlike


def standing_of(session: Session, contest: StoredContest, judged: Judged, *, now: datetime | None = None) -> Standing:
    """Return what is known of a contest when its next step is asked for.

    Parameters
    ----------
    session : Session
        A reading session will do.
    contest : StoredContest
        From this session.
    judged : Judged
        The same, judged.
    now : datetime or None
        The moment asked about; this one where None.

    Returns
    -------
    Standing
        Entries are called by number once they have one.
    """
    day = judged.day
    ringing = [entry for entry in in_order(day.entries) if not entry.withdrawn]
    stored = {entry.key: entry for entry in entries_of(session, contest.id)}
    judges = {judge.key: judge for judge in judges_of(session, contest.id) if not judge.shadow}
    called = {entry.id: called_of(entry) for entry in day.entries}
    keyed = open_keyings(session, contest.id)
    window = protest_window(contest)
    protests = protests_of(session, contest.id)
    return Standing(
        phase=judged.phase,
        revision=judged.revision,
        is_shown=is_shown(session, contest),
        has_seed=bool(day.rules.draw_seed),
        judges=len(day.judges),
        entries=len(ringing),
        undeclared=tuple(judge.name for judge in judges.values() if judge.declared_at is None),
        entries_without_piece=tuple(called[entry.id] for entry in ringing if not _has_piece(entry, day)),
        pieces_not_as_asked=tuple(f"Test piece, {where}: {what}" for where, what in lacking(day.rules, day.pieces)),
        not_rung=tuple(called[entry.id] for entry in ringing if not has_rung(session, stored[entry.id], entry, day)),
        keyings_open=tuple(
            (judges[judge].name, called[entry]) for judge, entry in keyed if judge in judges and entry in called
        ),
        sheets_missing=tuple(
            (judges[judge].name, called[entry]) for judge, entry in unsigned(day) if (judge, entry) not in keyed
        ),
        sheets_may_miss=day.rules.marks.combining.missing_judge != "refuse",
        why_no_result=judged.why_not,
        open_protests=sum(protest.outcome == "open" for protest in protests),
        upheld=tuple(
            protest.number
            for protest in protests
            if protest.outcome == "upheld" and protest.revision == judged.revision
        ),
        protest_minutes_left=window.minutes_left(now or utc_now()) if window else 0,
        heard_unlike=tuple(called[entry] for entry in heard_unlike(session, contest, day)),
        machine_has_part=day.rules.marks.machine.part != "cross-check",
    )


def unsigned(day: ContestDay) -> tuple[tuple[str, str], ...]:
    """Return judge and entry of every sheet that is wanted for a place and not signed."""
    signed = {(sheet.judge, sheet.entry) for sheet in day.sheets}
    return tuple(
        (judge, entry.id)
        for entry in in_order(day.entries)
        if not entry.withdrawn and not why_unplaced(entrant_of(entry), day.rules.marks.penalties)
        for judge in wanted_judges(entry, day)
        if (judge, entry.id) not in signed
    )


def in_order(entries: Iterable[Entry]) -> list[Entry]:
    """Return entries in the order of ringing; those without a number, before the draw, come last."""
    return sorted(entries, key=lambda entry: (entry.number is None, entry.number or 0))


def called_of(entry: Entry) -> str:
    """Return how an entry is called where no band is named: by its number, or its identifier before the draw."""
    return entry.id if entry.number is None else str(entry.number)


def wanted_judges(entry: Entry, day: ContestDay) -> tuple[str, ...]:
    """Return the judges whose sheets for an entry are wanted: the panels of its sections, without those concerned."""
    panels = [home_of(entry, day.rules), *(day.rules.section(name) for name in entry.also_in)]
    every = {judge for panel in panels for judge in panel.judges or (one.id for one in day.judges)}
    left_out = set(entry.conflicts) if day.rules.conflict == "sheet left out" else set()
    return tuple(judge.id for judge in day.judges if judge.id in every - left_out)


def has_rung(session: Session, stored: StoredEntry, entry: Entry, day: ContestDay) -> bool:
    """Whether there is any sign that a band has rung: noted, reported on, recorded, judged, or disqualified."""
    return bool(
        stored.ended_at
        or entry.unfinished
        or entry.wrong_method
        or entry.disqualified
        or entry.id in day.logs
        or any(sheet.entry == entry.id for sheet in day.sheets)
        or recordings_of(session, stored.id)
    )


def _has_piece(entry: Entry, day: ContestDay) -> bool:
    try:
        piece_of(entry, day)
    except InputError:
        return False
    return True
