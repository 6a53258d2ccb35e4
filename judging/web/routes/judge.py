"""A judge's sheet for a band: signed by the judge, or keyed in from paper by the organiser."""

from collections.abc import Sequence
from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from judging.errors import InputError, RuleError
from judging.store import add_sheet, declare_interests, key_in
from judging.web.access import Database, VisitorHere
from judging.web.beside import beside_of
from judging.web.contest_page import head_of
from judging.web.forms import InterestsForm, SheetForm, form_of, read_sheet
from judging.web.judging_page import JudgingViewed
from judging.web.pages import page
from judging.web.refusals import status_of
from judging.web.sheet_page import FIELDS, SheetView, SheetViewed
from judging.web.views import ContestViewed

router = APIRouter()
of_contest = APIRouter(prefix="/contests/{slug}")
of_sheet = APIRouter(prefix="/contests/{slug}/bands/{key}/sheets/{judge}")


@of_contest.get("/judging")
def judging(view: JudgingViewed, visitor: VisitorHere) -> HTMLResponse:
    """Show a judge which sheets are signed and which are missing."""
    typed = form_of({"belongs_to": view.judge.belongs_to})
    return page("judging.html", viewer=visitor, view=view, form=typed)


@of_contest.post("/judging/interests", response_class=RedirectResponse, status_code=303, responses={409: {}, 422: {}})
def declare(
    view: JudgingViewed, form: Annotated[InterestsForm, Form()], session: Database, visitor: VisitorHere
) -> Response:
    """Declare the towers and bands that the judge has to do with, without being told which of them have entered."""
    try:
        declare_interests(session, view.judge, form.belongs_to, who=visitor.who)
    except (InputError, RuleError) as error:
        typed = form_of(form.model_dump(), error=error, fields=tuple(InterestsForm.model_fields))
        return page("judging.html", status=status_of(error), viewer=visitor, view=view, form=typed)
    return RedirectResponse(f"/contests/{view.contest.slug}/judging", status_code=303)


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
    """Sign the sheet or its revision; or, for the organiser, key in what stands on the judge's paper."""
    try:
        read = read_sheet(form, judge=view.judge.key, entry=view.entry.key, rules=view.rules)
        view.ask_about(read)
        with session.begin_nested():
            if view.is_keyed:
                keyed = key_in(session, view.contest.id, read, who=view.visitor.who)
                differs = keyed.signed is None and bool(keyed.others)
            else:
                add_sheet(session, view.contest.id, read, who=view.visitor.who)
                differs = False
    except (InputError, RuleError) as error:
        return _page(view, form.model_dump(exclude={"criteria"}), error, criteria=form.criteria)
    return RedirectResponse(f"{view.address}#differences" if differs else view.back, status_code=303)


def _page(
    view: SheetView,
    typed: dict[str, str],
    error: InputError | RuleError | None = None,
    *,
    criteria: Sequence[str] = (),
) -> HTMLResponse:
    status = 200 if error is None else status_of(error)
    form = form_of(typed, hints=view.hints, error=error, fields=FIELDS)
    fields = view.criteria(criteria)
    return page("sheet.html", status=status, viewer=view.visitor, view=view, form=form, criteria=fields)


router.include_router(of_contest)
router.include_router(of_sheet)
