"""Judges as the organiser sees them: who judges along, what each has to do with, which entries that is."""

from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from pydantic import BaseModel, ConfigDict, Field
from sqlmodel import Session

from judging.contest.describing import CONFLICT_SAID
from judging.errors import InputError, RuleError
from judging.store import (
    add_shadow_judge,
    declare_interests,
    entries_of,
    judge_by_key,
    judges_of,
    set_conflicts,
)
from judging.web.access import Database
from judging.web.contest_page import head_of
from judging.web.forms import form_of
from judging.web.judges_page import judges_shown
from judging.web.pages import page
from judging.web.refusals import status_of
from judging.web.views import ContestView, DeskViewed

router = APIRouter(prefix="/contests/{slug}/judges")


class ShadowForm(BaseModel):
    """Who judges along to learn."""

    model_config = ConfigDict(extra="forbid")

    name: str = Field(default="", max_length=200)


class ConflictsForm(BaseModel):
    """What one judge has to do with: in words, and which entries that is."""

    model_config = ConfigDict(extra="forbid")

    judge: str = Field(max_length=80)
    belongs_to: str = Field(default="", max_length=5000)
    entries: list[str] = Field(default=[], max_length=500)
    reason: str = Field(default="", max_length=200)


@router.get("")
def judges(view: DeskViewed, session: Database) -> HTMLResponse:
    """Show the judges, and whom they have to do with."""
    return _page(view, session)


@router.post("/shadows", response_class=RedirectResponse, status_code=303, responses={409: {}, 422: {}})
def name_shadow(view: DeskViewed, form: Annotated[ShadowForm, Form()], session: Database) -> Response:
    """Name a judge who judges along to learn."""
    try:
        with session.begin_nested():
            add_shadow_judge(session, view.stored, form.name, who=view.visitor.who)
    except (InputError, RuleError) as error:
        return _page(view, session, typed=form.model_dump(), error=error)
    return RedirectResponse(f"/contests/{view.stored.slug}/judges", status_code=303)


@router.post("/conflicts", response_class=RedirectResponse, status_code=303, responses={409: {}, 422: {}})
def say_conflicts(view: DeskViewed, form: Annotated[ConflictsForm, Form()], session: Database) -> Response:
    """Say what a judge has to do with, in the judge's words, and which entries that is."""
    try:
        with session.begin_nested():
            _keep(view, session, form)
    except (InputError, RuleError) as error:
        return _page(view, session, typed={"judge": form.judge, "belongs_to": form.belongs_to}, error=error)
    return RedirectResponse(f"/contests/{view.stored.slug}/judges", status_code=303)


def _keep(view: ContestView, session: Session, form: ConflictsForm) -> None:
    judge = judge_by_key(session, view.stored.id, form.judge)
    if judge is None:
        raise InputError("judge", f'"{form.judge}" is no judge of this contest')
    entries = {entry.key: entry for entry in entries_of(session, view.stored.id)}
    strange = set(form.entries) - set(entries)
    if strange:
        raise InputError("entries", f'"{min(strange)[:80]}" is no entry of this contest')
    if form.belongs_to.strip() != judge.belongs_to or judge.declared_at is None:
        declare_interests(session, judge, form.belongs_to, who=f"{view.visitor.who} for judge {judge.key}")
    for key, entry in entries.items():
        others = set(view.judged.entry(key).conflicts) - {judge.key}
        concerned = others | {judge.key} if key in form.entries else others
        set_conflicts(session, entry, concerned, who=view.visitor.who, reason=form.reason.strip())


def _page(
    view: ContestView,
    session: Session,
    *,
    typed: dict[str, str] | None = None,
    error: InputError | RuleError | None = None,
) -> HTMLResponse:
    return page(
        "judges.html",
        status=200 if error is None else status_of(error),
        viewer=view.visitor,
        contest=head_of(view.judged),
        judges=judges_shown(view, judges_of(session, view.stored.id)),
        rule=CONFLICT_SAID[view.judged.rules.conflict],
        form=form_of(typed, error=error, fields=("name", "belongs_to", "entries")),
    )
