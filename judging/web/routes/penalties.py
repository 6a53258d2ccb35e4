"""Penalties of a band, given and taken away with reasons."""

import json
from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from judging.errors import InputError, RuleError
from judging.store import change_entry
from judging.web.access import Database
from judging.web.contest_page import head_of
from judging.web.forms import form_of
from judging.web.pages import page
from judging.web.penalties_page import PenaltyForm, footnotes_of, penalty_lines, read_penalty
from judging.web.refusals import status_of
from judging.web.views import BandRun, BandView

router = APIRouter(prefix="/contests/{slug}/bands/{key}/penalties")


@router.get("")
def penalties(view: BandRun) -> HTMLResponse:
    """Show a band's penalties, and what the rules make of them."""
    return _page(view)


@router.post("", response_class=RedirectResponse, status_code=303, responses={409: {}, 422: {}})
def set_penalty(view: BandRun, form: Annotated[PenaltyForm, Form()], session: Database) -> Response:
    """Give a penalty, or take one away."""
    try:
        changes, why = read_penalty(form, view.entry)
        if "causes" in changes:
            changes["causes_json"] = json.dumps(changes.pop("causes"), ensure_ascii=False)
        with session.begin_nested():
            change_entry(session, view.stored, who=view.of.visitor.who, reason=why, **changes)
    except (InputError, RuleError) as error:
        return _page(view, form, error)
    return RedirectResponse(f"{view.address}/penalties", status_code=303)


def _page(view: BandView, form: PenaltyForm | None = None, error: InputError | RuleError | None = None) -> HTMLResponse:
    return page(
        "penalties.html",
        status=200 if error is None else status_of(error),
        viewer=view.of.visitor,
        contest=head_of(view.of.judged),
        band=view.name,
        address=f"{view.address}/penalties",
        lines=penalty_lines(view.entry, view.of.judged.rules.marks),
        footnotes=footnotes_of(view.entry, view.of.judged),
        form=form_of(form.model_dump() if form else None, error=error, fields=("count", "changes", "why")),
    )
