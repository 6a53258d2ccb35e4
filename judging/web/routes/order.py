"""The draw: run again before everybody's eyes; and what changes after it."""

from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from pydantic import BaseModel, ConfigDict, Field
from sqlmodel import Session

from judging.contest import Ticket
from judging.errors import InputError, RuleError
from judging.store import swap_bands
from judging.web.access import Database
from judging.web.contest_page import head_of
from judging.web.draw_page import draw_shown, run_again
from judging.web.forms import form_of
from judging.web.pages import page
from judging.web.refusals import status_of
from judging.web.views import ContestView, ContestViewed, DeskViewed

router = APIRouter(prefix="/contests/{slug}")


class SwapForm(BaseModel):
    """Two bands that change places."""

    model_config = ConfigDict(extra="forbid")

    first: str = Field(default="", max_length=80)
    second: str = Field(default="", max_length=80)
    reason: str = Field(default="", max_length=500)


class AgainForm(BaseModel):
    """A draw that somebody runs again."""

    model_config = ConfigDict(extra="forbid")

    entries: str = Field(default="", max_length=20_000)


FIELDS = (*SwapForm.model_fields, *AgainForm.model_fields)


@router.get("/draw")
def draw(view: ContestViewed, session: Database) -> HTMLResponse:
    """Show the draw: its seed, how the order follows from it, and what was changed since."""
    return _page(view, session)


@router.post("/draw", responses={422: {}})
def draw_again(view: ContestViewed, form: Annotated[AgainForm, Form()], session: Database) -> HTMLResponse:
    """Run the draw for identifiers that somebody types; nothing is kept, so that the answer is the page itself."""
    return _page(view, session, typed=form.model_dump())


@router.post("/order", response_class=RedirectResponse, status_code=303, responses={409: {}, 422: {}})
def swap(view: DeskViewed, form: Annotated[SwapForm, Form()], session: Database) -> Response:
    """Let two bands change places, with the reason."""
    try:
        with session.begin_nested():
            swap_bands(session, view.stored, form.first, form.second, who=view.visitor.who, reason=form.reason)
    except (InputError, RuleError) as error:
        return _page(view, session, typed=form.model_dump(), error=error)
    return RedirectResponse(f"/contests/{view.stored.slug}/draw", status_code=303)


def _page(
    view: ContestView,
    session: Session,
    *,
    typed: dict[str, str] | None = None,
    error: InputError | RuleError | None = None,
) -> HTMLResponse:
    again: tuple[Ticket, ...] = ()
    if typed and "entries" in typed:
        try:
            again = run_again(typed["entries"], view.judged.rules)
        except InputError as wrong:
            error = wrong
    return page(
        "draw.html",
        status=200 if error is None else status_of(error),
        viewer=view.visitor,
        contest=head_of(view.judged),
        is_run=view.is_run,
        draw=draw_shown(view, session),
        again=again,
        form=form_of(typed, error=error, fields=FIELDS),
    )
