"""Towers: made, looked at, their voices kept and erased; and where a contest or a practice night is rung."""

from typing import Annotated

from fastapi import APIRouter, Depends, Form, HTTPException, Path, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from pydantic import BaseModel, ConfigDict, Field

from judging.errors import InputError, RuleError
from judging.store import (
    StoredTower,
    StoredVoices,
    change_tower,
    erase_tower,
    erase_voices,
    keep_voices,
    make_tower,
    strike_log_of,
)
from judging.web.access import ContestRun, Database, EntryRun, Organiser
from judging.web.evidence_page import evidence_page
from judging.web.judged import Judging
from judging.web.practice import is_practice
from judging.web.tower_page import TowerForm, bells_typed, tower_page, towers_page
from judging.web.views import DeskViewed, judging_of
from judging.web.where_rung import PlaceForm, place_page, say_where

of_towers = APIRouter(prefix="/towers")
of_tower = APIRouter(prefix="/towers/{number}")
of_voices = APIRouter(prefix="/towers/{number}/voices/{kept}")
of_contest = APIRouter(prefix="/contests/{slug}")
of_band = APIRouter(prefix="/contests/{slug}/bands/{key}")

Number = Annotated[int, Path(ge=1, le=2**31)]


def tower_here(number: Number, visitor: Organiser, session: Database) -> StoredTower:
    """Return a tower, for the organiser of the whole service."""
    del visitor  # its being here is the right
    tower = session.get(StoredTower, number)
    if tower is None:
        raise HTTPException(404)
    return tower


TowerHere = Annotated[StoredTower, Depends(tower_here)]


def voices_here(kept: Number, tower: TowerHere, session: Database) -> StoredVoices:
    """Return voices that are kept with a tower, for whoever may have the tower."""
    voices = session.get(StoredVoices, kept)
    if voices is None or voices.tower_id != tower.id or voices.erased_at is not None:
        raise HTTPException(404)
    return voices


VoicesHere = Annotated[StoredVoices, Depends(voices_here)]
JudgingHere = Annotated[Judging, Depends(judging_of)]


class KeepForm(BaseModel):
    """With which tower voices are kept."""

    model_config = ConfigDict(extra="forbid")

    tower: int = Field(ge=1, le=2**31)


@of_towers.get("")
def list_towers(visitor: Organiser, session: Database) -> HTMLResponse:
    """List the towers, with the form for another."""
    return towers_page(session, visitor)


@of_towers.post("", response_class=RedirectResponse, status_code=303, responses={422: {}})
def make(visitor: Organiser, form: Annotated[TowerForm, Form()], session: Database) -> Response:
    """Make a tower."""
    try:
        with session.begin_nested():
            tower = make_tower(
                session, name=form.name, bells=bells_typed(form), recorder=form.recorder, who=visitor.who
            )
    except InputError as error:
        return towers_page(session, visitor, typed=form.model_dump(), error=error)
    return RedirectResponse(f"/towers/{tower.id}", status_code=303)


@of_tower.get("", responses={404: {}})
def tower(tower: TowerHere, visitor: Organiser, session: Database, judging: JudgingHere) -> HTMLResponse:
    """Show a tower: its voices, how its bells are told apart, and what it does to everybody alike."""
    return tower_page(session, tower, visitor, judging)


@of_tower.post("", response_class=RedirectResponse, status_code=303, responses={404: {}, 422: {}})
def change(
    tower: TowerHere, visitor: Organiser, form: Annotated[TowerForm, Form()], session: Database, judging: JudgingHere
) -> Response:
    """Call a tower otherwise, or say where its recorder stands."""
    try:
        with session.begin_nested():
            change_tower(session, tower, name=form.name, recorder=form.recorder, who=visitor.who)
    except InputError as error:
        return tower_page(session, tower, visitor, judging, typed=form.model_dump(), error=error)
    return RedirectResponse(f"/towers/{tower.id}", status_code=303)


@of_tower.post("/erase", response_class=RedirectResponse, status_code=303, responses={404: {}, 409: {}})
def erase(tower: TowerHere, visitor: Organiser, session: Database, judging: JudgingHere) -> Response:
    """Erase a tower with its voices."""
    try:
        erase_tower(session, tower, who=visitor.who)
    except RuleError as error:
        return tower_page(session, tower, visitor, judging, error=error)
    return RedirectResponse("/towers", status_code=303)


@of_voices.post("/erase", response_class=RedirectResponse, status_code=303, responses={404: {}, 409: {}})
def erase_kept(
    tower: TowerHere, voices: VoicesHere, visitor: Organiser, session: Database, judging: JudgingHere
) -> Response:
    """Erase voices that are kept with a tower."""
    try:
        erase_voices(session, voices, who=visitor.who)
    except RuleError as error:
        return tower_page(session, tower, visitor, judging, error=error)
    return RedirectResponse(f"/towers/{tower.id}", status_code=303)


@of_contest.get("/tower")
def where(view: DeskViewed, session: Database) -> HTMLResponse:
    """Show where a contest is rung, and with which voices each band was heard."""
    return place_page(session, view)


@of_contest.post("/tower", response_class=RedirectResponse, status_code=303, responses={409: {}, 422: {}})
def say(view: DeskViewed, form: Annotated[PlaceForm, Form()], session: Database, request: Request) -> Response:
    """Say where a contest or a practice night is rung."""
    try:
        with session.begin_nested():
            say_where(session, view, form)
    except (InputError, RuleError) as error:
        return place_page(session, view, error=error)
    if request.app.state.runner is not None:
        request.app.state.runner.wake()
    return RedirectResponse(
        f"/contests/{view.stored.slug}/{'practice' if is_practice(view.stored) else 'tower'}", status_code=303
    )


@of_band.post("/voices", response_class=RedirectResponse, status_code=303, responses={404: {}, 409: {}, 422: {}})
def keep(
    contest: ContestRun, entry: EntryRun, visitor: Organiser, form: Annotated[KeepForm, Form()], session: Database
) -> Response:
    """Keep with a tower the voices that were learnt from a band's recording."""
    tower, log = session.get(StoredTower, form.tower), strike_log_of(session, entry.id)
    if tower is None or log is None:
        raise HTTPException(404)
    try:
        keep_voices(session, tower, log, learnt_from=contest.title, who=visitor.who)
    except RuleError as error:
        return evidence_page(session, entry, visitor, error=error)
    return RedirectResponse(f"/towers/{tower.id}", status_code=303)


router = APIRouter()
for routes in (of_towers, of_tower, of_voices, of_contest, of_band):
    router.include_router(routes)
