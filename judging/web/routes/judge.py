"""A judge's sheet for a band: signed by the judge, or keyed in from paper by the organiser."""

from collections.abc import Sequence
from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from judging.errors import InputError, RuleError
from judging.store import add_sheet
from judging.web.access import Database, VisitorHere
from judging.web.beside import beside_of
from judging.web.contest_page import head_of
from judging.web.forms import SheetForm, form_of, read_sheet
from judging.web.judging_page import JudgingViewed
from judging.web.pages import page
from judging.web.sheet_page import FIELDS, SheetView, SheetViewed
from judging.web.views import ContestViewed

router = APIRouter()
of_contest = APIRouter(prefix="/contests/{slug}")
of_sheet = APIRouter(prefix="/contests/{slug}/bands/{key}/sheets/{judge}")


@of_contest.get("/judging")
def judging(view: JudgingViewed, visitor: VisitorHere) -> HTMLResponse:
    """Show a judge which sheets are signed and which are missing."""
    return page("judging.html", viewer=visitor, view=view)


@of_contest.get("/judging/compared")
def compared(judging: JudgingViewed, view: ContestViewed) -> HTMLResponse:
    """Show a judge how they judged, beside colleagues and the machine; nobody else may see it."""
    beside = beside_of(judging, view)
    return page("compared.html", viewer=view.visitor, contest=head_of(view.judged), judge=judging.judge, beside=beside)


@of_sheet.get("")
def sheet(view: SheetViewed) -> HTMLResponse:
    """Show the sheet: empty, or the version in force to be revised."""
    return _page(view, view.typed())


@of_sheet.post("", response_class=RedirectResponse, status_code=303, responses={409: {}, 422: {}})
def sign_sheet(view: SheetViewed, form: Annotated[SheetForm, Form()], session: Database) -> Response:
    """Sign the sheet, or its revision."""
    try:
        signed = read_sheet(form, judge=view.judge.key, entry=view.entry.key, rules=view.rules)
        view.ask_about(signed)
        with session.begin_nested():
            add_sheet(session, view.contest.id or 0, signed, who=view.who)
    except (InputError, RuleError) as error:
        return _page(view, form.model_dump(exclude={"criteria"}), error, criteria=form.criteria)
    return RedirectResponse(view.back, status_code=303)


def _page(
    view: SheetView,
    typed: dict[str, str],
    error: InputError | RuleError | None = None,
    *,
    criteria: Sequence[str] = (),
) -> HTMLResponse:
    status = 200 if error is None else 422 if isinstance(error, InputError) else 409
    form = form_of(typed, hints=view.hints, error=error, fields=FIELDS)
    fields = view.criteria(criteria)
    return page("sheet.html", status=status, viewer=view.visitor, view=view, form=form, criteria=fields)


router.include_router(of_contest)
router.include_router(of_sheet)
