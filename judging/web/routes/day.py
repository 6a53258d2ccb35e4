"""One recording of the whole day: taken in, its cuts found, looked at and made."""

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.concurrency import run_in_threadpool

from judging.errors import InputError, RuleError
from judging.store import (
    Store,
    StoredContest,
    StoredDayRecording,
    add_day_recording,
    day_recording_of,
    erase_day_recording,
)
from judging.web.access import ContestRun, ContestWatched, Database, StoreHere, Visitor, VisitorHere
from judging.web.day_page import ask_to_cut, ask_to_find, day_page
from judging.web.evidence_page import check_recording
from judging.web.receiving import Received, receive
from judging.web.routes.steward import NO_LIMIT

router = APIRouter(prefix="/contests/{slug}/day")


@router.get("")
def day(contest: ContestRun, session: Database, visitor: VisitorHere) -> HTMLResponse:
    """Show what is kept of the day, and its cuts."""
    return day_page(session, contest, visitor)


@router.post(
    "", response_class=RedirectResponse, status_code=303, responses={409: {}, 413: {}, 422: {}}, max_body_size=NO_LIMIT
)
async def take_day(contest: ContestWatched, request: Request, store: StoreHere, visitor: VisitorHere) -> Response:
    """Take the recording in."""
    received = Received()
    try:
        await receive(
            request, received, field_name="recording", incoming=store.recordings.incoming, check=check_recording
        )
        await run_in_threadpool(_keep, store, contest, visitor, received)
    except (InputError, RuleError) as error:
        if isinstance(error, InputError) and error.where == received.file_name:
            error = InputError("recording", error.problem)  # the store names the file, the page its field
        return await run_in_threadpool(_again, store, contest, visitor, error)
    return RedirectResponse(request.url.path, status_code=303)


@router.post("/find", response_class=RedirectResponse, status_code=303, responses={409: {}, 422: {}})
async def find(contest: ContestRun, request: Request, session: Database, visitor: VisitorHere) -> Response:
    """Find each band's touch by the times noted."""
    typed = {name: str(value)[:40] for name, value in (await request.form()).items()}
    try:
        ask_to_find(session, contest, _there(session, contest), typed)
    except (InputError, RuleError) as error:
        return day_page(session, contest, visitor, typed=typed, error=error)
    return _back(request)


@router.post("/cut", response_class=RedirectResponse, status_code=303, responses={409: {}, 422: {}})
async def cut(contest: ContestRun, request: Request, session: Database, visitor: VisitorHere) -> Response:
    """Make a recording of each cut, and have it heard."""
    typed = {name: str(value)[:40] for name, value in (await request.form()).items()}
    try:
        ask_to_cut(session, contest, _there(session, contest), typed)
    except (InputError, RuleError) as error:
        return day_page(session, contest, visitor, typed=typed, error=error)
    return _back(request)


@router.post("/erase", response_class=RedirectResponse, status_code=303, responses={409: {}})
def erase(contest: ContestRun, request: Request, session: Database, visitor: VisitorHere) -> Response:
    """Give the recording of the day up."""
    erase_day_recording(session, _there(session, contest), who=visitor.who, reason="on request")
    return _back(request)


def _there(session: Database, contest: StoredContest) -> StoredDayRecording:
    day = day_recording_of(session, contest.id)
    if day is None:
        raise RuleError("There is no recording of the day; send it first.")
    return day


def _keep(store: Store, contest: StoredContest, visitor: Visitor, received: Received) -> None:
    if received.kept is None:
        raise InputError("recording", "no file is chosen")
    with store.write() as session:
        here = session.get_one(StoredContest, contest.id)
        add_day_recording(session, here, received.kept, name=received.file_name, who=visitor.who)


def _again(store: Store, contest: StoredContest, visitor: Visitor, error: InputError | RuleError) -> Response:
    with store.read() as session:
        return day_page(session, contest, visitor, error=error)


def _back(request: Request) -> Response:
    if request.app.state.runner is not None:
        request.app.state.runner.wake()
    return RedirectResponse(request.url.path.rsplit("/", 1)[0], status_code=303)
