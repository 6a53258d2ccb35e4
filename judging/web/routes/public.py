"""Open to everybody: the contests, their results and papers, how to read them, and the door for personal links."""

from dataclasses import replace
from typing import Annotated

from fastapi import APIRouter, Depends, HTTPException, Path, Query, Request, Response
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse
from sqlmodel import Session

from judging.contest import Phase, result_document
from judging.errors import InputError
from judging.marks.values import Result
from judging.papers import certificate_setting, results_sheet_pdf
from judging.papers.of_the_day import DayPapers
from judging.store import Access, StoredContest, close_book, contests, end_session, exchange_link
from judging.store.audit import head
from judging.web.access import COOKIE, Database, StoreHere, Visitor, VisitorHere, may_see, remember
from judging.web.answers import pdf
from judging.web.book import COOKIE as BOOK_COOKIE
from judging.web.certified import certified, lasting_address, plain_code
from judging.web.contest_page import (
    announced,
    head_of,
    order_of_ringing,
    papers_of,
    sheet_address,
    tables_of,
    winners,
)
from judging.web.documents import veil
from judging.web.firmness import firmness_of, lines_of
from judging.web.forms import form_of
from judging.web.judged import Judging
from judging.web.long_paper import Asked, Wanted, ask_for_paper, paper_or_wait
from judging.web.pages import page
from judging.web.piece_page import piece_page
from judging.web.practice import is_practice
from judging.web.revisions_page import published
from judging.web.rules_reading import key_tables, presets_shown
from judging.web.views import ContestView, ContestViewed, judging_of, view_of

router = APIRouter()
of_contest = APIRouter(prefix="/contests/{slug}")

#: Where each role begins, within its contest.
_OWN_PAGE = {"organiser": "/desk", "judge": "/judging", "shadow judge": "/judging", "steward": "/ringing"}

Number = Annotated[int, Path(ge=1, le=99)]


@router.get("/")
def home(session: Database, visitor: VisitorHere, judging: Annotated[Judging, Depends(judging_of)]) -> HTMLResponse:
    """List the contests that the visitor may see."""
    views = [
        view_of(contest, session, visitor, judging) for contest in contests(session) if _is_listed(contest, visitor)
    ]
    return page(
        "home.html",
        viewer=visitor,
        contests=[(head_of(view.judged), winners(view.judged, view.names, view.shown)) for view in views],
    )


@of_contest.get("")
def contest(view: ContestViewed) -> Response:
    """Show a contest: its result as far as it is out, the order of ringing, the rules."""
    if is_practice(view.stored):
        return RedirectResponse(f"/contests/{view.stored.slug}/practice", status_code=303)
    judged, names, shown = view.judged, view.names, view.shown
    return page(
        "contest.html",
        viewer=view.visitor,
        contest=head_of(judged),
        is_run=view.is_run,
        is_band=bool(names.viewer.own),
        own_address=next((names.address(own) for own in names.viewer.own if judged.entry(own).number), ""),
        own_sheet=next(filter(None, (sheet_address(judged, names, own) for own in names.viewer.own)), ""),
        phase=judged.phase,
        revision=judged.revision,
        correcting=view.stored.revision_reason if judged.was_final and judged.phase is not Phase.FINAL else "",
        tables=tables_of(judged, names, shown),
        firmness=firmness_of(judged, names, shown),
        why_not=judged.why_not if view.is_run else "",
        order=order_of_ringing(judged, names),
        rules=judged.rules,
        rules_paper=judged.rules_paper,
        pieces={key: piece.title for key, piece in judged.day.pieces.items()},
    )


@of_contest.get("/revisions")
def revisions(view: ContestViewed, session: Database) -> HTMLResponse:
    """Show every result as it was published, and what changed from one to the next."""
    return page(
        "revisions.html",
        viewer=view.visitor,
        contest=head_of(view.judged),
        is_run=view.is_run,
        results=published(view, session),
    )


@of_contest.get("/pieces/{piece}", responses={404: {}})
def piece_of_contest(
    piece: str, view: ContestViewed, bell: Annotated[int | None, Query(ge=1, le=16)] = None
) -> HTMLResponse:
    """Show a test piece: what is proved of it, and the way of a bell through its rows."""
    if piece not in view.judged.day.pieces:
        raise HTTPException(404)
    shown = piece_page(view.judged.day.pieces[piece], bell)
    return page("piece.html", viewer=view.visitor, contest=head_of(view.judged), piece=shown)


@of_contest.get("/result.json", response_class=JSONResponse, responses={404: {}})
def result(view: ContestViewed) -> JSONResponse:
    """Give the result as `evenblow rank --json` prints it, with bands by number until it is final."""
    if not view.shown.result or not view.judged.outcome.results:
        raise HTTPException(404, "There is no result to be seen yet.")
    return JSONResponse(veil(result_document(view.judged.outcome, view.judged.day), view))


@of_contest.get("/sections/{number}/results.pdf", response_class=Response, responses={404: {}})
def results_pdf(number: Number, view: ContestViewed, session: Database) -> Response:
    """Give the results sheet of a section, to pin up."""
    papers, result = _papers(view, number, str(head(session)))
    return pdf(results_sheet_pdf(papers.results_sheet(result)), f"results-{view.stored.slug}-{number}")


@of_contest.get("/sections/{number}/certificates.pdf", response_class=Response, responses={404: {}})
def certificates_pdf(
    number: Number,
    view: ContestViewed,
    session: Database,
    store: StoreHere,
    request: Request,
    asked: Asked = "",
) -> Response:
    """Give the certificates of a section's placed bands, or say how far they are where there are many."""
    return paper_or_wait(_wanted(view, number, session, request), session, store, view.visitor, asked)


