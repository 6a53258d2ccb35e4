"""Pull-offs heard by the laptop as they are rung, with nobody touching it: their page, and what it sends."""

from typing import Annotated

from fastapi import APIRouter, Form, HTTPException, Path, Request
from fastapi.responses import FileResponse, HTMLResponse, JSONResponse, RedirectResponse, Response
from pydantic import BaseModel, ConfigDict, Field
from starlette.concurrency import run_in_threadpool

from judging.errors import InputError
from judging.jobs.ideal_pull_off import enqueue_ideal, ideal_path
from judging.jobs.listening import MOST_BLOCK_BYTES, Listenings
from judging.piece import rounds, row_text
from judging.store import Store, StoredContest, erase_stands, evening_of, load_day, set_evening, voices_at
from judging.web.access import ContestWatched, Database, StoreHere
from judging.web.contest_page import head_of
from judging.web.forms import form_of
from judging.web.pages import page
from judging.web.practice import is_practice
from judging.web.pull_off_evening import (
    FIELDS,
    HINTS,
    EveningForm,
    evening_page,
    names_for,
    read_evening,
    row_there,
    typed_of,
)
from judging.web.refusals import status_of
from judging.web.views import ContestView, DeskViewed
from judging.web.where_rung import begins_with

router = APIRouter(prefix="/contests/{slug}/practice/pull-offs")

Stream = Annotated[str, Path(max_length=40, pattern=r"^[A-Za-z0-9_-]+$")]
Number = Annotated[int, Path(ge=0, le=10_000_000)]


class Microphone(BaseModel):
    """What a page says of its microphone."""

    model_config = ConfigDict(extra="forbid")

    rate_hz: int = Field(ge=1, le=1_000_000)
    channels: int = Field(default=1, ge=1, le=2)


@router.get("")
def evening(view: DeskViewed, session: Database, store: StoreHere) -> HTMLResponse:
    """Show an evening of pull-offs."""
    return _evening(view, session, store)


@router.post("", response_class=RedirectResponse, status_code=303, responses={422: {}})
def say_what(
    view: DeskViewed, form: Annotated[EveningForm, Form()], session: Database, store: StoreHere, request: Request
) -> Response:
    """Say what is pulled off in, and for which tower; its ideal is rung, to be heard beforehand."""
    _check(view.stored)
    try:
        wanted = read_evening(form)
    except InputError as error:
        return _evening(view, session, store, form.model_dump(), error)
    said = set_evening(
        session,
        view.stored.id or 0,
        row=wanted.row,
        there_bells=wanted.there_bells,
        there_minutes=wanted.there_minutes,
        who=view.visitor.who,
    )
    if said.there_minutes is not None:
        enqueue_ideal(session, store, row_there(said), said.there_minutes)
    answer = RedirectResponse(_address(view.stored), status_code=303)
    if request.app.state.runner is not None:
        request.app.state.runner.wake()
    return answer


@router.post("/erase", response_class=RedirectResponse, status_code=303)
def erase(view: DeskViewed, session: Database) -> RedirectResponse:
    """Erase every pull-off of the evening."""
    _check(view.stored)
    erase_stands(session, view.stored.id or 0, who=view.visitor.who)
    return RedirectResponse(_address(view.stored), status_code=303)


@router.get("/ideal.flac", response_class=FileResponse, responses={404: {}, 206: {}, 416: {}})
def ideal(view: DeskViewed, session: Database, store: StoreHere) -> FileResponse:
    """Give an ideal pull-off at the pace of the tower to be visited."""
    _check(view.stored)
    said = evening_of(session, view.stored.id or 0)
    path = ideal_path(store, row_there(said), said.there_minutes) if said is not None and said.there_minutes else None
    if path is None or not path.is_file():
        raise HTTPException(404, "This has not been rung yet.")
    return FileResponse(path, media_type="audio/flac")


