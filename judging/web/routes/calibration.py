"""Where people draw the line: the bands of new rules fitted to contests judged before; nothing is kept."""

from typing import Annotated

from fastapi import APIRouter, File, Form, UploadFile
from fastapi.responses import HTMLResponse

from judging.errors import InputError
from judging.jobs.calibrating import Calibrated
from judging.striking.calibration import LEAST_PIECES
from judging.web.calibration_page import FIELDS, HINTS, CalibrationView, CalibrationViewed, calibrated
from judging.web.forms import form_of
from judging.web.pages import page

router = APIRouter(prefix="/contests/{slug}/calibration")


@router.get("")
def calibration(view: CalibrationViewed) -> HTMLResponse:
    """Ask which contests to go by."""
    return _page(view)


@router.post("", responses={422: {}})
def calibrate(
    view: CalibrationViewed,
    archives: Annotated[tuple[UploadFile, ...], File()] = (),
    before: Annotated[tuple[str, ...], Form()] = (),
) -> HTMLResponse:
    """Fit the bands and show them; the organiser puts them into the rules, so that the answer is the page itself."""
    try:
        return _page(view, found=calibrated(view, archives, before), before=before)
    except InputError as error:
        return _page(view, before=before, error=error)


def _page(
    view: CalibrationView,
    *,
    found: Calibrated | None = None,
    before: tuple[str, ...] = (),
    error: InputError | None = None,
) -> HTMLResponse:
    return page(
        "calibration.html",
        status=200 if error is None else 422,
        viewer=view.visitor,
        view=view,
        address=f"/contests/{view.contest.slug}",
        calibrated=found,
        chosen=before,
        least=LEAST_PIECES,
        form=form_of(hints=HINTS, error=error, fields=FIELDS),
    )