@of_contest.post(
    "/sections/{number}/certificates.pdf", response_class=RedirectResponse, status_code=303, responses={404: {}}
)
def ask_for_certificates(
    number: Number, view: ContestViewed, session: Database, store: StoreHere, request: Request
) -> RedirectResponse:
    """Ask for certificates that are many."""
    return ask_for_paper(_wanted(view, number, session, request), session, store)


def _wanted(view: ContestView, number: int, session: Session, request: Request) -> Wanted:
    papers, result = _papers(view, number, str(head(session)))
    papers = replace(papers, checked_at=lasting_address(request))
    contest = head_of(view.judged)
    return Wanted(
        certificate_setting(papers.certificates(result)),
        f"certificates-{view.stored.slug}-{number}.pdf",
        f"Certificates, {result.section}" if result.section else "Certificates",
        f"{contest.address}/sections/{number}/certificates.pdf",
        (contest.title, contest.address),
    )


@of_contest.get("/sections/{number}/announce")
def announce(number: Number, view: ContestViewed, step: Annotated[int, Query(ge=0, le=1000)] = 0) -> HTMLResponse:
    """Show the result for a projector, last place first, one place at a step."""
    papers, result = _papers(view, number, "")
    lines = announced(papers.results_sheet(result), step)
    return page(
        "announce.html",
        viewer=view.visitor,
        contest=head_of(view.judged),
        section=result.section,
        lines=lines,
        step=len(lines),
        steps=len(result.places),
    )


@of_contest.get("/sections/{number}/lines")
def lines(number: Number, view: ContestViewed) -> HTMLResponse:
    """Show which places hang on where a fault's line is drawn, and on the marking scheme."""
    return page(
        "lines.html",
        viewer=view.visitor,
        contest=head_of(view.judged),
        lines=lines_of(view.judged, view.names, view.shown, number),
    )


@router.get("/reading")
def reading(visitor: VisitorHere) -> HTMLResponse:
    """Explain how a fault sheet and a result are read."""
    return page("reading.html", viewer=visitor)


@router.get("/verify")
def verify(session: Database, visitor: VisitorHere, code: Annotated[str, Query(max_length=40)] = "") -> HTMLResponse:
    """Say what a certificate's code stands for."""
    plain = plain_code(code)
    return page(
        "verify.html",
        viewer=visitor,
        code=plain or code,
        found=certified(session, visitor, plain) if plain else (),
        form=form_of({"code": code}, hints={"code": "Eight letters and digits, such as 4F0A-91C2."}, fields=("code",)),
    )


@router.get("/reading/rules")
def rules_explained(visitor: VisitorHere) -> HTMLResponse:
    """Explain how rules are declared: every key, and rules to start from with an example worked under each."""
    return page("rules_reading.html", viewer=visitor, tables=key_tables(), presets=presets_shown())


@router.get("/patterns")
def patterns(visitor: VisitorHere) -> HTMLResponse:
    """Show every pattern that pages are made of, for whoever makes the next one."""
    form = form_of(
        {"total": "18½½", "taps": "38 ½\n112 1"},
        hints={"total": "In faults, in steps of ½."},
        error=InputError("total", '"18½½" is not a number; write halves as ½ or .5'),
        fields=("total",),
    )
    return page("patterns.html", viewer=visitor, form=form)


@router.get("/links/{token}")
def link(token: str, visitor: VisitorHere) -> HTMLResponse:
    """Ask before a personal link is used: programs that fetch links beforehand must not use it up."""
    return page("link.html", viewer=visitor, token=token)


@router.post("/links/{token}")
def use_link(token: str, request: Request, session: Database, store: StoreHere) -> RedirectResponse:
    """Exchange a personal link for a session, once."""
    session_token, access = exchange_link(session, token)
    answer = RedirectResponse(_landing(session, access), status_code=303)
    remember(answer, session_token, request, hours=store.settings.session_hours)
    return answer


@router.get("/own-page", response_class=RedirectResponse, status_code=303)
def own_page(session: Database, visitor: VisitorHere) -> RedirectResponse:
    """Lead somebody back to where they began: a judge to the sheets, the steward to the ringing room."""
    return RedirectResponse(_landing(session, visitor.access) if visitor.access else "/", status_code=303)


@router.post("/leave")
def leave(session: Database, visitor: VisitorHere, request: Request) -> RedirectResponse:
    """End the session, and close a band's book that is open beside it."""
    if visitor.access is not None:
        end_session(session, visitor.access)
    close_book(session, request.cookies.get(BOOK_COOKIE, ""))
    answer = RedirectResponse("/", status_code=303)
    answer.delete_cookie(COOKIE)
    answer.delete_cookie(BOOK_COOKIE)
    return answer


def _is_listed(contest: StoredContest, visitor: Visitor) -> bool:
    """Whether a contest is on the visitor's list; practice nights have a list of their own."""
    return may_see(contest, visitor) and not is_practice(contest)


def _papers(view: ContestView, number: int, audit_head: str) -> tuple[DayPapers, Result]:
    """Return the papers of a contest and one section's result; not found where there is none to be seen."""
    papers = papers_of(view.judged, view.names, view.shown, audit_head=audit_head)
    if number > len(papers.outcome.results):
        raise HTTPException(404, "There is no such result to be seen yet.")
    return papers, papers.outcome.results[number - 1]


def _landing(session: Session, access: Access) -> str:
    """Return where somebody goes who has come in by a link."""
    if access.contest_id is None:
        return "/"
    slug = session.get_one(StoredContest, access.contest_id).slug
    return f"/contests/{slug}{_OWN_PAGE.get(access.role, '')}"


router.include_router(of_contest)
