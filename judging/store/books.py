"""A band's own book: its touches of many years, reached by a link that only the band has.

The link is used again and again, unlike a personal one, since nobody could give the band another; of it, as of the
sessions that it opens, only a hash is kept. The trail says that a book was begun, added to or erased, and never whose
it is or what was in it. What is erased is deleted here; `Store.settle` then takes it out of the database's files.
"""

import secrets
from collections.abc import Iterable
from datetime import date, datetime, timedelta

from sqlmodel import Session, col, delete, select

from judging.errors import InputError, RuleError
from judging.store.access import token_hash
from judging.store.audit import audit
from judging.store.book_tables import StoredBook, StoredBookSession, StoredBookTouch
from judging.store.columns import utc_now
from judging.store.settings import Settings
from judging.store.tables import StoredEntry
from judging.striking.touches_file import KeptTouch, read_touches, write_touches

_TOKEN_BYTES = 32

#: Touches that one book may hold: more than a band rings in twenty years of contests and practices worth keeping.
MOST_KEPT = 1000


def begin_book(session: Session, name: str) -> tuple[StoredBook, str]:
    """Begin a book.

    Parameters
    ----------
    session : Session
        A writing session.
    name : str
        What the band calls it.

    Returns
    -------
    tuple of StoredBook and str
        The book, and the token of its link, which can be shown only now.

    Raises
    ------
    InputError
        About ``name``.
    """
    name = " ".join(name.split())
    if not name or len(name) > 80 or not name.isprintable():
        raise InputError("name", "is empty, or longer than 80 letters; write what your band calls its book")
    token = secrets.token_urlsafe(_TOKEN_BYTES)
    book = StoredBook(token_sha256=token_hash(token), name=name)
    session.add(book)
    session.flush()
    _audit(session, book, "book begun")
    return book, token


def open_book(session: Session, token: str) -> tuple[StoredBook, str]:
    """Return a book, and the token of a session that holds it open, for the token of its link.

    Raises
    ------
    RuleError
        There is no such book.
    """
    book = session.exec(select(StoredBook).where(StoredBook.token_sha256 == token_hash(token))).first()
    if book is None:
        raise RuleError(
            "No book here has this link. Was it copied whole? The band may have made the link anew, or erased the book."
        )
    return book, hold_open(session, book)


def hold_open(session: Session, book: StoredBook) -> str:
    """Return the token of a new session that holds a book open; reading in one's own book leaves no trail."""
    token = secrets.token_urlsafe(_TOKEN_BYTES)
    session.add(StoredBookSession(token_sha256=token_hash(token), book_id=book.id))
    session.flush()
    return token


def book_held_open(
    session: Session, token: str, *, settings: Settings | None = None, now: datetime | None = None
) -> StoredBook | None:
    """Return the book that a session holds open; None where the session is unknown, closed or over."""
    since = (now or utc_now()) - timedelta(hours=(settings or Settings()).session_hours)
    return session.exec(
        select(StoredBook)
        .join(StoredBookSession, col(StoredBookSession.book_id) == col(StoredBook.id))
        .where(StoredBookSession.token_sha256 == token_hash(token), StoredBookSession.created_at > since)
    ).first()


def close_book(session: Session, token: str) -> None:
    """End the session that holds a book open."""
    session.exec(delete(StoredBookSession).where(col(StoredBookSession.token_sha256) == token_hash(token)))


def new_link_of_book(session: Session, book: StoredBook) -> str:
    """Return the token of a new link; the old one, and every session that holds the book open, are over."""
    here = _still(session, book)
    token = secrets.token_urlsafe(_TOKEN_BYTES)
    here.token_sha256 = token_hash(token)
    session.add(here)
    session.exec(delete(StoredBookSession).where(col(StoredBookSession.book_id) == here.id))
    _audit(session, here, "link of a book made anew")
    return token


