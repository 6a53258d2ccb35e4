"""The tables of towers: where a recorder stands, the voices that were learnt there, and what is rung there.

Of a recording only what its bells' voices are like is kept here, never sound. What else a tower may come to hold (how
its bells sound, say) hangs on its ``id``.
"""

from datetime import datetime

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field

from judging.store.columns import Base, utc_now


class StoredTower(Base, table=True):
    """Bells and a recorder that stands in one place before them; moved elsewhere, it makes another."""

    __tablename__ = "tower"
    __table_args__ = (
        UniqueConstraint("name", "recorder"),
        CheckConstraint("length(name) BETWEEN 1 AND 80", name="name"),
        CheckConstraint("length(recorder) BETWEEN 1 AND 200", name="recorder"),
        CheckConstraint("bells BETWEEN 3 AND 16", name="bells"),
    )

    id: int = Field(default=None, primary_key=True)
    name: str = Field(description="Of the organiser's own choosing")
    bells: int = Field(description="That ring together")
    recorder: str = Field(description="Where it stands, in words")
    made_at: datetime = Field(default_factory=utc_now)


class StoredVoices(Base, table=True):
    """Voices kept with a tower; the newest that are not erased are in force."""

    __tablename__ = "voices"
    __table_args__ = (
        CheckConstraint("length(sha256) = 64", name="sha256"),
        CheckConstraint("blows >= 1", name="blows"),
        CheckConstraint("(erased_at IS NULL) = (length(data) > 0)", name="erased"),
    )

    id: int = Field(default=None, primary_key=True)
    tower_id: int = Field(foreign_key="tower.id", index=True)
    sha256: str = Field(description="Of the data")
    data: bytes = Field(description="As `judging.ear.voices_to_bytes` writes them; empty once erased")
    blows: int = Field(description="That they were learnt from")
    learnt_from: str = Field(description="Contest or practice night, in words")
    kept_at: datetime = Field(default_factory=utc_now)
    erased_at: datetime | None = None


class StoredPlace(Base, table=True):
    """At which tower a contest or a practice night rings its pieces on so many bells, and with which voices."""

    __tablename__ = "place"
    __table_args__ = (CheckConstraint("NOT (follows_newest AND voices_id IS NOT NULL)", name="voices"),)

    contest_id: int = Field(primary_key=True, foreign_key="contest.id")
    bells: int = Field(primary_key=True)
    tower_id: int = Field(foreign_key="tower.id", index=True)
    voices_id: int | None = Field(default=None, foreign_key="voices.id", description="Fixed, the same for every band")
    follows_newest: bool = Field(description="Heard with what the tower has newest, as a practice night is")


class StoredHearing(Base, table=True):
    """How a strike log was heard, kept for good with it: with which voices, how well bells were told apart there.

    A recount needs none of it: the strike log is what is counted.
    """

    __tablename__ = "hearing"
    __table_args__ = (
        CheckConstraint("voices_sha256 = '' OR length(voices_sha256) = 64", name="voices_sha256"),
        CheckConstraint("blows >= 0", name="blows"),
    )

    strike_log_id: int = Field(primary_key=True, foreign_key="strike_log.id")
    voices_sha256: str = Field(default="", description="Of the kept voices it was heard with; empty for none")
    said: str = Field(default="", description="Which were used, or why none, in words")
    clarity_json: str = Field(default="[]", description="Of each bell: number, how far apart, most like which bell")
    learnt: bytes = Field(default=b"", description="The voices that came of it; empty where its start is not sure")
    blows: int = Field(default=0, description="That they were learnt from")
    segments_json: str = Field(
        default="[]",
        description="Of several stretches of ringing, each: begin, end, share of the piece, is heard",
    )
    segment_is_sure: bool = Field(default=True, description="False where a person should say which of them is meant")
