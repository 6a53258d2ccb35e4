"""The organiser's desk: contests made, phases stepped, consent noted, links given and taken back."""

from collections.abc import Mapping
from typing import Annotated

import segno
from fastapi import APIRouter, File, Form, Path, Request, UploadFile
from fastapi.responses import HTMLResponse, RedirectResponse, Response, StreamingResponse
from sqlmodel import Session

from judging.contest import LIFE
from judging.errors import InputError, RuleError
from judging.store import create_contest, judges_of, revoke_link
from judging.web.access import (
    COOKIE,
    ContestRun,
    ContestWatched,
    Database,
    EntryRun,
    Organiser,
    StoreHere,
    VisitorHere,
    entry_address,
)
from judging.web.changes import changes
from judging.web.contest_files import FIELDS, HINTS, read_contest_files
from judging.web.contest_page import head_of
from judging.web.contest_steps import give_link, go_to, links_given
from judging.web.desk_guide import advice_of, drawers_of
from judging.web.desk_page import bands_of, board_of, steps_of
from judging.web.firmness import recorders_told
from judging.web.forms import ConsentForm, LinkForm, PhaseForm, form_of
from judging.web.network import address_for_phones, is_this_computer_alone
from judging.web.new_contest import PresetForm, new_contest_page, new_piece_of, preset_rules
from judging.web.pages import page
from judging.web.recorder import note_consent
from judging.web.refusals import status_of
from judging.web.standing import standing_of
from judging.web.views import ContestView, DeskViewed

router = APIRouter()
of_contest = APIRouter(prefix="/contests/{slug}")
of_band = APIRouter(prefix="/contests/{slug}/bands/{key}")


@router.get("/contests/new")
def new_contest(visitor: Organiser) -> HTMLResponse:
    """Show the forms for a new contest: from usual rules, or from files."""
    return new_contest_page(visitor)


@router.post("/contests/new", response_class=RedirectResponse, status_code=303, responses={422: {}})
def make_contest(
    visitor: Organiser,
    session: Database,
    rules: Annotated[UploadFile, File()],
    entries: Annotated[UploadFile | None, File()] = None,
    pieces: Annotated[tuple[UploadFile, ...], File()] = (),
) -> Response:
    """Make a contest from its files."""
    try:
        texts = read_contest_files(rules, entries, pieces)
        with session.begin_nested():
            contest = create_contest(
                session, rules_text=texts.rules, entries_text=texts.entries, pieces=texts.pieces, who=visitor.who
            )
    except InputError as error:
        return new_contest_page(visitor, files=form_of(hints=HINTS, error=error, fields=FIELDS), status=422)
    return RedirectResponse(f"/contests/{contest.slug}/desk", status_code=303)


@router.post("/contests/new/usual", response_class=RedirectResponse, status_code=303, responses={422: {}})
def make_usual_contest(visitor: Organiser, session: Database, form: Annotated[PresetForm, Form()]) -> Response:
    """Make a contest from usual rules, with what only the organiser knows."""
    try:
        text, pieces = preset_rules(form), new_piece_of(form)
        with session.begin_nested():
            contest = create_contest(session, rules_text=text, pieces=pieces, who=visitor.who)
    except InputError as error:
        return new_contest_page(visitor, typed=form.model_dump(), error=error)
    next_page = "rules" if form.then == "rules" else "desk"
    return RedirectResponse(f"/contests/{contest.slug}/{next_page}", status_code=303)


@of_contest.get("/desk")
def desk(view: DeskViewed, session: Database) -> HTMLResponse:
    """Show what is missing now, and the next step."""
    return _desk(view, session)


@of_contest.get("/desk/changes", response_class=StreamingResponse)
async def desk_changes(contest: ContestWatched, request: Request, store: StoreHere) -> StreamingResponse:
    """Tell an open desk whenever something has changed, as server-sent events."""
    told = changes(store, contest, request.cookies.get(COOKIE, ""))
    return StreamingResponse(told, media_type="text/event-stream", headers={"cache-control": "no-store"})


@of_contest.post("/phase", response_class=RedirectResponse, status_code=303, responses={409: {}, 422: {}})
def step(view: DeskViewed, form: Annotated[PhaseForm, Form()], session: Database, store: StoreHere) -> Response:
    """Take the contest to its next phase, or back with a reason."""
    who = view.visitor.who
    try:
        with session.begin_nested():
            go_to(session, store, view.stored, form.to, who=who, reason=form.reason, seen_at=form.seen_at)
    except (InputError, RuleError) as error:
        return _desk(view, session, error=error, typed=form.model_dump())
    return RedirectResponse(f"/contests/{view.stored.slug}/desk", status_code=303)


@of_band.post("/consent", response_class=RedirectResponse, status_code=303, responses={409: {}})
def consent(
    contest: ContestRun, entry: EntryRun, form: Annotated[ConsentForm, Form()], session: Database, visitor: VisitorHere
) -> Response:
    """Note whether a band agrees to be recorded."""
    if note_consent(session, entry, form.consent, who=visitor.who):
        return RedirectResponse(
            f"/contests/{contest.slug}/bands/{entry_address(contest, entry)}/take-back", status_code=303
        )
    return RedirectResponse(f"/contests/{contest.slug}/desk", status_code=303)


@of_contest.post("/links", responses={409: {}, 422: {}})
def make_personal_link(
    contest: ContestRun,
    form: Annotated[LinkForm, Form()],
    session: Database,
    visitor: VisitorHere,
    store: StoreHere,
    request: Request,
) -> HTMLResponse:
    """Make a personal link and show it, this once."""
    given = give_link(session, contest, form.holder, note=form.note, who=visitor.who, settings=store.settings)
    address = f"{address_for_phones(request)}/links/{given.token}"
    square = segno.make(address, error="m", micro=False).svg_inline(border=0, omitsize=True)
    return page(
        "link_given.html",
        viewer=visitor,
        contest=contest,
        given=given,
        address=address,
        square=square,
        is_for_here=is_this_computer_alone(address),
    )


@of_contest.post("/links/{number}/revoke", response_class=RedirectResponse, status_code=303, responses={404: {}})
def take_link_back(
    contest: ContestRun, number: Annotated[int, Path(ge=1, le=2**31)], session: Database, visitor: VisitorHere
) -> Response:
    """Take a personal link back; sessions that came from it are over at once."""
    if number not in {link.number for link in links_given(session, contest)}:
        raise RuleError("There is no such link in this contest.")
    revoke_link(session, number, who=visitor.who)
    return RedirectResponse(f"/contests/{contest.slug}/desk#links", status_code=303)


def _desk(
    view: ContestView,
    session: Session,
    *,
    error: InputError | RuleError | None = None,
    typed: Mapping[str, str] | None = None,
) -> HTMLResponse:
    """Return the desk, with what was typed for a step and why it was not taken."""
    bands, standing = bands_of(view, session), standing_of(session, view.stored, view.judged)
    return page(
        "desk.html",
        status=200 if error is None else status_of(error),
        viewer=view.visitor,
        contest=head_of(view.judged),
        phase=view.judged.phase,
        life=LIFE,
        judged=view.judged,
        bands=bands,
        board=board_of(view, session, bands, standing),
        steps=steps_of(view.judged, standing),
        advice=advice_of(view.judged),
        drawers=drawers_of(view.judged),
        recorders=recorders_told(view.judged, view.judged.repeated),
        links=links_given(session, view.stored),
        shadows=[judge for judge in judges_of(session, view.stored.id) if judge.shadow],
        form=form_of(typed, error=error, fields=("reason",)),
    )


router.include_router(of_contest)
router.include_router(of_band)
