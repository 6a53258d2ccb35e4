"""One band's ringing: its fault sheet to read and hear, and what it may take home."""

import json
from typing import Annotated, Literal

import segno
from fastapi import APIRouter, Form, HTTPException, Query, Request, Response
from fastapi.responses import FileResponse, HTMLResponse, JSONResponse, RedirectResponse
from pydantic import BaseModel, ConfigDict
from sqlmodel import Session

from judging.jobs import enqueue_sound, sound_path
from judging.papers import FaultSheet, ear_sheet_pdf, fault_sheet_setting
from judging.papers.drawings import habits_svg
from judging.store import StoredStrikeLog, is_sheet_open, make_link, open_sheet
from judging.store.audit import head
from judging.striking import blows_csv, count_document, log_for_spreadsheets, midi_from_log, read_log
from judging.web.access import Database, StoreHere
from judging.web.answers import csv, disposition, pdf
from judging.web.book import BookIfOpen, may_keep
from judging.web.contest_page import head_of, papers_of
from judging.web.fault_page import blow_at, fault_sheet_of, part_of
from judging.web.long_paper import Asked, Wanted, ask_for_paper, paper_or_wait
from judging.web.media import media_type_of
from judging.web.pages import page
from judging.web.practice import is_practice, minutes_meant
from judging.web.pull_off_table import on_average, pull_offs_of
from judging.web.sounds import log_of, offered, playing_of, recording_of, sounds_of, way_and_bells
from judging.web.views import BandView, BandViewed

router = APIRouter(prefix="/contests/{slug}/bands/{key}")

At = Annotated[float | None, Query(ge=0, le=100_000, allow_inf_nan=False)]
Heard = Literal["", "recording", "steady", "repaired", "as-rung", "own-steady", "own-repaired"]
Rung = Literal["steady", "repaired", "as-rung", "own-steady", "own-repaired"]


class SharingForm(BaseModel):
    """Whether everybody may open a fault sheet."""

    model_config = ConfigDict(extra="forbid")

    open: Literal["yes", "no"]


Part = Annotated[int | None, Query(ge=1, le=10_000)]


