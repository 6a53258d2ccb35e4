"""The rules of a contest: open to everybody with their worked example, and a form for its organiser while a draft."""

from collections.abc import Mapping
from hashlib import sha256
from typing import Annotated

from fastapi import APIRouter, Depends, File, Request, UploadFile
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from judging.contest.phases import rules_are_frozen
from judging.errors import InputError, RuleError
from judging.store import StoredContest, set_rules
from judging.web.access import Database
from judging.web.contest_files import read_rules_file
from judging.web.contest_page import head_of
from judging.web.pages import page
from judging.web.refusals import status_of
from judging.web.rules_form import form_with, text_from
from judging.web.views import ContestView, ContestViewed, DeskViewed

router = APIRouter(prefix="/contests/{slug}/rules")

#: More fields than forty tables of every kind have.
_MOST_FIELDS = 4000


async def typed_in(request: Request) -> dict[str, str]:
    """Return what was typed, by field; of one that may be answered several times, an answer a line."""
    async with request.form(max_fields=_MOST_FIELDS) as form:
        return {name: "\n".join(text for text in form.getlist(name) if isinstance(text, str) and text) for name in form}


Typed = Annotated[dict[str, str], Depends(typed_in)]


@router.get("")
def rules(view: ContestViewed) -> HTMLResponse:
    """Show the rules, or the form to write them in for the organiser of a draft."""
    if view.is_run and not rules_are_frozen(view.judged.phase):
        return _form(view, view.stored.rules_text)
    return page(
        "rules.html",
        viewer=view.visitor,
        contest=head_of(view.judged),
        is_frozen=rules_are_frozen(view.judged.phase),
        text=view.stored.rules_text,
        rules=view.judged.rules_paper,
    )


@router.get(".toml", response_class=Response)
def rules_file(view: ContestViewed) -> Response:
    """Give the text of the rules as a file."""
    return Response(
        view.stored.rules_text,
        media_type="application/toml",
        headers={"content-disposition": f'attachment; filename="rules-{view.stored.slug}.toml"'},
    )


@router.post("", response_class=HTMLResponse, responses={303: {}, 409: {}, 422: {}})
def show_or_keep(view: DeskViewed, typed: Typed, session: Database) -> Response:
    """Show what the rules would do, or keep them."""
    text = typed.get("text", "")
    try:
        text = text_from(typed)
        if typed.get("do") != "keep":
            return _form(view, text)
        _refuse_unseen(view.stored, typed.get("kept", ""))
        with session.begin_nested():
            set_rules(session, view.stored, text, who=view.visitor.who)
    except RuleError as error:
        return _form(view, text, error=error)
    except InputError as error:
        if error.where.startswith("rules.toml"):  # the form says it beside the field
            return _form(view, text)
        return _form(view, text, error=error, typed=typed)
    return RedirectResponse(f"/contests/{view.stored.slug}/rules", status_code=303)


@router.post("/file", responses={409: {}, 422: {}})
def show_file(view: DeskViewed, rules: Annotated[UploadFile, File()]) -> HTMLResponse:
    """Show what rules from a file would do; they are kept from there, like those that were typed."""
    try:
        return _form(view, read_rules_file(rules), is_from_file=True)
    except InputError as error:
        return _form(view, view.stored.rules_text, error=InputError("file", error.problem))


def _form(
    view: ContestView,
    text: str,
    *,
    typed: Mapping[str, str] | None = None,
    error: InputError | RuleError | None = None,
    is_from_file: bool = False,
) -> HTMLResponse:
    if error is None and rules_are_frozen(view.judged.phase):
        error = RuleError(f"The rules are published and cannot be changed: the contest is {view.judged.phase}.")
    shown = form_with(
        text,
        was=(typed or {}).get("was", "") if typed else view.stored.rules_text,
        typed=typed,
        error=error if isinstance(error, InputError) else None,
        problem=str(error) if isinstance(error, RuleError) else "",
    )
    return page(
        "rules_form.html",
        status=status_of(error) if error else 422 if shown.form.wrong else 200,
        viewer=view.visitor,
        contest=head_of(view.judged),
        shown=shown,
        kept=_mark(view.stored),
        is_kept=text == view.stored.rules_text,
        is_from_file=is_from_file,
    )


def _refuse_unseen(contest: StoredContest, mark: str) -> None:
    """Refuse to write over rules that the page of who writes did not show."""
    if mark != _mark(contest):
        raise RuleError(
            "These rules were changed elsewhere since this page was opened. What you typed is here; keep it again to "
            "put it in their place, or open the page anew to see them."
        )


def _mark(contest: StoredContest) -> str:
    """Return what tells the rules that are kept from any others."""
    return sha256(contest.rules_text.encode()).hexdigest()
