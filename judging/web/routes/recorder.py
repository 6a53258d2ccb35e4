"""A band's touch recorded in the ringing room: slices as they are made, joined at the end, or a file."""

from typing import Annotated

from fastapi import APIRouter, Form, Path, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.concurrency import run_in_threadpool

from judging.errors import InputError, RuleError
from judging.store import Store, StoredEntry
from judging.store.takes import MOST_SLICE_BYTES, MOST_SLICES
from judging.web.access import Database, StoreHere, Visitor, VisitorHere
from judging.web.evidence_page import check_recording, keep_recording, read_given
from judging.web.forms import ConsentForm, JoinForm
from judging.web.receiving import Received, receive
from judging.web.recorder import (
    EntryAttended,
    EntryRecorded,
    join_take,
    note_consent,
    put_slice,
    recorder_page,
)
from judging.web.routes.steward import NO_LIMIT

router = APIRouter(prefix="/contests/{slug}/bands/{key}/recorder")

TakeKey = Annotated[str, Path(pattern="^[0-9a-f]{32}$")]


@router.get("")
def recorder(entry: EntryAttended, session: Database, visitor: VisitorHere, store: StoreHere) -> HTMLResponse:
    """Show what is recorded of a band, and how more is."""
    return recorder_page(store, session, entry, visitor)


@router.post("/consent", response_class=RedirectResponse, status_code=303, responses={409: {}, 422: {}})
def consent(
    entry: EntryAttended, form: Annotated[ConsentForm, Form()], session: Database, visitor: VisitorHere
) -> Response:
    """Note the band's answer."""
    is_to_erase = note_consent(session, entry, form.consent, who=visitor.who)
    return RedirectResponse("../take-back" if is_to_erase else "../recorder", status_code=303)


@router.post(
    "", response_class=RedirectResponse, status_code=303, responses={409: {}, 413: {}, 422: {}}, max_body_size=NO_LIMIT
)
async def take_file(entry: EntryRecorded, request: Request, store: StoreHere, visitor: VisitorHere) -> Response:
    """Take a recording in as a file, and ask the ear to hear it."""
    received = Received()
    try:
        await receive(
            request, received, field_name="recording", incoming=store.recordings.incoming, check=check_recording
        )
        await run_in_threadpool(_keep, store, entry.id, visitor, received)
    except (InputError, RuleError) as error:
        if isinstance(error, InputError) and error.where == received.file_name:
            error = InputError("recording", error.problem)  # the store names the file, the page its field
        return await run_in_threadpool(_again, store, entry, visitor, error)
    _wake(request)
    return RedirectResponse(request.url.path, status_code=303)


@router.post("/{take}/{number}", responses={409: {}, 413: {}, 422: {}}, max_body_size=MOST_SLICE_BYTES)
async def take_slice(
    entry: EntryRecorded,
    take: TakeKey,
    number: Annotated[int, Path(ge=0, lt=MOST_SLICES)],
    request: Request,
    store: StoreHere,
) -> dict[str, int]:
    """Take a slice in; the answer comes when it is on the disk, and says how many are there without a gap."""
    data = await request.body()
    found = await run_in_threadpool(put_slice, store, entry, take, number, data)
    return {"slices": found.slices, "beyond": found.beyond}


@router.post("/{take}", response_class=RedirectResponse, status_code=303, responses={409: {}, 422: {}})
def join(
    entry: EntryRecorded,
    take: TakeKey,
    form: Annotated[JoinForm, Form()],
    request: Request,
    store: StoreHere,
    visitor: VisitorHere,
) -> Response:
    """Make a recording of the slices, and ask the ear to hear it; or throw them away."""
    if form.what == "forget":
        store.takes.forget(entry.id, take)
    else:
        join_take(store, entry, take, form.slices, visitor)
        _wake(request)
    return RedirectResponse(request.url.path.rsplit("/", 1)[0], status_code=303)


def _keep(store: Store, entry_id: int, visitor: Visitor, received: Received) -> None:
    given = read_given(received)
    with store.write() as session:
        keep_recording(session, session.get_one(StoredEntry, entry_id), given, who=visitor.who)


def _again(store: Store, entry: StoredEntry, visitor: Visitor, error: InputError | RuleError) -> Response:
    with store.read() as session:
        return recorder_page(store, session, entry, visitor, error=error)


def _wake(request: Request) -> None:
    if request.app.state.runner is not None:
        request.app.state.runner.wake()
