"""One band's ringing: its fault sheet to read and hear, and what it may take home."""

import json
from typing import Annotated

from fastapi import APIRouter, HTTPException, Query, Response
from fastapi.responses import FileResponse, HTMLResponse, JSONResponse

from judging.papers import fault_sheet_pdf
from judging.store import StoredRecording, StoredStrikeLog, recordings_of, strike_log_of
from judging.store.audit import head
from judging.striking import count_document
from judging.web.access import Database, StoreHere
from judging.web.answers import csv, pdf
from judging.web.contest_page import head_of
from judging.web.fault_page import blow_at, fault_sheet_of, part_of
from judging.web.media import media_type_of
from judging.web.pages import page
from judging.web.views import BandView, BandViewed

router = APIRouter(prefix="/contests/{slug}/bands/{key}")

At = Annotated[float | None, Query(ge=0, le=100_000, allow_inf_nan=False)]
Part = Annotated[int | None, Query(ge=1, le=10_000)]


@router.get("")
def fault_sheet(band: BandViewed, session: Database, at: At = None, part: Part = None) -> HTMLResponse:
    """Show a fault sheet; `at` starts the player there, `part` chooses the part of a long piece."""
    log = _log(band, session)
    sheet = fault_sheet_of(band.of.judged, band.entry, band.of.names, band.of.shown, notes=json.loads(log.notes_json))
    here = blow_at(sheet, at)
    return page(
        "fault_sheet.html",
        viewer=band.of.visitor,
        contest=head_of(band.of.judged),
        band=band,
        sheet=sheet,
        part=part_of(band.count, sheet, number=part, at_s=at),
        recording=f"{band.address}/recording" if _recording(log, session) else "",
        at_s=at,
        here=here,
    )


@router.get("/count.json", response_class=JSONResponse, responses={404: {}})
def count(band: BandViewed) -> JSONResponse:
    """Give the machine's count as `evenblow count --json` prints it."""
    return JSONResponse(count_document(band.count))


@router.get("/strike-log.csv", response_class=Response, responses={404: {}})
def strike_log(band: BandViewed, session: Database) -> Response:
    """Give the strike log that the count was made from."""
    return csv(_log(band, session).csv, _file_name(band, "strikes"))


@router.get("/fault-sheet.pdf", response_class=Response, responses={404: {}})
def fault_sheet_paper(band: BandViewed, session: Database) -> Response:
    """Give the fault sheet to print."""
    notes = json.loads(_log(band, session).notes_json)
    sheet = fault_sheet_of(
        band.of.judged, band.entry, band.of.names, band.of.shown, audit_head=str(head(session)), notes=notes
    )
    return pdf(fault_sheet_pdf(sheet), _file_name(band, "faults"))


@router.get("/recording", response_class=FileResponse, responses={404: {}, 206: {}, 416: {}})
def recording(band: BandViewed, session: Database, store: StoreHere) -> FileResponse:
    """Give the recording that the strike log was heard in; in parts, as players ask for it."""
    kept = _recording(_log(band, session), session)
    if kept is None:
        raise HTTPException(404, "There is no recording of this band, or it was erased.")
    path = store.recordings.path(kept.sha256)
    return FileResponse(path, media_type=media_type_of(path))


def _log(band: BandView, session: Database) -> StoredStrikeLog:
    """Return the strike log behind a band's count; an address without one is not found."""
    log = strike_log_of(session, band.stored.id or 0)
    if log is None:
        raise HTTPException(404, "This band has no strike log; it was judged by ear alone.")
    return log


def _recording(log: StoredStrikeLog, session: Database) -> StoredRecording | None:
    """Return the recording whose clock a log's times are on.

    A log that was given, and not heard here, is taken to be of the entry's recording where there is just one.
    """
    kept = recordings_of(session, log.entry_id)
    if log.recording_id is None:
        return kept[0] if len(kept) == 1 else None
    return next((recording for recording in kept if recording.id == log.recording_id), None)


def _file_name(band: BandView, what: str) -> str:
    return f"{what}-{band.of.stored.slug}-{band.address.rsplit('/', 1)[1]}"
