"""Ear tests: asked for, listened to, answered; the answer is the page itself, and nothing of it is kept."""

import secrets
from typing import Annotated

from fastapi import APIRouter, Form, HTTPException, Request
from fastapi.responses import FileResponse, HTMLResponse, RedirectResponse, Response

from judging.errors import InputError
from judging.jobs import EarTest, ear_test_job, ear_test_path, enqueue_test
from judging.jobs.ear_testing import BELLS, ROWS, TESTS
from judging.web.access import Database, Listener, StoreHere
from judging.web.ear_test import (
    FIELDS,
    HINTS,
    RUNG,
    AnswerForm,
    BeginForm,
    EarTestHere,
    rows_to_tick,
    title_of,
    told_of,
    wanted_test,
)
from judging.web.forms import form_of
from judging.web.pages import page
from judging.web.refusals import status_of

of_tests = APIRouter(prefix="/ear-test")
of_test = APIRouter(prefix="/ear-test/{name}")


@of_tests.get("")
def begin(visitor: Listener) -> HTMLResponse:
    """Say what an ear test is, and show the form for one."""
    return _begin(visitor, {})


@of_tests.post("", response_class=RedirectResponse, status_code=303, responses={422: {}})
def ask(
    visitor: Listener, form: Annotated[BeginForm, Form()], session: Database, store: StoreHere, request: Request
) -> Response:
    """Ask for a test that nobody chose, so that nobody knows its faults."""
    try:
        test = wanted_test(form, number=1 + secrets.randbelow(TESTS))
    except InputError as error:
        return _begin(visitor, form.model_dump(), error)
    enqueue_test(session, store, test)
    if request.app.state.runner is not None:
        request.app.state.runner.wake()
    return RedirectResponse(f"/ear-test/{test.name}", status_code=303)


@of_test.get("")
def take(test: EarTestHere, visitor: Listener, session: Database, store: StoreHere) -> HTMLResponse:
    """Show a test to listen to, or how far it is made."""
    return _take(test, visitor, session, store, AnswerForm())


@of_test.post("", responses={422: {}})
def answer(
    test: EarTestHere, visitor: Listener, form: Annotated[AnswerForm, Form()], session: Database, store: StoreHere
) -> HTMLResponse:
    """Tell what the answers say; nothing is kept, so that the answer is the page itself."""
    try:
        told = told_of(test, form)
    except InputError as error:
        return _take(test, visitor, session, store, form, error)
    shown = page("ear_test_result.html", viewer=visitor, test=test, title=title_of(test), told=told)
    shown.headers["cache-control"] = "no-store"
    return shown


@of_test.get("/sound", response_class=FileResponse, responses={404: {}, 206: {}, 416: {}})
def sound(test: EarTestHere, store: StoreHere) -> FileResponse:
    """Give a test's sound; in parts, as players ask for it."""
    path = ear_test_path(store, test)
    if not path.is_file():
        raise HTTPException(404, "This test has not been rung yet, or its sound was thrown away; begin another.")
    return FileResponse(path, media_type="audio/flac")


def _begin(visitor: Listener, typed: dict[str, str], error: InputError | None = None) -> HTMLResponse:
    usual = {"bells": "6", "rung": "rounds", "peal_minutes": "165", "rows": "120"}
    return page(
        "ear_test.html",
        status=200 if error is None else status_of(error),
        viewer=visitor,
        form=form_of(typed or usual, hints=HINTS, error=error, fields=FIELDS),
        bells=BELLS,
        rows=ROWS,
        rung=RUNG,
    )


def _take(
    test: EarTest,
    visitor: Listener,
    session: Database,
    store: StoreHere,
    given: AnswerForm,
    error: InputError | None = None,
) -> HTMLResponse:
    is_there = ear_test_path(store, test).is_file()
    job = ear_test_job(session, test)
    if not is_there and job is None:
        raise HTTPException(404, "This test has not been rung; begin another.")
    return page(
        "ear_test_taken.html",
        status=200 if error is None else status_of(error),
        viewer=visitor,
        test=test,
        title=title_of(test),
        is_there=is_there,
        job=job,
        rows=rows_to_tick(test),
        given=given,
        form=form_of(error=error, fields=("taps",)),
    )


router = APIRouter()
router.include_router(of_tests)
router.include_router(of_test)
