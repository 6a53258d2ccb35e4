"""What is heard: recordings and strike logs taken in, and how far the ear is with them."""

import json
from typing import Annotated

from fastapi import APIRouter, File, Form, Request, UploadFile
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from starlette.concurrency import run_in_threadpool

from judging.errors import InputError, RuleError
from judging.jobs.recordings_heard import hear_part
from judging.store import (
    Store,
    StoredContest,
    StoredEntry,
    StoredRecording,
    add_strike_log,
    hearing_of,
    strike_log_of,
)
from judging.store.publications import refuse_if_final
from judging.web.access import (
    Database,
    EntryFilled,
    EntryRun,
    JobSeen,
    StoreHere,
    Visitor,
    VisitorHere,
    entry_address,
)
from judging.web.evidence_page import (
    check_recording,
    evidence_page,
    keep_recording,
    read_given,
    read_log_file,
    read_part,
)
from judging.web.pages import page
from judging.web.practice import is_practice
from judging.web.receiving import Received, receive

of_band = APIRouter(prefix="/contests/{slug}/bands/{key}")
of_job = APIRouter(prefix="/jobs/{number}")

#: The store has the limit that counts, and says it beside the field.
NO_LIMIT = 2**50


@of_band.get("/evidence")
def evidence(entry: EntryRun, session: Database, visitor: VisitorHere) -> HTMLResponse:
    """Show what is kept of a band's ringing, and take more."""
    return evidence_page(session, entry, visitor)


@of_band.post(
    "/recording",
    response_class=RedirectResponse,
    status_code=303,
    responses={409: {}, 413: {}, 422: {}},
    max_body_size=NO_LIMIT,
)
async def take_recording(entry: EntryFilled, request: Request, store: StoreHere, visitor: VisitorHere) -> Response:
    """Take a recording in, block by block, and ask the ear to hear it."""
    received = Received()
    try:
        await receive(
            request, received, field_name="recording", incoming=store.recordings.incoming, check=check_recording
        )
        return await run_in_threadpool(_keep, request, store, entry, visitor, received)
    except (InputError, RuleError) as error:
        return await run_in_threadpool(_again, store, entry, visitor, received, error)


@of_band.post("/strike-log", response_class=RedirectResponse, status_code=303, responses={409: {}, 422: {}})
def take_log(
    entry: EntryRun,
    session: Database,
    visitor: VisitorHere,
    store: StoreHere,
    request: Request,
    log: Annotated[UploadFile, File()],
) -> Response:
    """Take a strike log in."""
    try:
        refuse_if_final(session.get_one(StoredContest, entry.contest_id))
        data = read_log_file(log, store.settings.max_log_bytes)
        with session.begin_nested():
            add_strike_log(session, entry, data=data, name=log.filename or "log", origin="given", who=visitor.who)
    except (InputError, RuleError) as error:
        wrong = InputError("log", _told(error)) if isinstance(error, InputError) else error
        return evidence_page(session, entry, visitor, error=wrong)
    return RedirectResponse(f"{request.url.path.rsplit('/', 1)[0]}/evidence", status_code=303)


@of_band.post("/hear-part", response_class=RedirectResponse, status_code=303, responses={409: {}, 422: {}})
def hear_again(
    entry: EntryRun,
    session: Database,
    visitor: VisitorHere,
    request: Request,
    from_s: Annotated[str, Form()] = "",
    to_s: Annotated[str, Form()] = "",
) -> Response:
    """Have the recording heard again, in the part of it where the piece was rung."""
    typed = {"from_s": from_s, "to_s": to_s}
    try:
        refuse_if_final(session.get_one(StoredContest, entry.contest_id))
        job = hear_part(session, entry, read_part(typed))
    except (InputError, RuleError) as error:
        return evidence_page(session, entry, visitor, typed=typed, error=error)
    if request.app.state.runner is not None:
        request.app.state.runner.wake()
    return RedirectResponse(f"/jobs/{job.id}", status_code=303)


@of_job.get("", response_class=HTMLResponse, responses={303: {}, 404: {}})
def job(job: JobSeen, session: Database, visitor: VisitorHere) -> Response:
    """Show how far a job is; the page asks again by itself until it is over, and at a practice then is the sheet."""
    entry = session.get_one(StoredEntry, job.entry_id)
    contest = session.get_one(StoredContest, entry.contest_id)
    address = f"/contests/{contest.slug}/bands/{entry_address(contest, entry)}"
    night = is_practice(contest)
    if night and job.state == "done":
        return RedirectResponse(address, status_code=303)
    recording = session.get_one(StoredRecording, json.loads(job.params_json)["recording"])
    log = strike_log_of(session, entry.id, is_second=recording.is_second)
    hearing = hearing_of(session, log) if log is not None and log.recording_id == recording.id else None
    return page(
        "job.html",
        viewer=visitor,
        job=job,
        entry=entry,
        contest=contest,
        address=address,
        is_practice=night,
        is_second=recording.is_second,
        said=hearing.said if hearing is not None else "",
    )


def _keep(request: Request, store: Store, entry: StoredEntry, visitor: Visitor, received: Received) -> Response:
    given = read_given(received)
    with store.write() as session:
        job = keep_recording(session, entry, given, who=visitor.who)
    if request.app.state.runner is not None:
        request.app.state.runner.wake()
    return RedirectResponse(f"/jobs/{job.id}", status_code=303)


def _again(
    store: Store, entry: StoredEntry, visitor: Visitor, received: Received, error: InputError | RuleError
) -> Response:
    if isinstance(error, InputError) and error.where == received.file_name:
        error = InputError("recording", error.problem)  # the store names the file, the page its field
    with store.read() as session:
        return evidence_page(session, entry, visitor, typed=received.fields, error=error)


def _told(error: InputError) -> str:
    """Return what is wrong with a log, with the line, but without the name of the field it stands beside."""
    return error.problem if error.where == "log" else str(error)


router = APIRouter()
router.include_router(of_band)
router.include_router(of_job)
