"""Protests: handed in by a band or written down by the organiser, answered, and printed."""

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Depends, Form, HTTPException, Path
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from sqlmodel import Session

from judging.errors import InputError, RuleError
from judging.store import StoredEntry, StoredProtest, add_protest, answer_protest, protests_of
from judging.web.access import ContestRun, Database, VisitorHere
from judging.web.contest_page import head_of
from judging.web.forms import form_of
from judging.web.pages import page
from judging.web.protests_page import (
    ANSWER_FIELDS,
    FIELDS,
    HINTS,
    AnswerForm,
    ProtestForm,
    read_protest,
    register_of,
)
from judging.web.refusals import status_of
from judging.web.views import ContestView, ContestViewed, DeskViewed

router = APIRouter(prefix="/contests/{slug}/protests")


@dataclass(frozen=True, slots=True)
class Protesting:
    """The register as its visitor may use it: all of it for the organiser, a band's own for the band."""

    view: ContestView
    own: StoredEntry | None


def protesting(view: ContestViewed, session: Database, visitor: VisitorHere) -> Protesting:
    """Return the register for the organiser, or for a band of the contest; nobody else has one."""
    if view.is_run:
        return Protesting(view, None)
    access = visitor.access
    if access is None or access.entry_id is None or access.contest_id != view.stored.id:
        raise HTTPException(404)
    return Protesting(view, session.get_one(StoredEntry, access.entry_id))


ProtestingHere = Annotated[Protesting, Depends(protesting)]


def protest_here(number: Annotated[int, Path(ge=1, le=9999)], contest: ContestRun, session: Database) -> StoredProtest:
    """Return a protest of a contest that the visitor organises."""
    for protest in protests_of(session, contest.id):
        if protest.number == number:
            return protest
    raise HTTPException(404)


@router.get("")
def protests(here: ProtestingHere, session: Database) -> HTMLResponse:
    """Show the register of protests."""
    return _page(here, session)


@router.post("", response_class=RedirectResponse, status_code=303, responses={409: {}, 422: {}})
def hand_in(here: ProtestingHere, form: Annotated[ProtestForm, Form()], session: Database) -> Response:
    """Enter a protest in the register."""
    view = here.view
    try:
        entry, handed_in_at = read_protest(form, view, session) if here.own is None else (here.own, None)
        with session.begin_nested():
            add_protest(
                session,
                view.stored,
                about=form.about,
                who=view.visitor.who,
                entry=entry,
                handed_in_by="" if here.own else form.handed_in_by,
                handed_in_at=handed_in_at,
            )
    except (InputError, RuleError) as error:
        return _page(here, session, typed=form.model_dump(), error=error, fields=FIELDS)
    return RedirectResponse(f"/contests/{view.stored.slug}/protests", status_code=303)


@router.post("/{number}/answer", response_class=RedirectResponse, status_code=303, responses={409: {}, 422: {}})
def answer(
    view: DeskViewed,
    protest: Annotated[StoredProtest, Depends(protest_here)],
    form: Annotated[AnswerForm, Form()],
    session: Database,
) -> Response:
    """Answer a protest."""
    try:
        with session.begin_nested():
            answer_protest(session, protest, who=view.visitor.who, **form.model_dump())
    except (InputError, RuleError) as error:
        typed = {**form.model_dump(), "number": str(protest.number)}
        return _page(Protesting(view, None), session, typed=typed, error=error, fields=ANSWER_FIELDS)
    return RedirectResponse(f"/contests/{view.stored.slug}/protests", status_code=303)


def _page(
    here: Protesting,
    session: Session,
    *,
    typed: dict[str, str] | None = None,
    error: InputError | RuleError | None = None,
    fields: tuple[str, ...] = (),
) -> HTMLResponse:
    view = here.view
    return page(
        "protests.html",
        status=200 if error is None else status_of(error),
        viewer=view.visitor,
        contest=head_of(view.judged),
        is_run=here.own is None,
        register=register_of(view, session, here.own),
        bands=[(entry.id, view.names.name(entry.id)) for entry in view.judged.day.entries if not entry.withdrawn],
        form=form_of(typed, hints=HINTS, error=error, fields=fields),
    )
