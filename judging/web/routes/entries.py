"""Entries: a band entered, its entry changed, and the report of its ringing."""

from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from judging.contest import Phase
from judging.contest.entry_table import identifier_of
from judging.contest.values import Entry
from judging.errors import InputError, RuleError
from judging.store import StoredContest, add_entry, change_entry, entries_of
from judging.web.access import BEFORE_THE_DRAW, ContestRun, Database, EntryRun, VisitorHere
from judging.web.entry_form import EntryForm, ReportForm, read_entry, read_report
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
def new_entry(contest: ContestRun, visitor: VisitorHere) -> HTMLResponse:
    """Show the form for a new band."""
    return entry_page(contest, None, visitor)


@of_contest.post("/entries", response_class=RedirectResponse, status_code=303, responses={409: {}, 422: {}})
def enter_band(
    contest: ContestRun, form: Annotated[EntryForm, Form()], session: Database, visitor: VisitorHere
) -> Response:
    """Enter a band, as long as the order of ringing is not drawn."""
    try:
        _refuse_after_the_draw(contest)
        fields = read_entry(form, rules_of(contest))
        known = {entry.key: entry for entry in entries_of(session, contest.id or 0)}
        with session.begin_nested():
            entry = Entry(id=identifier_of(fields["band"], known), **fields)
            add_entry(session, contest.id or 0, entry, who=visitor.who)
    except (InputError, RuleError) as error:
        return entry_page(contest, None, visitor, form, error)
    return RedirectResponse(f"/contests/{contest.slug}/desk", status_code=303)


@of_band.get("/entry")
def entry(contest: ContestRun, entry: EntryRun, visitor: VisitorHere) -> HTMLResponse:
    """Show a band's entry to be changed."""
    return entry_page(contest, entry, visitor)


@of_band.post("/entry", response_class=RedirectResponse, status_code=303, responses={409: {}, 422: {}})
def change_band(
    contest: ContestRun,
    entry: EntryRun,
    form: Annotated[EntryForm, Form()],
    session: Database,
    visitor: VisitorHere,
) -> Response:
    """Change a band's entry; before and after are kept in the trail."""
    try:
        fields = read_entry(form, rules_of(contest))
        with session.begin_nested():
            change_entry(session, entry, who=visitor.who, reason=form.reason.strip(), **fields)
    except (InputError, RuleError) as error:
        return entry_page(contest, entry, visitor, form, error)
    return RedirectResponse(f"/contests/{contest.slug}/desk", status_code=303)


@of_contest.get("/ringing")
def ringing(contest: Stewarded, session: Database, visitor: VisitorHere) -> HTMLResponse:
    """Show the steward the bands in the order of ringing, and what is reported of each."""
    return ringing_page(contest, session, visitor)


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


def _refuse_after_the_draw(contest: StoredContest) -> None:
    if Phase(contest.phase) not in BEFORE_THE_DRAW:
        raise RuleError("The order of ringing is drawn; take the draw back at the desk to enter another band.")


router = APIRouter()
router.include_router(of_contest)
router.include_router(of_band)
