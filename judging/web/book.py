"""A band's own book in the browser: who holds one open, what of a fault sheet may go into it, and its pages' values.

A book has a cookie of its own, so that the band that keeps a touch is at once the band of the contest, or the laptop of
the practice night, and the holder of the book.
"""

from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Annotated

from fastapi import Depends, HTTPException, Request, Response, UploadFile
from pydantic import BaseModel, ConfigDict, Field
from sqlmodel import Session

from judging.contest import Phase, read_rules
from judging.errors import InputError
from judging.store import (
    StoredBook,
    StoredBookTouch,
    StoredContest,
    StoredEntry,
    book_held_open,
    is_sheet_open,
    piece_of,
    read_kept,
    strike_log_of,
    touches_in,
    was_final,
)
from judging.striking import read_log
from judging.striking.touch_figures import figures_of_log
from judging.striking.touches_file import KeptTouch, Strikes, read_touches, recounted
from judging.web.access import StoreHere, Visitor, entry_address, viewer_of
from judging.web.practice import is_practice
from judging.web.showing import shows_sheet
from judging.web.sounds import log_of
from judging.web.views import BandView
from judging.web.year_to_year import OnBells, TouchOfYears, by_bells

COOKIE = "evenblow_book"

#: Larger than 300 touches of a contest's length with their strike logs.
MOST_FILE_BYTES = 11 * 1024 * 1024


class NameForm(BaseModel):
    """What a new book is called."""

    model_config = ConfigDict(extra="forbid")

    name: str = Field(default="", max_length=200)


class KeepForm(BaseModel):
    """A touch to be kept: with its strike log or without; the name is for a new book."""

    model_config = ConfigDict(extra="forbid")

    name: str = Field(default="", max_length=200)
    strikes: str = Field(default="", max_length=3)


def book_if_open(request: Request, store: StoreHere) -> StoredBook | None:
    """Return the book that is open in this browser, if one is."""
    token = request.cookies.get(COOKIE, "")
    if not token:
        return None
    with store.read() as session:
        return book_held_open(session, token, settings=store.settings)


BookIfOpen = Annotated[StoredBook | None, Depends(book_if_open)]


def book_open(book: BookIfOpen) -> StoredBook:
    """Return the book that is open in this browser; refuse where none is."""
    if book is None:
        raise HTTPException(403, "No book is open here; open yours with its link, which only your band has.")
    return book


BookOpen = Annotated[StoredBook, Depends(book_open)]


def remember_book(answer: Response, token: str, request: Request, *, hours: int) -> None:
    """Give a browser the session that holds a book open, as safely as its other one."""
    answer.set_cookie(
        COOKIE, token, max_age=hours * 3600, httponly=True, samesite="lax", secure=request.url.scheme == "https"
    )


def today() -> date:
    """Return today, where the service is."""
    return datetime.now(UTC).astimezone().date()


def may_keep(band: BandView) -> bool:
    """Whether a touch is the visitor's to keep: the band's own, or one of this laptop's practice nights."""
    return band.is_the_band or (is_practice(band.of.stored) and band.of.is_run)


def touch_of_band(band: BandView, session: Session, *, with_strikes: bool) -> KeptTouch:
    """Return a band's touch as a book keeps it, counted under the usual lines.

    Parameters
    ----------
    band : BandView
        Whose sheet the visitor may open.
    session : Session
        A reading session will do.
    with_strikes : bool
        Whether piece and strike log go with it.

    Returns
    -------
    KeptTouch
    """
    stored, piece_file = log_of(band, session), piece_of(session, band.stored)
    piece = band.of.judged.day.pieces[piece_file.key]
    log = read_log(stored.csv.encode(), name="strike log", bells=piece.bells)
    contest = band.of.stored
    return KeptTouch(
        day=band.of.judged.rules.date or contest.created_at.date(),
        event="Practice" if is_practice(contest) else contest.title[:200],
        figures=figures_of_log(log, piece, name="strike log"),
        strikes=Strikes(piece_file.file_name, piece_file.text, stored.csv) if with_strikes else None,
    )


def read_file(file: UploadFile | None) -> tuple[KeptTouch, ...]:
    """Return the touches of a file that was sent, counted again where they have a strike log.

    Raises
    ------
    InputError
        About ``touches``: none was chosen, or what is wrong with it and where.
    """
    if file is None or not file.filename:
        raise InputError("touches", "no file is chosen")
    data = file.file.read(MOST_FILE_BYTES + 1)
    if len(data) > MOST_FILE_BYTES:
        raise InputError("touches", f"is larger than {MOST_FILE_BYTES / 1e6:.0f} MB; is it a recording?")
    try:
        found = read_touches(data.decode(), name=file.filename[:80], today=today())
        return tuple(
            recounted(touch, name=f"{file.filename[:80]}, touch {number}") for number, touch in enumerate(found, 1)
        )
    except UnicodeDecodeError:
        raise InputError("touches", "is no text; take the file as it was downloaded from a fault sheet") from None
    except InputError as error:
        raise InputError("touches", f"in {error}") from error


@dataclass(frozen=True, slots=True)
class BookPage:
    """What a book shows: its touches by number of bells, and how many could be counted again by this version."""

    name: str
    groups: tuple[OnBells, ...]
    touches: int
    older: int


def book_page(session: Session, book: StoredBook, visitor: Visitor, *, version: str) -> BookPage:
    """Return what a book shows to a visitor, whose other rights say which fault sheets are linked."""
    kept = [(one, read_kept(one)) for one in touches_in(session, book)]
    shown = [
        TouchOfYears(
            when=touch.day,
            name=touch.event,
            address=f"/book/touches/{one.number}",
            figures=touch.figures,
            sheet=sheet_of(session, one, visitor),
        )
        for one, touch in reversed(kept)
    ]
    older = sum(touch.strikes is not None and touch.figures.version != version for _, touch in kept)
    return BookPage(book.name, by_bells(shown), len(kept), older)


def sheet_of(session: Session, kept: StoredBookTouch, visitor: Visitor) -> str:
    """Return the address of the fault sheet that a touch is from, where this visitor may still open it; else empty."""
    entry = session.get(StoredEntry, kept.entry_id) if kept.entry_id is not None else None
    if entry is None or strike_log_of(session, entry.id or 0) is None:
        return ""
    contest = session.get_one(StoredContest, entry.contest_id)
    final = was_final(session, contest)
    viewer = viewer_of(visitor, contest, session)
    public = read_rules(contest.rules_text, name="rules.toml").public
    is_out = contest.phase == Phase.FINAL or final
    may_see = shows_sheet(entry.key, viewer, Phase(contest.phase), public, was_final=final)
    if not (may_see or (is_out and is_sheet_open(session, entry))):
        return ""
    return f"/contests/{contest.slug}/bands/{entry_address(contest, entry)}"


def counted_now(session: Session, book: StoredBook, *, version: str) -> list[tuple[int, KeptTouch]]:
    """Return the touches of a book that have a strike log and were counted by another version, counted by this one."""
    kept = [(one.number, read_kept(one)) for one in touches_in(session, book)]
    return [
        (number, recounted(touch, name=f"the touch of {touch.day}"))
        for number, touch in kept
        if touch.strikes is not None and touch.figures.version != version
    ]
