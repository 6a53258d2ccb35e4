"""The pages that enter a band, change its entry, and report on its ringing; and the steward's own list."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Annotated

from fastapi import Depends, HTTPException
from fastapi.responses import HTMLResponse
from sqlmodel import Session

from judging.contest import Phase, RuleSet, read_rules
from judging.contest.entry_table import COLUMNS
from judging.contest.values import Entry
from judging.errors import InputError, RuleError
from judging.store import StoredContest, StoredEntry, as_entry, entries_of, order_of
from judging.web.access import BEFORE_THE_DRAW, ContestSeen, EntrySeen, Visitor, VisitorHere, entry_address
from judging.web.entry_form import (
    ENTRY_FIELDS,
    ENTRY_HINTS,
    REPORT_FIELDS,
    REPORT_HINTS,
    EntryForm,
    ReportForm,
    typed_form,
    typed_of,
)
from judging.web.forms import form_of
from judging.web.pages import page
from judging.web.refusals import status_of
from judging.web.words import clock


@dataclass(frozen=True, slots=True)
class ReportView:
    """One band's report, for the steward or the organiser of its contest.

    Parameters
    ----------
    contest, entry
        From the store.
    visitor : Visitor
        Who reports.
    """

    contest: StoredContest
    entry: StoredEntry
    visitor: Visitor

    @property
    def address(self) -> str:
        """Address of the page."""
        return f"/contests/{self.contest.slug}/bands/{entry_address(self.contest, self.entry)}/report"

    @property
    def back(self) -> str:
        """Where to go afterwards."""
        return f"/contests/{self.contest.slug}/{'desk' if self.visitor.is_organiser else 'ringing'}"


def stewarded(contest: ContestSeen, visitor: VisitorHere) -> StoredContest:
    """Return a contest in whose ringing room the visitor stands, or which the visitor organises."""
    is_steward = visitor.access is not None and visitor.access.role == "steward" and visitor.belongs_to(contest)
    if not (is_steward or visitor.runs(contest)):
        raise HTTPException(404)
    return contest


Stewarded = Annotated[StoredContest, Depends(stewarded)]


def report_viewed(contest: Stewarded, entry: EntrySeen, visitor: VisitorHere) -> ReportView:
    """Return a report that is the visitor's to make."""
    return ReportView(contest, entry, visitor)


ReportViewed = Annotated[ReportView, Depends(report_viewed)]


@dataclass(frozen=True, slots=True)
class Rung:
    """One line of the steward's list: number, name, address of its pages, its turn and times, what was reported."""

    number: int
    name: str
    address: str
    turn: str
    times: str
    said: str


def ringing_page(contest: StoredContest, session: Session, visitor: Visitor) -> HTMLResponse:
    """Return the steward's list of bands in the order of ringing."""
    entries = {entry.key: entry for entry in entries_of(session, contest.id or 0)}
    bands = [
        Rung(
            number,
            entries[key].band,
            f"/contests/{contest.slug}/bands/{entry_address(contest, entries[key])}",
            _turn(entries[key]),
            times_of(entries[key], rules_of(contest)),
            said_of(as_entry(entries[key])),
        )
        for number, key in enumerate(order_of(contest), start=1)
    ]
    is_open = contest.phase == Phase.RINGING
    waiting = next((band for band in bands if band.turn in {"", "practises", "has practised"}), None)
    is_quiet = all(band.turn != "rings now" for band in bands)
    return page(
        "ringing.html",
        viewer=visitor,
        contest=contest,
        bands=bands,
        next=waiting if is_quiet else None,
        is_open=is_open,
    )


def _turn(entry: StoredEntry) -> str:
    if entry.withdrawn:
        return "withdrawn"
    if entry.began_at:
        return "has rung" if entry.ended_at else "rings now"
    return "has practised" if entry.practice_ended_at else "practises" if entry.practice_began_at else ""


def times_of(entry: StoredEntry, rules: RuleSet) -> str:
    """Return when a band practised and rang, how long, and how that stands to what is allowed; empty where unknown."""
    section = next((one for one in rules.sections if one.name == entry.section), rules.sections[0])
    practice = _taken("practice", entry.practice_began_at, entry.practice_ended_at, section.practice_minutes)
    return "; ".join(filter(None, (practice, _taken("rung", entry.began_at, entry.ended_at, section.minutes_allowed))))


_GOING_ON = {"practice": "practises", "rung": "rings"}


def _taken(what: str, began: datetime | None, ended: datetime | None, minutes: Decimal | None) -> str:
    if began is None:
        return ""
    if ended is None:
        return f"{_GOING_ON[what]} since {clock(began)}"
    seconds = round((ended - began).total_seconds())
    allowed = None if minutes is None else round(60 * minutes)
    used = f"{what} {clock(began)} to {clock(ended)}, {_clock(seconds)}"
    if allowed is None:
        return used
    over = f", {_clock(seconds - allowed)} over" if seconds > allowed else ""
    return f"{used} of {_clock(allowed)} allowed{over}"


def _clock(seconds: int) -> str:
    return f"{seconds // 60}:{seconds % 60:02}"


def said_of(entry: Entry) -> str:
    """Return what is reported of a band, in words; empty where nothing is."""
    facts = [
        f"withdrawn: {entry.withdrawn}" if entry.withdrawn else "",
        f"not completed: {entry.unfinished}" if entry.unfinished else "",
        f"method: {entry.wrong_method}" if entry.wrong_method else "",
        f"begun again {entry.restarts} ×" if entry.restarts else "",
        f"{entry.missing_rows} rows missing" if entry.missing_rows else "",
        f"{entry.over_time_s:g} s over time" if entry.over_time_s else "",
    ]
    return "; ".join(fact for fact in facts if fact)


def report_page(
    view: ReportView, form: ReportForm | None = None, error: InputError | RuleError | None = None
) -> HTMLResponse:
    """Return the report's page, with what was typed and what is wrong with it."""
    noted = {**typed_of(as_entry(view.entry), REPORT_FIELDS), "incidents": view.entry.incidents}
    typed = form.model_dump() if form else noted
    return page(
        "report.html",
        status=200 if error is None else status_of(error),
        viewer=view.visitor,
        view=view,
        times=times_of(view.entry, rules_of(view.contest)),
        form=form_of(typed, hints=REPORT_HINTS, error=error, fields=REPORT_FIELDS),
    )


def entry_page(
    contest: StoredContest,
    entry: StoredEntry | None,
    visitor: Visitor,
    form: EntryForm | None = None,
    error: InputError | RuleError | None = None,
    *,
    pieces: Sequence[str] = (),
) -> HTMLResponse:
    """Return the page of a band's entry, a new one where there is none yet."""
    typed = typed_form(form) if form else typed_of(as_entry(entry), ENTRY_FIELDS) if entry else {}
    bands = f"/contests/{contest.slug}/bands"
    return page(
        "entry.html",
        status=200 if error is None else status_of(error),
        viewer=visitor,
        contest=contest,
        entry=entry,
        address=f"{bands}/{entry_address(contest, entry)}/entry" if entry else f"/contests/{contest.slug}/entries",
        sections=[section.name for section in rules_of(contest).sections],
        pieces=pieces,
        is_late=Phase(contest.phase) not in BEFORE_THE_DRAW,
        columns=tuple(COLUMNS),
        form=form_of(typed, hints=ENTRY_HINTS, error=error, fields=(*ENTRY_FIELDS, "table")),
    )


def rules_of(contest: StoredContest) -> RuleSet:
    """Return the declared rules of a contest."""
    return read_rules(contest.rules_text, name="rules.toml")
