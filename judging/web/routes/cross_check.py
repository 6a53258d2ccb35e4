"""A judge's cross-check: what differs from the machine, to be heard; the sheet kept, or revised with a reason."""

from typing import Annotated

from fastapi import APIRouter, Form, HTTPException, Query
from fastapi.responses import FileResponse, HTMLResponse, RedirectResponse, Response
from pydantic import BaseModel, ConfigDict, Field

from judging.contest.cross_check import judged_span, revised
from judging.errors import InputError, RuleError
from judging.jobs import Excerpt, enqueue_excerpt, excerpt_of, jobs_of
from judging.store import Store, add_sheet, audit
from judging.web.access import Database, StoreHere
from judging.web.contest_page import head_of
from judging.web.cross_check_page import CrossChecked, CrossCheckHere, bands_checked
from judging.web.forms import form_of
from judging.web.judging_page import JudgingViewed
from judging.web.pages import page
from judging.web.refusals import status_of
from judging.web.views import ContestViewed

router = APIRouter()
of_contest = APIRouter(prefix="/contests/{slug}/judging/cross-check")
of_band = APIRouter(prefix="/contests/{slug}/bands/{key}/cross-check")

#: So long before a difference does listening begin: a whole pull or two, to be in the rhythm.
LEAD_IN_S = 4.0
#: And so long after it does it stop.
LEAD_OUT_S = 2.0

At = Annotated[float | None, Query(ge=0, le=100_000, allow_inf_nan=False)]


class Decision(BaseModel):
    """What a judge decides of the differences: which are taken over, or that the sheet stays."""

    model_config = ConfigDict(extra="forbid")

    revision: int = Field(ge=1, lt=10**6)
    taken: list[str] = Field(default_factory=list, max_length=6000)
    reason: str = Field(default="", max_length=500)
    keep: str = Field(default="", max_length=10)


@of_contest.get("")
def overview(judging: JudgingViewed, view: ContestViewed) -> HTMLResponse:
    """Show a judge which bands to listen to first, and how long that takes."""
    return page(
        "cross_checks.html",
        viewer=view.visitor,
        contest=head_of(view.judged),
        judge=judging.judge,
        bands=bands_checked(judging.judge, view),
        missing=len(judging.bands) - sum(1 for band in judging.bands if band.total),
    )


@of_band.get("")
def one_band(here: CrossCheckHere, session: Database, store: StoreHere, at: At = None) -> HTMLResponse:
    """Show what differs for one band; ``at`` starts the player there."""
    return _page(here, session, store, at=at)


@of_band.post("", response_class=RedirectResponse, status_code=303, responses={403: {}, 409: {}, 422: {}})
def decide(here: CrossCheckHere, form: Annotated[Decision, Form()], session: Database, store: StoreHere) -> Response:
    """Keep the sheet, or sign its revision."""
    try:
        with session.begin_nested():
            _settle(here, form, session)
    except (InputError, RuleError) as error:
        return _page(here, session, store, typed=form, error=error)
    return RedirectResponse(f"/contests/{here.contest.slug}/judging/cross-check", status_code=303)


@of_band.get("/recording", response_class=FileResponse, responses={403: {}, 404: {}, 206: {}, 416: {}})
def recording(here: CrossCheckHere, session: Database, store: StoreHere) -> FileResponse:
    """Give the band's recording from the first judged blow to the last, without tags."""
    excerpt = _excerpt(here, session, store)
    if excerpt is None or not excerpt.is_there:
        raise HTTPException(404, "There is no recording of this band to be heard, or it is not ready yet.")
    return FileResponse(excerpt.path, media_type="audio/flac")


@of_band.post("/recording", response_class=RedirectResponse, status_code=303, responses={403: {}, 404: {}})
def ask_for_recording(here: CrossCheckHere, session: Database, store: StoreHere) -> RedirectResponse:
    """Ask for the recording to be made ready."""
    excerpt = _excerpt(here, session, store)
    if excerpt is None:
        raise HTTPException(404, "There is no recording of this band.")
    enqueue_excerpt(session, here.entry, excerpt)
    return RedirectResponse(here.band.address, status_code=303)


def _settle(here: CrossChecked, form: Decision, session: Database) -> None:
    """Note that the sheet is kept, or sign its revision."""
    sheet, checked = here.band.sheet, here.band.checked
    who = f"judge {here.judge.key}"
    if form.revision != sheet.revision:
        raise RuleError("The sheet was signed anew since this page was opened; look at it as it is now.")
    if form.keep:
        audit(
            session,
            who=who,
            what="sheet kept after the cross-check",
            contest=here.contest.slug,
            about=f"judge {here.judge.key}, entry {here.entry.key}, revision {sheet.revision}",
        )
        return
    if checked is None or not checked.is_matched:
        raise RuleError("There is nothing to take over: the sheet and the machine’s count could not be matched.")
    rules = here.view.judged.rules.marks.sheets
    changed = revised(sheet, checked, form.taken, rules, reason=form.reason)
    add_sheet(session, here.contest.id, changed, who=who)


def _excerpt(here: CrossChecked, session: Database, store: Store) -> Excerpt | None:
    count = here.view.judged.outcome.counts.get(here.entry.key)
    return None if count is None else excerpt_of(session, store, here.entry, judged_span(count))


def _page(
    here: CrossChecked,
    session: Database,
    store: Store,
    *,
    at: float | None = None,
    typed: Decision | None = None,
    error: InputError | RuleError | None = None,
) -> HTMLResponse:
    excerpt = _excerpt(here, session, store)
    jobs = [job for job in jobs_of(session, here.entry.id) if job.kind == "excerpt"]
    return page(
        "cross_check.html",
        status=200 if error is None else status_of(error),
        viewer=here.view.visitor,
        contest=head_of(here.view.judged),
        here=here,
        excerpt=excerpt,
        is_coming=any(job.state in {"queued", "running"} for job in jobs),
        failed=next((job.error for job in jobs if job.state == "failed"), ""),
        at_s=at,
        lead_in_s=LEAD_IN_S,
        lead_out_s=LEAD_OUT_S,
        taken=frozenset(typed.taken if typed else ()),
        form=form_of(
            {"reason": typed.reason} if typed else None,
            hints={"reason": "Kept beside both versions, such as “heard it again, it was late”."},
            error=error,
            fields=("reason", "taken"),
        ),
    )


router.include_router(of_contest)
router.include_router(of_band)
