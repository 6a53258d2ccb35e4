"""A band's own book: begun, opened by its link, added to, read from year to year, and erased."""

from typing import Annotated

import segno
from fastapi import APIRouter, File, Form, HTTPException, Path, Request, UploadFile
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from judging import __version__
from judging.errors import InputError, RuleError
from judging.store import (
    Store,
    StoredBook,
    begin_book,
    close_book,
    erase_book,
    erase_touch,
    hold_open,
    keep_touches,
    new_link_of_book,
    open_book,
    read_kept,
    recount_book,
    touch_in,
    touches_in,
)
from judging.striking.touches_file import write_touches
from judging.web.access import Database, Organiser, StoreHere, Visitor, VisitorHere
from judging.web.answers import disposition
from judging.web.book import (
    COOKIE,
    BookOpen,
    KeepForm,
    NameForm,
    book_page,
    counted_now,
    may_keep,
    read_file,
    remember_book,
    sheet_of,
    touch_of_band,
)
from judging.web.forms import form_of
from judging.web.pages import page
from judging.web.refusals import status_of
from judging.web.views import BandView, BandViewed
from judging.web.year_to_year import TouchOfYears

router = APIRouter()
of_band = APIRouter(prefix="/contests/{slug}/bands/{key}")

Number = Annotated[int, Path(ge=1, le=2**31)]


@router.get("/books")
def ask_what_to_call_it(visitor: Organiser) -> HTMLResponse:
    """Show the form for an empty book, such as for a band that competes at other services."""
    return _begin(visitor, "/books", {})


@router.post("/books", responses={403: {}, 422: {}})
def begin(
    visitor: Organiser, form: Annotated[NameForm, Form()], session: Database, store: StoreHere, request: Request
) -> HTMLResponse:
    """Begin an empty book, and show its link, this once."""
    try:
        book, token = begin_book(session, form.name)
    except InputError as error:
        return _begin(visitor, "/books", form.model_dump(), error)
    return _link_shown(book, token, hold_open(session, book), visitor, store, request)


@router.get("/books/{token}")
def ask_to_open(token: str, visitor: VisitorHere) -> HTMLResponse:
    """Ask before a book is opened by its link."""
    return page("book_open.html", viewer=visitor, token=token)


@router.post("/books/{token}", response_class=RedirectResponse, status_code=303, responses={409: {}})
def open_it(token: str, session: Database, store: StoreHere, request: Request) -> RedirectResponse:
    """Open a book by its link."""
    _, held = open_book(session, token)
    answer = RedirectResponse("/book", status_code=303)
    remember_book(answer, held, request, hours=store.settings.session_hours)
    return answer


@router.get("/book")
def read(book: BookOpen, session: Database, visitor: VisitorHere) -> HTMLResponse:
    """Show a book."""
    return _book(book, session, visitor)


@router.get("/book/touches.json", response_class=Response)
def whole(book: BookOpen, session: Database) -> Response:
    """Give the whole book as a file, for another service or for the band's own shelf."""
    kept = touches_in(session, book)
    if not kept:
        raise HTTPException(404, "There is nothing in this book yet.")
    return _file(write_touches([read_kept(one) for one in reversed(kept)]), "band-book")


@router.post("/book/touches", response_class=RedirectResponse, status_code=303, responses={422: {}})
def add_file(
    book: BookOpen, store: StoreHere, visitor: VisitorHere, touches: Annotated[UploadFile | None, File()] = None
) -> Response:
    """Add the touches of a file: all of them, or none where anything is wrong."""
    try:
        found = read_file(touches)  # counted before the store is held
    except InputError as error:
        with store.read() as session:
            return _book(book, session, visitor, error)
    with store.write() as session:
        keep_touches(session, book, found)
    return RedirectResponse("/book", status_code=303)


@router.get("/book/touches/{number}", responses={404: {}})
def one_touch(number: Number, book: BookOpen, session: Database, visitor: VisitorHere) -> HTMLResponse:
    """Show one touch of a book."""
    kept = touch_in(session, book, number)
    if kept is None:
        raise HTTPException(404)
    touch = read_kept(kept)
    shown = TouchOfYears(touch.day, touch.event, "", touch.figures, sheet_of(session, kept, visitor))
    return page(
        "book_touch.html",
        viewer=visitor,
        book=book,
        number=number,
        touch=shown,
        has_strikes=touch.strikes is not None,
    )


@router.get("/book/touches/{number}/touch.json", response_class=Response, responses={404: {}})
def touch_file(number: Number, book: BookOpen, session: Database) -> Response:
    """Give one touch of a book as a file."""
    kept = touch_in(session, book, number)
    if kept is None:
        raise HTTPException(404)
    return _file(kept.touch_json, f"touch-{kept.day}")


@router.post("/book/touches/{number}/erase", response_class=RedirectResponse, status_code=303, responses={409: {}})
def erase_one(number: Number, book: BookOpen, store: StoreHere) -> RedirectResponse:
    """Erase one touch of a book for good."""
    with store.write() as session:
        erase_touch(session, book, number)
    store.settle()
    return RedirectResponse("/book", status_code=303)


