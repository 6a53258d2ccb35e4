"""The organiser's papers: all of them listed, each to print, all in one file, and slips with new personal links."""

from typing import Annotated

from fastapi import APIRouter, Form, HTTPException, Path, Query, Request
from fastapi.responses import HTMLResponse, Response, StreamingResponse
from sqlmodel import Session

from judging.errors import InputError
from judging.papers import bundled, link_slips_pdf
from judging.web.access import Database, StoreHere
from judging.web.answers import disposition, paper_answer
from judging.web.contest_page import head_of
from judging.web.forms import form_of
from judging.web.link_slips import FIELDS, SlipsForm, new_slips
from judging.web.pages import page
from judging.web.printing_page import HINTS, day_papers_of, printing_of
from judging.web.refusals import status_of
from judging.web.views import ContestView, DeskViewed

router = APIRouter(prefix="/contests/{slug}/printing")

First = Annotated[str, Query(max_length=20)]


@router.get("", responses={422: {}})
def printing(view: DeskViewed, session: Database, request: Request, first: First = "") -> HTMLResponse:
    """List every paper there is now; `first` is when the first band rings."""
    return _page(view, session, {"address": str(request.base_url).rstrip("/")}, first)


@router.get("/everything.zip", response_class=StreamingResponse, responses={422: {}})
def everything(view: DeskViewed, session: Database, first: First = "") -> StreamingResponse:
    """Give every paper in one file, each made as the ones before it are sent."""
    papers = day_papers_of(view, session, first).papers()
    return StreamingResponse(
        bundled({paper.path: paper.make for paper in papers}),
        media_type="application/zip",
        headers=disposition("attachment", f"papers-{view.stored.slug}.zip"),
    )


@router.get("/{file}", response_class=Response, responses={404: {}, 422: {}})
def paper(
    file: Annotated[str, Path(max_length=200)], view: DeskViewed, session: Database, first: First = ""
) -> Response:
    """Give one paper."""
    makers = day_papers_of(view, session, first).makers()
    if file not in makers:
        raise HTTPException(404, "There is no such paper now; the list of papers says what there is.")
    return paper_answer(makers[file](), file)


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
