"""The tables of what judges gave: signed sheets and their taps, the pad's events, and papers keyed by two."""

from datetime import datetime
from decimal import Decimal

from sqlalchemy import BigInteger, CheckConstraint, ForeignKeyConstraint, UniqueConstraint
from sqlmodel import Field

from judging.contest.tally import KINDS
from judging.store.columns import Base, ExactDecimal, one_of, utc_now


class StoredSheet(Base, table=True):
    """One signed version of one judge's sheet for one entry; never changed, only followed by a revision."""

    __tablename__ = "sheet"
    __table_args__ = (
        UniqueConstraint("judge_id", "entry_id", "revision"),
        ForeignKeyConstraint(["contest_id", "entry_id"], ["entry.contest_id", "entry.id"]),
        ForeignKeyConstraint(["contest_id", "judge_id"], ["judge.contest_id", "judge.id"]),
        CheckConstraint("revision >= 1 AND (revision = 1 OR length(trim(reason)) > 0)", name="revision_has_reason"),
    )

    id: int = Field(default=None, primary_key=True)
    contest_id: int
    entry_id: int
    judge_id: int
    revision: int = 1
    total: Decimal = Field(sa_type=ExactDecimal)
    comment: str = ""
    reason: str = ""
    signed_at: datetime = Field(default_factory=utc_now)


class StoredTap(Base, table=True):
    """One touch of the judge's pad or tick on paper, in order within its sheet."""

    __tablename__ = "tap"
    __table_args__ = (
        UniqueConstraint("sheet_id", "position"),
        CheckConstraint("change IS NULL OR change >= 1", name="change"),
    )

    id: int = Field(default=None, primary_key=True)
    sheet_id: int = Field(foreign_key="sheet.id")
    position: int
    change: int | None = None
    faults: Decimal = Field(sa_type=ExactDecimal)
    time_s: float | None = None


class StoredPadEvent(Base, table=True):
    """One thing that a judge did on a pad, as it came; fields as in `judging.contest.tally.PadEvent`.

    There is no trail entry for each: a touch has hundreds, nothing here is ever changed, and the sheet that is made of
    them is signed with one. The first of each pad has one, so that two pads in use can be seen afterwards.
    """

    __tablename__ = "pad_event"
    __table_args__ = (
        UniqueConstraint("judge_id", "entry_id", "event"),
        ForeignKeyConstraint(["contest_id", "entry_id"], ["entry.contest_id", "entry.id"]),
        ForeignKeyConstraint(["contest_id", "judge_id"], ["judge.contest_id", "judge.id"]),
        one_of("kind", KINDS),
        CheckConstraint("seq >= 1", name="seq"),
        CheckConstraint("change IS NULL OR change >= 1", name="change"),
    )

    id: int = Field(default=None, primary_key=True)
    contest_id: int
    entry_id: int
    judge_id: int
    event: str = Field(description="Identifier made up by the pad")
    device: str
    seq: int
    kind: str
    at_ms: int = Field(sa_type=BigInteger, description="On the server's clock, and never after it came")
    device_ms: int = Field(sa_type=BigInteger, description="On the pad's own clock, for whoever must find out later")
    received_ms: int = Field(sa_type=BigInteger)
    faults: Decimal | None = Field(default=None, sa_type=ExactDecimal)
    change: int | None = None
    of: str = ""
    text: str = ""


class StoredKeying(Base, table=True):
    """A judge's paper sheet as one person keyed it in; it counts only when another has keyed the same."""

    __tablename__ = "keying"
    __table_args__ = (
        ForeignKeyConstraint(["contest_id", "entry_id"], ["entry.contest_id", "entry.id"]),
        ForeignKeyConstraint(["contest_id", "judge_id"], ["judge.contest_id", "judge.id"]),
        CheckConstraint("revision >= 1", name="revision"),
    )

    id: int = Field(default=None, primary_key=True)
    contest_id: int
    entry_id: int
    judge_id: int
    revision: int = Field(description="That the sheet will have when it is signed")
    who: str = Field(description="Who keyed it in")
    total: Decimal = Field(sa_type=ExactDecimal)
    taps_json: str = Field(default="[]", description="Change, faults and time of each")
    comment: str = ""
    reason: str = Field(default="", description="Why a signed sheet is revised")
    keyed_at: datetime = Field(default_factory=utc_now)
