"""Test pieces typed or pasted: tried by anybody with nothing kept, added to a contest by its organiser."""

from typing import Annotated

from fastapi import APIRouter, Form, Query
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from judging.errors import InputError, RuleError
from judging.store import StoredContest, pieces_of
from judging.web.access import ContestRun, Database, Visitor, VisitorHere
from judging.web.forms import form_of
from judging.web.pages import page
from judging.web.refusals import status_of
from judging.web.typed_piece import (
    EXAMPLES,
    FIELDS,
    HINTS,
    PieceForm,
    TrialForm,
    Tried,
    keep_piece,
    piece_name,
    try_piece,
    typed_of,
)

router = APIRouter()
of_contest = APIRouter(prefix="/contests/{slug}/test-pieces")

#: A million characters, each as three, and a little more.
MOST_BODY_BYTES = 3_100_000


@router.get("/piece")
def trial(visitor: VisitorHere) -> HTMLResponse:
    """Show the form in which anybody may try a piece."""
    return _trial(visitor)


@router.post("/piece", responses={422: {}}, max_body_size=MOST_BODY_BYTES)
def try_one(form: Annotated[TrialForm, Form()], visitor: VisitorHere) -> HTMLResponse:
    """Prove and draw a piece; nothing is kept, so that the answer is the page itself."""
    try:
        return _trial(visitor, form.model_dump(), try_piece(form.text, bell=form.bell))
    except InputError as error:
        return _trial(visitor, form.model_dump(), error=error)


@of_contest.get("")
def new_piece(
    contest: ContestRun, session: Database, visitor: VisitorHere, piece: Annotated[str, Query(max_length=100)] = ""
) -> HTMLResponse:
    """Show the form for a test piece; `piece` is one that is there and is to be changed."""
    return _new(contest, session, visitor, typed_of(session, contest, piece))


@of_contest.post("", response_class=HTMLResponse, responses={303: {}, 409: {}, 422: {}}, max_body_size=MOST_BODY_BYTES)
def check_or_keep(
    contest: ContestRun, form: Annotated[PieceForm, Form()], session: Database, visitor: VisitorHere
) -> Response:
    """Prove and draw a piece, or keep it in the contest."""
    typed = form.model_dump()
    try:
        if not form.keep:
            return _new(
                contest, session, visitor, typed, try_piece(form.text, bell=form.bell, name=piece_name(form.name))
            )
        with session.begin_nested():
            kept = keep_piece(session, contest, form, who=visitor.who)
    except (InputError, RuleError) as error:
        return _new(contest, session, visitor, typed, error=error)
    return RedirectResponse(f"/contests/{contest.slug}/pieces/{kept.key}", status_code=303)


def _trial(
    visitor: Visitor, typed: dict[str, str] | None = None, tried: Tried | None = None, error: InputError | None = None
) -> HTMLResponse:
    return page(
        "try_piece.html",
        status=200 if error is None else status_of(error),
        viewer=visitor,
        form=form_of(typed, hints=HINTS, error=error, fields=FIELDS),
        piece=tried.page if tried else None,
        examples=EXAMPLES,
    )


def _new(
    contest: StoredContest,
    session: Database,
    visitor: Visitor,
    typed: dict[str, str],
    tried: Tried | None = None,
    error: InputError | RuleError | None = None,
) -> HTMLResponse:
    return page(
        "new_piece.html",
        status=200 if error is None else status_of(error),
        viewer=visitor,
        contest=contest,
        kept=pieces_of(session, contest.id or 0),
        form=form_of(typed, hints=HINTS, error=error, fields=FIELDS),
        piece=tried.page if tried else None,
        examples=EXAMPLES,
    )


router.include_router(of_contest)
