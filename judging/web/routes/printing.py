"""The organiser's papers: all of them listed, each to print, all in one file, and slips with new personal links."""

from functools import partial
from typing import Annotated
from urllib.parse import quote, urlencode

from fastapi import APIRouter, Form, HTTPException, Path, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response, StreamingResponse
from sqlmodel import Session

from judging.errors import InputError
from judging.papers import Paper, bundled, link_slips_pdf
from judging.papers.of_the_day import DayPapers
from judging.store import archive
from judging.web.access import Database, StoreHere
from judging.web.answers import disposition, paper_answer
from judging.web.certified import lasting_address
from judging.web.contest_page import head_of
from judging.web.forms import form_of
from judging.web.link_slips import FIELDS, SlipsForm, new_slips
from judging.web.long_paper import Asked, Wanted, ask_for_paper, made_of, paper_or_wait
from judging.web.network import address_for_phones
from judging.web.pages import page
from judging.web.printing_page import HINTS, day_papers_of, printing_of
from judging.web.refusals import status_of
from judging.web.views import ContestView, DeskViewed

router = APIRouter(prefix="/contests/{slug}/printing")

File = Annotated[str, Path(max_length=200)]
First = Annotated[str, Query(max_length=20)]


@router.get("", responses={422: {}})
def printing(view: DeskViewed, session: Database, request: Request, first: First = "") -> HTMLResponse:
    """List every paper there is now; `first` is when the first band rings."""
    return _page(view, session, {"address": address_for_phones(request)}, first)


@router.get("/everything.zip", response_class=StreamingResponse, responses={422: {}})
def everything(
    view: DeskViewed, session: Database, store: StoreHere, request: Request, first: First = ""
) -> StreamingResponse:
    """Give every paper in one file, each made as the ones before it are sent."""
    papers = day_papers_of(view, session, first, checked_at=lasting_address(request)).papers()
    return StreamingResponse(
        bundled({paper.path: partial(made_of, paper, store) for paper in papers}),
        media_type="application/zip",
        headers=disposition("attachment", f"papers-{view.stored.slug}.zip"),
    )


@router.get("/archive.zip", response_class=Response)
def kept(view: DeskViewed, session: Database) -> Response:
    """Give the contest as plain texts in one file, from which `evenblow recount` computes its result again."""
    headers = disposition("attachment", f"archive-{view.stored.slug}.zip")
    return Response(archive(session, view.stored.id or 0), media_type="application/zip", headers=headers)


@router.post("/slips", response_class=Response, responses={422: {}})
def slips(view: DeskViewed, form: Annotated[SlipsForm, Form()], session: Database, store: StoreHere) -> Response:
    """Make a new link for every judge and the steward, and the bands if asked for; give the slips, this once."""
    try:
        made = new_slips(session, view.stored, view.judged, form, who=view.visitor.who, settings=store.settings)
    except InputError as error:
        return _page(view, session, form.model_dump(), error=error)
    heading = day_papers_of(view, session).heading()
    headers = {**disposition("attachment", f"links-{view.stored.slug}.pdf"), "cache-control": "no-store"}
    return Response(link_slips_pdf(made, heading=heading), media_type="application/pdf", headers=headers)


@router.get("/{file}", response_class=Response, responses={404: {}, 422: {}})
def paper(
    file: File,
    view: DeskViewed,
    session: Database,
    store: StoreHere,
    request: Request,
    first: First = "",
    asked: Asked = "",
) -> Response:
    """Give one paper, or say how far it is where it takes long."""
    found = _paper(day_papers_of(view, session, first, checked_at=lasting_address(request)), file)
    if found.set_up is None:
        return paper_answer(found.make(), file)
    return paper_or_wait(_wanted(view, found, first), session, store, view.visitor, asked)


@router.post("/{file}", response_class=RedirectResponse, status_code=303, responses={404: {}, 422: {}})
def ask(file: File, view: DeskViewed, session: Database, store: StoreHere, first: First = "") -> RedirectResponse:
    """Ask for a paper that takes long."""
    found = _paper(day_papers_of(view, session, first), file)
    if found.set_up is None:
        return RedirectResponse(_address(view, file, first), status_code=303)
    return ask_for_paper(_wanted(view, found, first), session, store)


def _paper(papers: DayPapers, file: str) -> Paper:
    """Return a paper by the name of its file; not found where there is none now."""
    for one in papers.papers():
        if one.file == file:
            return one
    raise HTTPException(404, "There is no such paper now; the list of papers says what there is.")


def _wanted(view: ContestView, found: Paper, first: str) -> Wanted:
    assert found.set_up is not None  # noqa: S101 only papers that have one are asked for here
    back = ("Papers to print", f"/contests/{view.stored.slug}/printing")
    return Wanted(found.set_up(), found.file, found.title, _address(view, found.file, first), back)


def _address(view: ContestView, file: str, first: str) -> str:
    given = f"?{urlencode({'first': first})}" if first else ""
    return f"/contests/{view.stored.slug}/printing/{quote(file)}{given}"


def _page(
    view: ContestView, session: Session, typed: dict[str, str], first: str = "", error: InputError | None = None
) -> HTMLResponse:
    try:
        papers = day_papers_of(view, session, first)
    except InputError as wrong:
        papers, error = day_papers_of(view, session), wrong
    return page(
        "printing.html",
        status=200 if error is None else status_of(error),
        viewer=view.visitor,
        contest=head_of(view.judged),
        printing=printing_of(view, papers, first),
        form=form_of({**typed, "first": first}, hints=HINTS, error=error, fields=(*FIELDS, "first")),
    )
