"""How every refusal is told: one shape for pages, one for programs, and never a trace.

A program that asks for JSON, or for anything under ``/api``, gets
``{"ok": false, "status": 404, "error": "..."}`` with ``"where"`` where something
given is at fault. Anybody else gets a page.
"""

from http import HTTPStatus

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from starlette.datastructures import Headers
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, Response
from starlette.types import Scope

from judging.errors import InputError, JudgingError, NothingHeard, RuleError
from judging.web.pages import page_text

#: What a page is headed by.
_TITLES = {
    400: "That could not be read",
    403: "This page is not open to you",
    404: "There is nothing here",
    405: "That cannot be done here",
    409: "That cannot be done now",
    413: "That is too large",
    422: "That could not be used",
    429: "Too much at once",
    503: "Not just now",
}

#: What a page says for statuses that have no message of ours.
_WORDS = {
    400: "The request could not be read.",
    403: "It is for somebody else’s personal link, or your session has run out. The organiser can give you a new link.",
    404: "The address may be mistyped, or the page is not open to you yet.",
    405: "This address does not take that kind of request.",
    413: "What was sent is larger than is taken here.",
}


def add_refusals(app: FastAPI) -> None:
    """Give an application its one handler for each kind of error."""

    @app.exception_handler(JudgingError)
    def told(request: Request, error: JudgingError) -> Response:
        return answer_refusal(request.scope, error, status=status_of(error))

    @app.exception_handler(HTTPException)
    def unhappy(request: Request, error: HTTPException) -> Response:
        answer = answer_refusal(request.scope, RuleError(_words(error)), status=error.status_code)
        answer.headers.update(error.headers or {})
        return answer

    @app.exception_handler(RequestValidationError)
    def unreadable(request: Request, error: RequestValidationError) -> Response:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"][1:]) or str(first["loc"][0])
        return answer_refusal(request.scope, InputError(where, str(first["msg"])), status=422)


def status_of(error: JudgingError) -> int:
    """Return the status of an answer to an error: 422 for what was given, 409 for a step that is not allowed now."""
    return 409 if isinstance(error, RuleError) else 422


def answer_refusal(scope: Scope, error: JudgingError, *, status: int) -> Response:
    """Return the answer that tells an error to whoever asked.

    Parameters
    ----------
    scope : Scope
        Of the request; its path and its ``Accept`` decide between a page and JSON.
    error : JudgingError
        What is told.
    status : int
        Of the answer.

    Returns
    -------
    Response
        A page or JSON.
    """
    if wants_json(scope):
        told: dict[str, object] = {"ok": False, "status": status, "error": str(error)}
        if isinstance(error, InputError):
            told["where"] = error.where
        return JSONResponse(told, status_code=status)
    title = "Nothing was heard" if isinstance(error, NothingHeard) else _TITLES.get(status, "That did not work")
    page = page_text("refusal.html", title=title, message=str(error), status=status, viewer=None)
    return Response(page, status_code=status, media_type="text/html")


def wants_json(scope: Scope) -> bool:
    """Whether JSON is asked for before a page."""
    accept = Headers(scope=scope).get("accept", "")
    return scope["path"].startswith("/api/") or ("application/json" in accept and "text/html" not in accept)


def _words(error: HTTPException) -> str:
    plain = HTTPStatus(error.status_code).phrase
    return error.detail if error.detail != plain else _WORDS.get(error.status_code, f"{plain}.")
