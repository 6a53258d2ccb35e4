"""Entries: a band entered, its entry changed, and the report of its ringing."""

import json
from collections.abc import Iterable
from dataclasses import replace
from typing import Annotated

from fastapi import APIRouter, File, Form, UploadFile
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from sqlmodel import Session

from judging.contest import Phase, read_entry_table
from judging.contest.entry_table import identifier_of
from judging.contest.values import Entry
from judging.errors import InputError, RuleError
from judging.store import StoredContest, StoredEntry, add_entry, add_late_entry, change_entry, entries_of, pieces_of
from judging.web.access import BEFORE_THE_DRAW, ContestRun, Database, EntryRun, VisitorHere
from judging.web.entry_form import EntryForm, ReportForm, TurnForm, read_entry, read_report, read_table, read_turn
from judging.web.entry_page import (
    ReportViewed,
    Stewarded,
    entry_page,
    report_page,
    ringing_page,
    rules_of,
)

of_contest = APIRouter(prefix="/contests/{slug}")
of_band = APIRouter(prefix="/contests/{slug}/bands/{key}")


@of_contest.get("/entries")
def new_entry(contest: ContestRun, session: Database, visitor: VisitorHere) -> HTMLResponse:
    """Show the form for a new band."""
    return entry_page(contest, None, visitor, pieces=_pieces(session, contest))


@of_contest.post("/entries", response_class=RedirectResponse, status_code=303, responses={409: {}, 422: {}})
def enter_band(
    contest: ContestRun, form: Annotated[EntryForm, Form()], session: Database, visitor: VisitorHere
) -> Response:
    """Enter a band; one that enters after the draw is late, and rings last if the rules take it."""
    pieces = _pieces(session, contest)
    try:
        fields = read_entry(form, rules_of(contest), pieces)
        known = {entry.key: entry for entry in entries_of(session, contest.id)}
        _refuse_twice(fields["band"], known.values())
        entry = Entry(id=identifier_of(fields["band"], known), **fields)
        with session.begin_nested():
            if Phase(contest.phase) in BEFORE_THE_DRAW:
                add_entry(session, contest.id, entry, who=visitor.who)
            else:
                add_late_entry(session, contest, replace(entry, late=True), who=visitor.who)
    except (InputError, RuleError) as error:
        return entry_page(contest, None, visitor, form, error, pieces=pieces)
    return RedirectResponse(f"/contests/{contest.slug}/{'entries' if form.another else 'desk'}", status_code=303)


@of_contest.post("/entries/table", response_class=RedirectResponse, status_code=303, responses={409: {}, 422: {}})
def enter_table(
    contest: ContestRun, table: Annotated[UploadFile, File()], session: Database, visitor: VisitorHere
) -> Response:
    """Enter the bands of a CSV file: all of them, or none where anything is wrong."""
    try:
        _refuse_after_the_draw(contest)
        known = {entry.key: entry for entry in entries_of(session, contest.id)}
        entries = read_entry_table(
            read_table(table), name=table.filename or "table", rules=rules_of(contest), taken=known
        )
        with session.begin_nested():
            for entry in entries:
                _refuse_twice(entry.band, known.values())
                add_entry(session, contest.id, entry, who=visitor.who)
    except (InputError, RuleError) as error:
        wrong = InputError("table", _said(error)) if isinstance(error, InputError) else error
        return entry_page(contest, None, visitor, error=wrong, pieces=_pieces(session, contest))
    return RedirectResponse(f"/contests/{contest.slug}/desk", status_code=303)


@of_band.get("/entry")
def entry(contest: ContestRun, entry: EntryRun, session: Database, visitor: VisitorHere) -> HTMLResponse:
    """Show a band's entry to be changed."""
    return entry_page(contest, entry, visitor, pieces=_pieces(session, contest))


@of_band.post("/entry", response_class=RedirectResponse, status_code=303, responses={409: {}, 422: {}})
def change_band(
    contest: ContestRun,
    entry: EntryRun,
    form: Annotated[EntryForm, Form()],
    session: Database,
    visitor: VisitorHere,
) -> Response:
    """Change a band's entry; before and after are kept in the trail."""
    pieces = _pieces(session, contest)
    try:
        fields = read_entry(form, rules_of(contest), pieces)
        _refuse_twice(fields["band"], [one for one in entries_of(session, contest.id) if one.id != entry.id])
        also_in = json.dumps(fields.pop("also_in"), ensure_ascii=False)
        with session.begin_nested():
            change_entry(session, entry, who=visitor.who, reason=form.reason.strip(), also_in_json=also_in, **fields)
    except (InputError, RuleError) as error:
        return entry_page(contest, entry, visitor, form, error, pieces=pieces)
    return RedirectResponse(f"/contests/{contest.slug}/desk", status_code=303)


@of_contest.get("/ringing")
def ringing(contest: Stewarded, session: Database, visitor: VisitorHere) -> HTMLResponse:
    """Show the steward the bands in the order of ringing, and what is reported of each."""
    return ringing_page(contest, session, visitor)


@of_band.post("/turn", response_class=RedirectResponse, status_code=303, responses={409: {}, 422: {}})
def note_turn(view: ReportViewed, form: Annotated[TurnForm, Form()], session: Database) -> Response:
    """Note that a band begins to ring, or has rung; the desk shows it."""
    if view.contest.phase != Phase.RINGING:
        raise RuleError(f"A turn is noted while the bands ring; the contest is {view.contest.phase}.")
    change_entry(session, view.entry, who=view.visitor.who, reason="turn", **read_turn(form, view.entry))
    return RedirectResponse(f"/contests/{view.contest.slug}/ringing", status_code=303)


@of_band.get("/report")
def report(view: ReportViewed) -> HTMLResponse:
    """Show a band's report."""
    return report_page(view)


@of_band.post("/report", response_class=RedirectResponse, status_code=303, responses={409: {}, 422: {}})
def make_report(view: ReportViewed, form: Annotated[ReportForm, Form()], session: Database) -> Response:
    """Report on a band's ringing."""
    try:
        with session.begin_nested():
            change_entry(session, view.entry, who=view.visitor.who, reason="report", **read_report(form))
    except (InputError, RuleError) as error:
        return report_page(view, form, error)
    return RedirectResponse(view.back, status_code=303)


def _pieces(session: Session, contest: StoredContest) -> list[str]:
    return [piece.key for piece in pieces_of(session, contest.id)]


def _refuse_twice(band: str, others: Iterable[StoredEntry]) -> None:
    """Refuse a band that is entered already: two lines of one name would be told apart by nobody."""
    if band.casefold() in {other.band.casefold() for other in others}:
        raise InputError("band", f'"{band[:80]}" is entered already; a band enters once')


def _said(error: InputError) -> str:
    """Say what is wrong with a table with its line, but without the name of its field."""
    return f"in {error}" if error.where not in {"table", "band"} else error.problem


def _refuse_after_the_draw(contest: StoredContest) -> None:
    if Phase(contest.phase) not in BEFORE_THE_DRAW:
        raise RuleError("The order of ringing is drawn; take the draw back at the desk to enter another band.")


router = APIRouter()
router.include_router(of_contest)
router.include_router(of_band)
