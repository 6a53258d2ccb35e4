"""The tables of bands' own books: touches kept from year to year, reached by a link that only the band has.

They are the band's: no page of an organiser leads to them, and what the band erases is deleted, row and bytes.
"""

from datetime import date, datetime

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field

from judging.store.columns import Base, utc_now


class StoredBook(Base, table=True):
    """One band's book; only the hash of its link's token is kept."""

    __tablename__ = "book"
    __table_args__ = (
        CheckConstraint("length(token_sha256) = 64", name="token"),
        CheckConstraint("length(name) BETWEEN 1 AND 80", name="name"),
    )

    id: int = Field(default=None, primary_key=True)
    token_sha256: str = Field(unique=True)
    name: str = Field(description="What the band calls it")
    begun_at: datetime = Field(default_factory=utc_now)


class StoredBookTouch(Base, table=True):
    """One touch of a book: a copy of its figures, and its strike log where the band wanted it kept."""

    __tablename__ = "book_touch"
    __table_args__ = (
        UniqueConstraint("book_id", "number"),
        UniqueConstraint("book_id", "key"),
        CheckConstraint("number >= 1", name="number"),
    )

    id: int = Field(default=None, primary_key=True)
    book_id: int = Field(foreign_key="book.id")
    number: int = Field(description="In this book, in the order of being kept, from 1")
    day: date = Field(description="When it was rung")
    key: str = Field(description="The same for the same touch")
    touch_json: str = Field(description="The touch as `judging.striking.touches_file` writes it")
    entry_id: int | None = Field(default=None, foreign_key="entry.id", description="Whose sheet it is from, if any")
    kept_at: datetime = Field(default_factory=utc_now)


class StoredBookSession(Base, table=True):
    """A book that is open in a browser; only the hash of the session's token is kept."""

    __tablename__ = "book_session"
    __table_args__ = (CheckConstraint("length(token_sha256) = 64", name="token"),)

    id: int = Field(default=None, primary_key=True)
    token_sha256: str = Field(unique=True)
    book_id: int = Field(foreign_key="book.id", index=True)
    created_at: datetime = Field(default_factory=utc_now)
