"""What is heard of a band: the page that takes recordings and strike logs, and what is kept of them."""

import json
from collections.abc import Mapping
from dataclasses import dataclass

from fastapi import UploadFile
from fastapi.responses import HTMLResponse
from sqlmodel import Session

from judging.errors import InputError, RuleError
from judging.jobs import enqueue_listening, jobs_of
from judging.store import (
    StoredContest,
    StoredEntry,
    StoredJob,
    StoredStrikeLog,
    StoredTower,
    add_recording,
    hearing_of,
    place_of,
    recordings_of,
    set_consent,
    strike_log_of,
    towers,
)
from judging.store.hearings import stretches_of
from judging.store.publications import refuse_if_final
from judging.web.access import Visitor, entry_address
from judging.web.forms import form_of
from judging.web.media import media_type
from judging.web.pages import page
from judging.web.receiving import Received
from judging.web.refusals import status_of
from judging.web.second_recorder import second_recorder_said

#: Fields of the forms.
FIELDS = ("recording", "first_blow_s", "second", "agreed", "log", "from_s", "to_s", "tower")

#: No time in a recording is later.
LONGEST_DAY_S = 86_400.0

HINTS = {
    "recording": "WAV, FLAC, MP3, Ogg, Opus, M4A or WebM, from any phone or recorder; one band’s whole touch.",
    "first_blow_s": "In seconds from the start of the recording.",
    "second": "It is held against the first, to say how far the machine repeats itself, and never changes a count.",
    "agreed": "A recording holds voices. Without the band’s consent it is judged by ear alone, at no disadvantage.",
    "from_s": "In seconds from the start of the recording.",
    "log": "A CSV with the columns time_s and bell, or a Standard MIDI File.",
}


def check_recording(head: bytes) -> None:
    """Refuse a file that does not begin as a recording does.

    Raises
    ------
    InputError
        About the field ``recording``.
    """
    if media_type(head) is None:
        raise InputError(
            "recording",
            "does not begin like any recording that can be read; is it a recording, and was it saved to the end? "
            "A strike log goes into the other form",
        )


@dataclass(frozen=True, slots=True)
class Given:
    """A recording as it was given with its form.

    Parameters
    ----------
    received : Received
        The form, its file kept.
    first_blow_s : float or None
        When the first blow is, where somebody says.
    """

    received: Received
    first_blow_s: float | None


def read_given(received: Received) -> Given:
    """Return what a recording's form holds.

    Raises
    ------
    InputError
        No file was chosen, or the time is no time.
    RuleError
        Nobody says that the band agreed.
    """
    if received.kept is None:
        raise InputError("recording", "no file is chosen")
    return Given(received, _seconds("first_blow_s", received.fields.get("first_blow_s", "")))


def read_part(fields: Mapping[str, str]) -> tuple[float, float]:
    """Return the part of a recording that a form names.

    Raises
    ------
    InputError
        About ``from_s`` or ``to_s``: it is missing, no time, or not after the other.
    """
    begin_s, end_s = (_seconds(field, fields.get(field, "")) for field in ("from_s", "to_s"))
    if begin_s is None or end_s is None:
        raise InputError("from_s" if begin_s is None else "to_s", "is empty; it is a number of seconds, such as 75")
    if begin_s >= end_s:
        raise InputError("to_s", f"{end_s:g} s is not after {begin_s:g} s")
    return begin_s, end_s


def _seconds(field: str, text: str) -> float | None:
    """Return a time in a recording; None where none is typed."""
    text = text.strip().replace(",", ".")
    try:
        time_s = float(text) if text else None
    except ValueError:
        raise InputError(field, f'"{text[:40]}" is no number of seconds, such as 3.2') from None
    if time_s is not None and not 0 <= time_s <= LONGEST_DAY_S:
        raise InputError(field, f"{time_s:g} is no time within a recording of a day")
    return time_s