@router.get("/book/erase")
def ask_whether_to_erase(book: BookOpen, visitor: VisitorHere) -> HTMLResponse:
    """Say what would be erased, and ask whether it shall be."""
    return page("book_erase.html", viewer=visitor, book=book)


@router.post("/book/erase", response_class=RedirectResponse, status_code=303, responses={409: {}})
def erase_all(book: BookOpen, store: StoreHere) -> RedirectResponse:
    """Erase a book for good."""
    with store.write() as session:
        erase_book(session, book)
    store.settle()
    answer = RedirectResponse("/", status_code=303)
    answer.delete_cookie(COOKIE)
    return answer


@router.post("/book/recount", response_class=RedirectResponse, status_code=303, responses={409: {}})
def recount(book: BookOpen, store: StoreHere) -> RedirectResponse:
    """Count a book's touches again by this version, where their strike logs were kept."""
    with store.read() as session:
        counted = counted_now(session, book, version=__version__)
    with store.write() as session:
        recount_book(session, book, counted)
    return RedirectResponse("/book", status_code=303)


@router.post("/book/link", responses={409: {}})
def make_link_anew(
    book: BookOpen, session: Database, store: StoreHere, visitor: VisitorHere, request: Request
) -> HTMLResponse:
    """Make the book's link anew, and show it, this once; the old one is over."""
    token = new_link_of_book(session, book)
    return _link_shown(book, token, hold_open(session, book), visitor, store, request)


@router.post("/book/close", response_class=RedirectResponse, status_code=303)
def close(book: BookOpen, session: Database, request: Request) -> RedirectResponse:
    """Close the book in this browser."""
    del book  # its being here is the right
    close_book(session, request.cookies[COOKIE])
    answer = RedirectResponse("/", status_code=303)
    answer.delete_cookie(COOKIE)
    return answer


@of_band.get("/touch.json", response_class=Response, responses={404: {}})
def file_of_band(band: BandViewed, session: Database, strikes: str = "") -> Response:
    """Give a band's touch as a file that a book elsewhere takes."""
    touch = touch_of_band(band, session, with_strikes=strikes == "yes")
    return _file(write_touches([touch]), f"touch-{touch.day}")


@of_band.post("/book", response_class=RedirectResponse, status_code=303, responses={403: {}, 404: {}, 409: {}})
def keep(band: BandViewed, book: BookOpen, form: Annotated[KeepForm, Form()], session: Database) -> RedirectResponse:
    """Keep a band's touch in the book that is open here."""
    _refuse_others(band)
    keep_touches(session, book, [touch_of_band(band, session, with_strikes=form.strikes == "yes")], entry=band.stored)
    return RedirectResponse("/book", status_code=303)


@of_band.post("/book/begin", responses={403: {}, 404: {}, 409: {}, 422: {}})
def begin_with(
    band: BandViewed, form: Annotated[KeepForm, Form()], session: Database, store: StoreHere, request: Request
) -> HTMLResponse:
    """Begin a book with a band's touch, and show its link, this once."""
    _refuse_others(band)
    try:
        book, token = begin_book(session, form.name)
    except InputError as error:
        return _begin(band.of.visitor, f"{band.address}/book/begin", form.model_dump(), error)
    keep_touches(session, book, [touch_of_band(band, session, with_strikes=form.strikes == "yes")], entry=band.stored)
    return _link_shown(book, token, hold_open(session, book), band.of.visitor, store, request)


def _refuse_others(band: BandView) -> None:
    if not may_keep(band):
        raise HTTPException(403, "A touch is kept by the band that rang it, with its own personal link.")


def _begin(visitor: Visitor, action: str, typed: dict[str, str], error: InputError | None = None) -> HTMLResponse:
    return page(
        "book_begin.html",
        status=200 if error is None else status_of(error),
        viewer=visitor,
        action=action,
        form=form_of(typed, error=error, fields=("name",)),
    )


def _book(
    book: StoredBook, session: Database, visitor: Visitor, error: InputError | RuleError | None = None
) -> HTMLResponse:
    return page(
        "book.html",
        status=200 if error is None else status_of(error),
        viewer=visitor,
        book=book_page(session, book, visitor, version=__version__),
        form=form_of(
            hints={"touches": "A file from “For a book elsewhere” on a fault sheet, or a whole book’s."},
            error=error,
            fields=("touches",),
        ),
    )


def _link_shown(
    book: StoredBook, token: str, held: str, visitor: Visitor, store: Store, request: Request
) -> HTMLResponse:
    address = f"{request.base_url}books/{token}"
    square = segno.make(address, error="m", micro=False).svg_inline(border=0, omitsize=True)
    answer = page("book_link.html", viewer=visitor, book=book, address=address, square=square)
    answer.headers["cache-control"] = "no-store"
    remember_book(answer, held, request, hours=store.settings.session_hours)
    return answer


def _file(text: str, name: str) -> Response:
    headers = disposition("attachment", f"{name}.json")
    return Response(text, media_type="application/json", headers=headers)


router.include_router(of_band)
