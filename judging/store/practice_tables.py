"""The tables of what is a band's own: its practice evenings, and whether it has opened its fault sheet.

Of a stand only the times of the blows are kept, never the sound. All of it can be erased; the audit trail keeps only
that there was something.
"""

from datetime import datetime

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field

from judging.store.columns import Base, utc_now


class StoredEvening(Base, table=True):
    """What a practice night listens for: the row that is pulled off in, and the tower that is practised for."""

    __tablename__ = "evening"
    __table_args__ = (
        CheckConstraint("length(row) BETWEEN 3 AND 16", name="row"),
        CheckConstraint("there_bells BETWEEN 3 AND 16", name="there_bells"),
        CheckConstraint("there_minutes BETWEEN 90 AND 300", name="there_minutes"),
        CheckConstraint("(there_bells IS NULL) = (there_minutes IS NULL)", name="there"),
    )

    contest_id: int = Field(primary_key=True, foreign_key="contest.id")
    row: str = Field(description="As rows are written: 1 to 9, 0, E, T, A, B, C, D")
    there_bells: int | None = Field(default=None, description="Bells of a tower to be visited")
    there_minutes: int | None = Field(default=None, description="Its pace, as the time of 5,040 rows")


class StoredStand(Base, table=True):
    """What was rung until a stand: its blows, or why they could not be heard."""

    __tablename__ = "stand"
    __table_args__ = (
        UniqueConstraint("contest_id", "number"),
        CheckConstraint("number >= 1", name="number"),
        CheckConstraint("(csv = '') <> (problem = '')", name="heard"),
    )

    id: int = Field(default=None, primary_key=True)
    contest_id: int = Field(foreign_key="contest.id")
    number: int = Field(description="In order of the evening, from 1")
    row: str = Field(description="What it was to begin with")
    csv: str = Field(default="", description="Its strike log; empty where nothing was heard")
    notes_json: str = "[]"
    problem: str = ""
    stood_at: datetime = Field(default_factory=utc_now)


class StoredOpenSheet(Base, table=True):
    """A band has opened its fault sheet to everybody."""

    __tablename__ = "open_sheet"

    entry_id: int = Field(primary_key=True, foreign_key="entry.id")
    opened_at: datetime = Field(default_factory=utc_now)