def read_log_file(log: UploadFile, most_bytes: int) -> bytes:
    """Return the bytes of a strike log that was sent.

    Raises
    ------
    InputError
        About the field ``log``: none was chosen, or it is larger than a log can be.
    """
    if not log.filename:
        raise InputError("log", "no file is chosen")
    data = log.file.read(most_bytes + 1)
    if len(data) > most_bytes:
        raise InputError(
            "log", f"is larger than {most_bytes / 1e6:,.0f} MB; is it a recording? That goes into the other form"
        )
    return data


def keep_recording(session: Session, entry: StoredEntry, given: Given, *, who: str) -> StoredJob:
    """Keep a recording of an entry and ask for it to be heard, in one transaction.

    Parameters
    ----------
    session : Session
        A writing session.
    entry : StoredEntry
        Whose ringing it is.
    given : Given
        From `read_given`.
    who : str
        Who gave it.

    Returns
    -------
    StoredJob
        That hears it.

    Raises
    ------
    RuleError
        The band has not agreed, or has no test piece; or there is no recording that a second could be held against.
    """
    entry = session.get_one(StoredEntry, entry.id)
    refuse_if_final(session.get_one(StoredContest, entry.contest_id))
    if given.received.fields.get("agreed") == "yes":
        set_consent(session, entry, "given", who=who)
    if given.received.kept is None:
        raise InputError("recording", "no file is chosen")
    recording = add_recording(
        session,
        entry,
        given.received.kept,
        name=given.received.file_name,
        who=who,
        is_second=given.received.fields.get("second") == "yes",
    )
    return enqueue_listening(session, entry, recording, first_blow_s=given.first_blow_s)


def towers_to_keep_with(session: Session, log: StoredStrikeLog) -> list[StoredTower]:
    """Return the towers with which the voices learnt from a recording can be kept, that where it was rung first."""
    hearing = hearing_of(session, log)
    if hearing is None or not hearing.learnt:
        return []
    bells = len(json.loads(hearing.clarity_json))
    entry = session.get_one(StoredEntry, log.entry_id)
    place = place_of(session, entry.contest_id, bells)
    fitting = [tower for tower in towers(session) if tower.bells == bells]
    return sorted(fitting, key=lambda tower: place is None or tower.id != place.tower_id)


def evidence_page(
    session: Session,
    entry: StoredEntry,
    visitor: Visitor,
    *,
    typed: Mapping[str, str] | None = None,
    error: InputError | RuleError | None = None,
) -> HTMLResponse:
    """Return the page, with what was typed and what is wrong with it.

    Parameters
    ----------
    session : Session
        A reading session will do.
    entry : StoredEntry
        Of a contest that the visitor organises, so that its name is theirs to see.
    visitor : Visitor
        The organiser.
    typed : mapping of str to str or None
        By field.
    error : InputError or RuleError or None
        What is wrong.

    Returns
    -------
    HTMLResponse
        422 or 409 where something is wrong.
    """
    contest = session.get_one(StoredContest, entry.contest_id)
    entry_id = entry.id or 0
    log = strike_log_of(session, entry_id)
    hearing = hearing_of(session, log) if log is not None else None
    return page(
        "evidence.html",
        status=200 if error is None else status_of(error),
        viewer=visitor,
        contest=contest,
        entry=entry,
        address=f"/contests/{contest.slug}/bands/{entry_address(contest, entry)}",
        form=form_of(typed, hints=HINTS, error=error, fields=FIELDS),
        recordings=recordings_of(session, entry_id),
        second=recordings_of(session, entry_id, is_second=True),
        log=log,
        hearing=hearing,
        towers=towers_to_keep_with(session, log) if visitor.runs_the_service and log is not None else [],
        beside=second_recorder_said(session, entry),
        stretches=stretches_of(hearing),
        stretch_is_sure=hearing is None or hearing.segment_is_sure,
        jobs=[job for job in jobs_of(session, entry_id) if job.kind == "listen"],
    )