@router.post("/streams", response_class=JSONResponse, responses={409: {}, 422: {}})
def begin(night: ContestWatched, microphone: Microphone, request: Request, store: StoreHere) -> JSONResponse:
    """Begin to listen to a microphone."""
    _check(night)
    with store.read() as session:
        said = evening_of(session, night.id or 0)
        row = said.row if said is not None else row_text(rounds(_own_bells(store, night)))
        kept = voices_at(session, night, len(row))
    if not 8_000 <= microphone.rate_hz <= 192_000:
        raise InputError("rate_hz", f"{microphone.rate_hz:,} Hz; from 8,000 to 192,000 Hz can be heard")
    voices = b"" if kept is None else kept.data
    listening = _listenings(request).begin(
        night.id or 0, row, microphone.rate_hz, channels=microphone.channels, voices=voices
    )
    return JSONResponse({"stream": listening.stream})


@router.post(
    "/streams/{stream}/blocks/{number}",
    response_class=JSONResponse,
    responses={404: {}, 413: {}, 422: {}, 503: {}},
    max_body_size=MOST_BLOCK_BYTES,
)
async def take_block(night: ContestWatched, stream: Stream, number: Number, request: Request) -> JSONResponse:
    """Take a block of sound in: 16-bit samples, little-endian, one of each channel in turn; numbered from 0."""
    _check(night)
    block = await request.body()
    listening = _listenings(request).of(night.id or 0, stream)
    if listening is None:
        raise HTTPException(404, "This is not listened to any more; begin again.")
    if len(block) % (2 * listening.channels):
        raise InputError("block", f"has {len(block)} bytes, which is no whole number of samples")
    if not await run_in_threadpool(listening.take, number, block):
        raise HTTPException(503, "The ear cannot keep up; send this block again.")
    standing = listening.standing
    return JSONResponse(
        {
            "next": listening.next,
            "ready": standing.is_ready,
            "ringing": standing.is_ringing,
            "silent": standing.is_silent,
            "told": standing.told,
        }
    )


@router.post("/streams/ready", response_class=JSONResponse)
def make_ready(night: ContestWatched, request: Request) -> JSONResponse:
    """Have an ear at hand, so that the first pull-off is told as soon as the others."""
    _check(night)
    _listenings(request).make_ready(night.id or 0)
    return JSONResponse({"ready": True})


@router.post("/streams/stop", response_class=JSONResponse)
def stop(night: ContestWatched, request: Request) -> JSONResponse:
    """Stop listening; the bells' voices are forgotten."""
    _check(night)
    _listenings(request).stop(night.id or 0)
    return JSONResponse({"stopped": True})


def _evening(
    view: ContestView,
    session: Database,
    store: Store,
    typed: dict[str, str] | None = None,
    error: InputError | None = None,
) -> HTMLResponse:
    _check(view.stored)
    bells = next(iter(view.judged.day.pieces.values())).bells
    address = _address(view.stored)
    shown = evening_page(session, store, view.stored.id or 0, bells, address)
    return page(
        "pull_offs.html",
        status=200 if error is None else status_of(error),
        viewer=view.visitor,
        night=head_of(view.judged),
        address=address,
        evening=shown,
        voices=begins_with(session, view.stored, shown.bells),
        names=names_for(shown.bells),
        form=form_of(
            typed or typed_of(evening_of(session, view.stored.id or 0), bells), hints=HINTS, error=error, fields=FIELDS
        ),
    )


def _check(contest: StoredContest) -> None:
    if not is_practice(contest):
        raise HTTPException(404)


def _address(contest: StoredContest) -> str:
    return f"/contests/{contest.slug}/practice/pull-offs"


def _own_bells(store: Store, night: StoredContest) -> int:
    """Return how many bells a night's own piece is for."""
    with store.read() as session:
        return next(iter(load_day(session, night.id or 0).pieces.values())).bells


def _listenings(request: Request) -> Listenings:
    listenings: Listenings = request.app.state.listenings
    return listenings
