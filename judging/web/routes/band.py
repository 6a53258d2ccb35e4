"""One band's ringing: its fault sheet to read and hear, and what it may take home."""

import json
from typing import Annotated, Literal

from fastapi import APIRouter, HTTPException, Query, Response
from fastapi.responses import FileResponse, HTMLResponse, JSONResponse, RedirectResponse
from sqlmodel import Session

from judging.jobs import enqueue_sound, sound_path
from judging.papers import ear_sheet_pdf, fault_sheet_setting
from judging.store.audit import head
from judging.striking import blows_csv, count_document
from judging.web.access import Database, StoreHere
from judging.web.answers import csv, pdf
from judging.web.contest_page import head_of, papers_of
from judging.web.fault_page import blow_at, fault_sheet_of, part_of
from judging.web.long_paper import Asked, Wanted, ask_for_paper, paper_or_wait
from judging.web.media import media_type_of
from judging.web.pages import page
from judging.web.pull_off_table import on_average, pull_offs_of
from judging.web.sounds import WAYS, log_of, recording_of, sounds_of
from judging.web.views import BandView, BandViewed

router = APIRouter(prefix="/contests/{slug}/bands/{key}")

At = Annotated[float | None, Query(ge=0, le=100_000, allow_inf_nan=False)]
Heard = Literal["", "recording", "steady", "repaired", "as-rung"]
Rung = Literal["steady", "repaired", "as-rung"]
Part = Annotated[int | None, Query(ge=1, le=10_000)]


@router.get("", response_class=HTMLResponse)
def fault_sheet(
    band: BandViewed, session: Database, store: StoreHere, at: At = None, part: Part = None, sound: Heard = ""
) -> Response:
    """Show a fault sheet; `at` starts the player there, `part` chooses the part of a long piece, `sound` what plays."""
    if band.of.judged.is_by_ear_alone(band.entry.id):
        papers = papers_of(band.of.judged, band.of.names, band.of.shown)
        return page(
            "ear_sheet.html",
            viewer=band.of.visitor,
            contest=head_of(band.of.judged),
            band=band,
            sheet=papers.ear_sheet(band.entry.id),
        )
    log = log_of(band, session)
    sheet = fault_sheet_of(band.of.judged, band.entry, band.of.names, band.of.shown, notes=json.loads(log.notes_json))
    sounds = sounds_of(band, session, store, log)
    return page(
        "fault_sheet.html",
        viewer=band.of.visitor,
        contest=head_of(band.of.judged),
        band=band,
        sheet=sheet,
        part=part_of(band.count, sheet, number=part, at_s=at),
        pull_offs=pull_offs_of(band.count),
        pull_offs_on_average=on_average(band.count),
        sounds=sounds,
        playing=next((one for one in sounds if one.address and sound in {"", one.key}), None),
        sound=sound,
        start_is_sure=log.start_is_sure,
        at_s=at,
        here=blow_at(sheet, at),
    )


@router.get("/count.json", response_class=JSONResponse, responses={404: {}})
def count(band: BandViewed) -> JSONResponse:
    """Give the machine's count as `evenblow count --json` prints it."""
    return JSONResponse(count_document(band.count))


@router.get("/blows.csv", response_class=Response, responses={404: {}})
def blows(band: BandViewed) -> Response:
    """Give every blow with its deviation, its charge and its fault, as `evenblow count --csv` writes them."""
    return csv(blows_csv(band.count), _file_name(band, "blows"))


@router.get("/strike-log.csv", response_class=Response, responses={404: {}})
def strike_log(band: BandViewed, session: Database) -> Response:
    """Give the strike log that the count was made from."""
    return csv(log_of(band, session).csv, _file_name(band, "strikes"))


@router.get("/fault-sheet.pdf", response_class=Response, responses={404: {}})
def fault_sheet_paper(band: BandViewed, session: Database, store: StoreHere, asked: Asked = "") -> Response:
    """Give the fault sheet to print; of a band judged by ear alone, the judges' marks and words."""
    if band.of.judged.is_by_ear_alone(band.entry.id):
        papers = papers_of(band.of.judged, band.of.names, band.of.shown, audit_head=str(head(session)))
        return pdf(ear_sheet_pdf(papers.ear_sheet(band.entry.id)), _file_name(band, "judged-by-ear"))
    return paper_or_wait(_wanted(band, session), session, store, band.of.visitor, asked)


@router.post("/fault-sheet.pdf", response_class=RedirectResponse, status_code=303, responses={404: {}})
def ask_for_fault_sheet(band: BandViewed, session: Database, store: StoreHere) -> RedirectResponse:
    """Ask for a fault sheet that takes long, as whoever may see it may."""
    return ask_for_paper(_wanted(band, session), session, store)


def _wanted(band: BandView, session: Session) -> Wanted:
    notes = json.loads(log_of(band, session).notes_json)
    of = band.of
    sheet = fault_sheet_of(of.judged, band.entry, of.names, of.shown, audit_head=str(head(session)), notes=notes)
    return Wanted(
        fault_sheet_setting(sheet),
        f"{_file_name(band, 'faults')}.pdf",
        f"Fault sheet of {band.name}",
        f"{band.address}/fault-sheet.pdf",
        (band.name, band.address),
    )


@router.get("/recording", response_class=FileResponse, responses={404: {}, 206: {}, 416: {}})
def recording(band: BandViewed, session: Database, store: StoreHere) -> FileResponse:
    """Give the recording that the strike log was heard in; in parts, as players ask for it."""
    kept = recording_of(log_of(band, session), session)
    if kept is None:
        raise HTTPException(404, "There is no recording of this band, or it was erased.")
    path = store.recordings.path(kept.sha256)
    return FileResponse(path, media_type=media_type_of(path))


@router.get("/sounds/{sound}", response_class=FileResponse, responses={404: {}, 206: {}, 416: {}})
def rung(sound: Rung, band: BandViewed, session: Database, store: StoreHere) -> FileResponse:
    """Give the band's ringing on made-up bells, in one of the ways."""
    path = sound_path(store, log_of(band, session), WAYS[sound], band.of.stored.rules_text)
    if not path.is_file():
        raise HTTPException(404, "This has not been rung yet.")
    return FileResponse(path, media_type="audio/flac")


@router.post("/sounds/{sound}", response_class=RedirectResponse, status_code=303, responses={403: {}, 404: {}})
def ask_for_sound(sound: Rung, band: BandViewed, session: Database, store: StoreHere) -> RedirectResponse:
    """Ask for a way of hearing the band; its organiser and the band itself may."""
    if not band.is_own:
        raise HTTPException(403)
    enqueue_sound(session, store, band.stored, WAYS[sound])
    return RedirectResponse(f"{band.address}?sound={sound}#hear", status_code=303)


def _file_name(band: BandView, what: str) -> str:
    return f"{what}-{band.of.stored.slug}-{band.address.rsplit('/', 1)[1]}"
