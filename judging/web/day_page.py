"""One recording of the whole day: given, cut by the steward's times, looked at, moved, a recording of each band made.

Bands that have not agreed to be recorded are left out, and the day's recording is erased once it is cut.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from fastapi.responses import HTMLResponse
from sqlmodel import Session

from judging.contest.day_file import Cut, DayCuts, NotedTime, clock_text, read_clock
from judging.errors import InputError, RuleError
from judging.jobs.day_cutting import cuts_from_json, enqueue_cutting, enqueue_finding, latest_of_day
from judging.papers.drawings.svg import drawing, element, text
from judging.store import (
    StoredContest,
    StoredDayRecording,
    StoredEntry,
    StoredJob,
    day_recording_of,
    entries_of,
    keeps_recordings,
    order_of,
)
from judging.web.access import Visitor
from judging.web.forms import form_of
from judging.web.pages import page
from judging.web.refusals import status_of

HINTS = {
    "recording": "WAV, FLAC, MP3, Ogg, Opus, M4A or WebM, up to four hours; a longer day in two, one after the other.",
    "began": "Only where the times fit in more than one way: when the recording began, by the same clock.",
}
#: Width of the drawn day.
_WIDTH, _HEIGHT = 960.0, 74.0


@dataclass(frozen=True, slots=True)
class DayBand:
    """One band of the day: its number and name, its field names, what stands in them, and whether it may be cut."""

    number: int
    name: str
    key: str
    start: str
    stop: str
    begin: str
    end: str
    may: bool


def day_page(
    session: Session,
    contest: StoredContest,
    visitor: Visitor,
    *,
    typed: Mapping[str, str] | None = None,
    error: InputError | RuleError | None = None,
) -> HTMLResponse:
    """Return the page.

    Parameters
    ----------
    session : Session
        A reading session will do.
    contest : StoredContest
        Which the visitor organises.
    visitor : Visitor
        The organiser.
    typed : mapping of str to str or None
        By field: ``start-3`` and ``stop-3``, or ``begin-3`` and ``end-3``, for the third band.
    error : InputError or RuleError or None
        What is wrong.

    Returns
    -------
    HTMLResponse
    """
    day = day_recording_of(session, contest.id)
    found = cuts_from_json(day.cuts_json) if day is not None and day.cuts_json else None
    bands = bands_of(session, contest, found, typed or {})
    fields = (
        "recording",
        "began",
        *(f"{name}-{b.number}" for b in bands for name in ("start", "stop", "begin", "end")),
    )
    return page(
        "day.html",
        status=200 if error is None else status_of(error),
        viewer=visitor,
        contest=contest,
        address=f"/contests/{contest.slug}",
        day=day,
        job=None if day is None else latest_of_day(session, day),
        found=found,
        bands=bands,
        drawn="" if found is None else drawn_day(found, {band.key: band.number for band in bands}),
        form=form_of(typed, hints=HINTS, error=error, fields=fields),
    )


def bands_of(
    session: Session, contest: StoredContest, found: DayCuts | None, typed: Mapping[str, str]
) -> tuple[DayBand, ...]:
    """Return the bands in the order of ringing, with the times noted of each and its cut."""
    entries = {entry.key: entry for entry in entries_of(session, contest.id)}
    cuts = {cut.entry: cut for cut in found.cuts} if found else {}
    bands = []
    for number, key in enumerate(order_of(contest), start=1):
        entry = entries[key]
        cut = cuts.get(key)
        bands.append(
            DayBand(
                number,
                entry.band,
                key,
                typed.get(f"start-{number}", _clock(entry.began_at)),
                typed.get(f"stop-{number}", _clock(entry.ended_at)),
                typed.get(f"begin-{number}", clock_text(cut.begin_s) if cut else ""),
                typed.get(f"end-{number}", clock_text(cut.end_s) if cut else ""),
                may=_may(entry),
            )
        )
    return tuple(bands)


def ask_to_find(
    session: Session, contest: StoredContest, day: StoredDayRecording, typed: Mapping[str, str]
) -> StoredJob:
    """Ask for the cuts to be found.

    Raises
    ------
    InputError
        A time is none, or no band has both; ``where`` is the field.
    """
    noted = []
    for band in bands_of(session, contest, None, typed):
        if band.start.strip() and band.stop.strip():
            start_s = read_clock(band.start.strip(), f"start-{band.number}")
            stop_s = read_clock(band.stop.strip(), f"stop-{band.number}")
            if stop_s <= start_s:
                raise InputError(f"stop-{band.number}", f"is not after the start, {band.start}")
            noted.append(NotedTime(band.key, start_s, stop_s))
    if not noted:
        raise InputError("form", "no band has both a start and a stop")
    began = typed.get("began", "").strip()
    return enqueue_finding(session, day, noted, read_clock(began, "began") if began else None)


def ask_to_cut(
    session: Session, contest: StoredContest, day: StoredDayRecording, typed: Mapping[str, str]
) -> StoredJob:
    """Ask for the recording of each band that agreed, as its cut stands in the form.

    Raises
    ------
    InputError
        A time is none; ``where`` is the field.
    RuleError
        Nothing is left to be cut.
    """
    cuts = []
    for band in bands_of(session, contest, None, typed):
        if band.may and band.begin.strip() and band.end.strip():
            begin_s = read_clock(band.begin.strip(), f"begin-{band.number}")
            end_s = read_clock(band.end.strip(), f"end-{band.number}")
            if end_s <= begin_s:
                raise InputError(f"end-{band.number}", f"is not after the beginning, {band.begin}")
            cuts.append(Cut(band.key, begin_s, end_s))
    if not cuts:
        raise RuleError("No band that agreed to be recorded has a cut; note the consent of the bands first.")
    return enqueue_cutting(session, day, cuts)


def drawn_day(found: DayCuts, numbers: Mapping[str, int]) -> str:
    """Return the day as a strip: a block for each cut with its band's number, a thin one for all other ringing."""
    others = [*found.unclaimed, *(span for cut in found.cuts for span in cut.left_out)]
    last_s = max([cut.end_s for cut in found.cuts] + [end_s for _, end_s in others])
    scale = _WIDTH / last_s
    shapes = [
        element(
            "rect", x=scale * a, y=34, width=max(1.0, scale * (b - a)), height=12, fill="currentColor", opacity=0.35
        )
        for a, b in others
    ]
    for cut in found.cuts:
        wide = max(2.0, scale * (cut.end_s - cut.begin_s))
        shapes.append(element("rect", x=scale * cut.begin_s, y=22, width=wide, height=36, fill="currentColor"))
        shapes.append(text(scale * cut.begin_s + wide / 2, 16, str(numbers[cut.entry]), size=13, anchor="middle"))
    shapes.append(text(0, 72, clock_text(0), size=11))
    shapes.append(text(_WIDTH, 72, clock_text(last_s), size=11, anchor="end"))
    return drawing(
        _WIDTH,
        _HEIGHT,
        "".join(shapes),
        title="The day, from the beginning of the recording",
        description="High blocks are touches by their number, low ones other ringing; the table has the times.",
        name="day",
    )


def _may(entry: StoredEntry) -> bool:
    return keeps_recordings(entry) and not entry.withdrawn


def _clock(moment: datetime | None) -> str:
    return "" if moment is None else f"{moment.astimezone():%H:%M:%S}"
