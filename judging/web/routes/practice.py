"""Practice nights: begun with what is rung, then touch after touch sent, heard and read."""

from datetime import UTC, datetime
from typing import Annotated

from fastapi import APIRouter, Depends, Form, HTTPException, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.concurrency import run_in_threadpool

from judging.errors import InputError, RuleError
from judging.papers.words import peal_speed
from judging.store import Store, StoredContest, contests
from judging.web.access import ContestWatched, Database, Organiser, StoreHere, Visitor, VisitorHere
from judging.web.book import BookIfOpen
from judging.web.contest_page import head_of
from judging.web.evidence_page import check_recording, keep_recording, read_given
from judging.web.forms import form_of
from judging.web.nights_of_years import FiguresKept, erase, figures_kept, nights_with_something, on_bells
from judging.web.pages import page
from judging.web.practice import (
    FIELDS,
    HINTS,
    PracticeForm,
    begin_practice,
    choices,
    is_practice,
    minutes_meant,
    new_touch,
    touches_of,
)
from judging.web.receiving import Received, receive
from judging.web.refusals import status_of
from judging.web.routes.steward import NO_LIMIT
from judging.web.views import DeskViewed
from judging.web.where_rung import places_viewed, voices_to_keep

of_nights = APIRouter(prefix="/practice")
of_night = APIRouter(prefix="/contests/{slug}/practice")


@of_nights.get("")
def nights(visitor: Organiser, session: Database) -> HTMLResponse:
    """Show the practice nights so far, and the form for another."""
    return _nights(visitor, session, {})


@of_nights.post("", response_class=RedirectResponse, status_code=303, responses={422: {}})
def begin(visitor: Organiser, form: Annotated[PracticeForm, Form()], session: Database) -> Response:
    """Begin a practice night."""
    try:
        with session.begin_nested():
            night = begin_practice(session, form, today=datetime.now(UTC).astimezone().date(), who=visitor.who)
    except InputError as error:
        return _nights(visitor, session, form.model_dump(), error)
    return RedirectResponse(f"/contests/{night.slug}/practice", status_code=303)


@of_nights.get("/year-to-year")
def years(
    visitor: Organiser, session: Database, figures: Annotated[FiguresKept, Depends(figures_kept)], book: BookIfOpen
) -> HTMLResponse:
    """Show every touch of every practice night, and whether the striking becomes closer."""
    return page(
        "year_to_year.html",
        viewer=visitor,
        groups=on_bells(session, figures),
        nights=nights_with_something(session),
        book=book,
    )


@of_night.get("/erase")
def ask_whether_to_erase(view: DeskViewed) -> HTMLResponse:
    """Say what would be erased of a practice night, and ask whether it shall be."""
    if not is_practice(view.stored):
        raise HTTPException(404)
    return page("erase_night.html", viewer=view.visitor, night=head_of(view.judged))


@of_night.post("/erase", response_class=RedirectResponse, status_code=303, responses={404: {}, 409: {}})
def erase_it(night: ContestWatched, store: StoreHere, visitor: VisitorHere) -> RedirectResponse:
    """Erase what was recorded and heard of a practice night."""
    if not is_practice(night):
        raise HTTPException(404)
    erase(store, night, who=visitor.who)
    return RedirectResponse("/practice/year-to-year", status_code=303)


@of_night.get("")
def night(view: DeskViewed, session: Database) -> HTMLResponse:
    """Show a practice night: its touches, newest first, and the form for the next."""
    if not is_practice(view.stored):
        raise HTTPException(404)
    touches = touches_of(view, session)
    meant = minutes_meant(view.stored)
    piece = next(iter(view.judged.day.pieces.values()))
    return page(
        "practice_night.html",
        viewer=view.visitor,
        night=head_of(view.judged),
        piece=piece.title,
        rows=len(piece.rows),
        meant="" if meant is None else peal_speed(meant),
        touches=touches,
        places=places_viewed(session, view),
        voices=voices_to_keep(session, view) if view.visitor.runs_the_service else None,
        error="",
    )


@of_night.post("", response_class=RedirectResponse, status_code=303, responses={422: {}}, max_body_size=NO_LIMIT)
async def take_touch(night: ContestWatched, request: Request, store: StoreHere, visitor: VisitorHere) -> Response:
    """Take a touch's recording in, and ask the ear to hear it."""
    if not is_practice(night):
        raise HTTPException(404)
    received = Received()
    try:
        await receive(
            request, received, field_name="recording", incoming=store.recordings.incoming, check=check_recording
        )
        job = await run_in_threadpool(_keep, store, night, visitor, received)
    except (InputError, RuleError) as error:
        words = error.problem if isinstance(error, InputError) else str(error)
        return page("practice_refused.html", status=status_of(error), viewer=visitor, night=night, message=words)
    if request.app.state.runner is not None:
        request.app.state.runner.wake()
    return RedirectResponse(f"/jobs/{job}", status_code=303)


def _keep(store: Store, night: StoredContest, visitor: Visitor, received: Received) -> int:
    received.fields["agreed"] = "yes"  # who records at a practice is who is recorded; the page says so
    given = read_given(received)
    with store.write() as session:
        entry = new_touch(session, night, who=visitor.who)
        return keep_recording(session, entry, given, who=visitor.who).id or 0


def _nights(
    visitor: Visitor, session: Database, typed: dict[str, str], error: InputError | None = None
) -> HTMLResponse:
    return page(
        "practice.html",
        status=200 if error is None else status_of(error),
        viewer=visitor,
        nights=[contest for contest in contests(session) if is_practice(contest)],
        choices=choices(),
        form=form_of(typed or {"bells": "6", "whole_pulls": "30"}, hints=HINTS, error=error, fields=FIELDS),
    )


router = APIRouter()
router.include_router(of_nights)
router.include_router(of_night)