@router.get("", response_class=HTMLResponse)
def fault_sheet(
    band: BandViewed,
    session: Database,
    store: StoreHere,
    book: BookIfOpen,
    at: At = None,
    part: Part = None,
    sound: Heard = "",
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
    sheet = _sheet(band, log)
    sounds = sounds_of(band, session, store, log)
    return page(
        "fault_sheet.html",
        viewer=band.of.visitor,
        contest=head_of(band.of.judged),
        band=band,
        sheet=sheet,
        part=part_of(band.count, sheet, number=part, at_s=at),
        habits_narrow=habits_svg(band.count, is_narrow=True),
        pull_offs=pull_offs_of(band.count),
        pull_offs_on_average=on_average(band.count),
        sounds=offered(sounds, may_ask=band.is_own),
        is_waiting=bool(sound) and any(one.is_coming for one in sounds if one.key == sound),
        playing=playing_of(sounds, sound),
        sound=sound,
        start_is_sure=log.start_is_sure,
        is_open=is_sheet_open(session, band.stored),
        may_keep=may_keep(band),
        is_practice=is_practice(band.of.stored),
        book=book,
        at_s=at,
        here=blow_at(sheet, at),
    )


@router.get("/count.json", response_class=JSONResponse, responses={404: {}})
def count(band: BandViewed) -> JSONResponse:
    """Give the machine's count as `evenblow count --json` prints it."""
    headers = disposition("attachment", f"{_file_name(band, 'count')}.json")
    return JSONResponse(count_document(band.count), headers=headers)


@router.get("/blows.csv", response_class=Response, responses={404: {}})
def blows(band: BandViewed) -> Response:
    """Give every blow with its deviation, its charge and its fault, as `evenblow count --csv` writes them."""
    return csv(blows_csv(band.count), _file_name(band, "blows"))


@router.get("/strike-log.csv", response_class=Response, responses={404: {}})
def strike_log(band: BandViewed, session: Database) -> Response:
    """Give the strike log that the count was made from."""
    return csv(log_for_spreadsheets(log_of(band, session).csv), _file_name(band, "strikes"))


@router.get("/strike-log.mid", response_class=Response, responses={404: {}})
def strike_log_midi(band: BandViewed, session: Database) -> Response:
    """Give the strike log as notes, the treble the highest."""
    kept = log_of(band, session)
    piece = band.count.rung.piece
    log = read_log(kept.csv.encode(), name="strike log", bells=piece.bells)
    headers = disposition("attachment", f"{_file_name(band, 'strikes')}.mid")
    return Response(midi_from_log(log, piece.bells), media_type="audio/midi", headers=headers)


@router.post("/sharing", response_class=RedirectResponse, status_code=303, responses={403: {}, 404: {}, 409: {}})
def share(band: BandViewed, form: Annotated[SharingForm, Form()], session: Database) -> RedirectResponse:
    """Open a fault sheet to everybody, or keep it to the band: nobody's choice but the band's."""
    if not band.is_the_band:
        raise HTTPException(403)
    open_sheet(session, band.stored, is_open=form.open == "yes", who=band.of.visitor.who)
    return RedirectResponse(f"{band.address}#share", status_code=303)


@router.post("/links", response_class=HTMLResponse, responses={403: {}, 404: {}})
def link_for_another(band: BandViewed, session: Database, store: StoreHere, request: Request) -> HTMLResponse:
    """Make a personal link with which one more of the band sees what the band sees, and show it, this once."""
    if not band.is_the_band:
        raise HTTPException(403)
    token = make_link(
        session,
        role="band",
        who=band.of.visitor.who,
        contest_id=band.of.stored.id,
        entry_id=band.stored.id,
        note="from the band itself",
        settings=store.settings,
    )
    address = f"{request.base_url}links/{token}"
    square = segno.make(address, error="m", micro=False).svg_inline(border=0, omitsize=True)
    return page(
        "band_link.html",
        viewer=band.of.visitor,
        contest=head_of(band.of.judged),
        band=band,
        address=address,
        square=square,
    )


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


def _sheet(band: BandView, log: StoredStrikeLog, *, audit_head: str = "") -> FaultSheet:
    of = band.of
    return fault_sheet_of(
        of.judged,
        band.entry,
        of.names,
        of.shown,
        audit_head=audit_head,
        notes=json.loads(log.notes_json),
        meant=minutes_meant(of.stored),
    )


def _wanted(band: BandView, session: Session) -> Wanted:
    sheet = _sheet(band, log_of(band, session), audit_head=str(head(session)))
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
    """Give the band's ringing in one of the ways; on its own bells as long as there is the recording they are from."""
    log = log_of(band, session)
    way, bells_of = way_and_bells(sound, log, session)
    path = sound_path(store, log, way, band.of.stored.rules_text, bells_of=bells_of)
    if not path.is_file():
        raise HTTPException(404, "This has not been rung yet.")
    return FileResponse(path, media_type="audio/flac")


@router.post("/sounds/{sound}", response_class=RedirectResponse, status_code=303, responses={403: {}, 404: {}})
def ask_for_sound(sound: Rung, band: BandViewed, session: Database, store: StoreHere) -> RedirectResponse:
    """Ask for a way of hearing the band; its organiser and the band itself may."""
    if not band.is_own:
        raise HTTPException(403)
    way, bells_of = way_and_bells(sound, log_of(band, session), session)
    enqueue_sound(session, store, band.stored, way, bells_of=bells_of)
    return RedirectResponse(f"{band.address}?sound={sound}#hear", status_code=303)


def _file_name(band: BandView, what: str) -> str:
    return f"{what}-{band.of.stored.slug}-{band.address.rsplit('/', 1)[1]}"