def keep_touches(
    session: Session, book: StoredBook, touches: Iterable[KeptTouch], *, entry: StoredEntry | None = None
) -> int:
    """Keep touches in a book; one that is there already is not kept twice, and one that was heard anew is put right.

    Parameters
    ----------
    session : Session
        A writing session.
    book : StoredBook
        Which.
    touches : iterable of KeptTouch
        Whole and checked.
    entry : StoredEntry or None
        Whose fault sheet they are from, where that is on this service.

    Returns
    -------
    int
        How many are new.

    Raises
    ------
    RuleError
        The book is full, or was erased meanwhile.
    """
    here = _still(session, book)
    there = {kept.key: kept for kept in touches_in(session, here)}
    last = max((kept.number for kept in there.values()), default=0)
    before = len(there)
    for touch in touches:
        same = there.get(touch.key) or _from_entry(there.values(), entry)
        if same is None:
            last += 1
            same = StoredBookTouch(book_id=here.id, number=last, day=touch.day, key=touch.key, touch_json="")
        same.entry_id = entry.id if entry else same.entry_id
        session.add(same)
        is_known = same.key == touch.key and same.touch_json != ""
        if is_known and (touch.strikes is None or read_kept(same).strikes is not None):
            continue  # nothing more is known of it than before
        there.pop(same.key, None)
        there[touch.key] = same
        same.key, same.day, same.touch_json = touch.key, touch.day, write_touches([touch])
    if len(there) > MOST_KEPT:
        raise RuleError(
            f"A book holds {MOST_KEPT} touches, and this would make {len(there)}; erase some, or begin another."
        )
    session.flush()
    _audit(session, here, "touches kept in a book")
    return len(there) - before


def touches_in(session: Session, book: StoredBook) -> tuple[StoredBookTouch, ...]:
    """Return the touches of a book, the newest first."""
    wanted = select(StoredBookTouch).where(StoredBookTouch.book_id == book.id)
    newest_first = wanted.order_by(col(StoredBookTouch.day).desc(), col(StoredBookTouch.number).desc())
    return tuple(session.exec(newest_first).all())


def touch_in(session: Session, book: StoredBook, number: int) -> StoredBookTouch | None:
    """Return one touch of a book, if it has it."""
    wanted = select(StoredBookTouch).where(StoredBookTouch.book_id == book.id, StoredBookTouch.number == number)
    return session.exec(wanted).first()


def read_kept(kept: StoredBookTouch) -> KeptTouch:
    """Return a touch as it was kept, without counting it again."""
    return read_touches(kept.touch_json, name="the book", today=date.max)[0]


def recount_book(session: Session, book: StoredBook, counted: Iterable[tuple[int, KeptTouch]]) -> None:
    """Put figures that were counted again in place of older ones; by number of the touch."""
    here = _still(session, book)
    keys = {kept.key for kept in touches_in(session, here)}
    for number, touch in counted:
        kept = touch_in(session, here, number)
        if kept is not None:  # it may have been erased meanwhile
            kept.touch_json = write_touches([touch])
            kept.key = kept.key if touch.key in keys else touch.key
            keys.add(kept.key)
            session.add(kept)
    session.flush()
    _audit(session, here, "a book counted again")


def erase_touch(session: Session, book: StoredBook, number: int) -> None:
    """Delete one touch of a book; twice does no harm."""
    kept = touch_in(session, _still(session, book), number)
    if kept is None:
        return
    session.delete(kept)
    session.flush()
    _audit(session, book, "a touch erased from a book")


def erase_book(session: Session, book: StoredBook) -> None:
    """Delete a whole book, its link and its sessions."""
    here = _still(session, book)
    for of in (StoredBookTouch, StoredBookSession):
        session.exec(delete(of).where(col(of.book_id) == here.id))
    session.delete(here)
    session.flush()
    _audit(session, book, "book erased")


def _from_entry(kept: Iterable[StoredBookTouch], entry: StoredEntry | None) -> StoredBookTouch | None:
    """Return what was kept from an entry's sheet before, when it may have been heard otherwise."""
    return None if entry is None else next((one for one in kept if one.entry_id == entry.id), None)


def _still(session: Session, book: StoredBook) -> StoredBook:
    """Return a book as it is now; it may have been erased since it was looked up."""
    here = session.get(StoredBook, book.id)
    if here is None or here.token_sha256 != book.token_sha256:
        raise RuleError("This book was erased meanwhile, or its link was made anew; nothing was changed.")
    return here


def _audit(session: Session, book: StoredBook, what: str) -> None:
    audit(session, who="the holder of a book", what=what, about=f"book {book.id}")
