"""The tables of a contest: what was declared, who entered, what was heard and what was signed.

The texts are the truth (rules, pieces, strike logs, sheets): machine counts and results are made from them again
whenever they are wanted, so nothing here can disagree with them. Signed sheets, strike logs and audit entries are
append-only; triggers in the migrations refuse changes. `judging.store.service_tables` holds the tables that serve
the service itself.

An ``id`` is given by the database when a row is flushed. Classes are called ``Stored...`` because a *row* is
something else in this house.
"""

from collections.abc import Mapping
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any, ClassVar

from sqlalchemy import BigInteger, CheckConstraint, ForeignKeyConstraint, MetaData, String, UniqueConstraint
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator
from sqlmodel import Field, SQLModel

from judging.contest.phases import LIFE
from judging.contest.tally import KINDS

PHASES = tuple(str(phase) for phase in LIFE)

CONSENTS = ("not asked", "given", "refused")

OUTCOMES = ("open", "upheld", "dismissed", "taken back")


def one_of(column: str, words: tuple[str, ...]) -> CheckConstraint:
    """Constraint that a column holds one of some words.

    Parameters
    ----------
    column : str
        Column's name; the constraint is named after it.
    words : tuple of str
        The words allowed, none with a quotation mark.

    Returns
    -------
    CheckConstraint
        ``column IN (...)``.
    """
    listed = ", ".join(f"'{word}'" for word in words)
    return CheckConstraint(f"{column} IN ({listed})", name=column)


def utc_now() -> datetime:
    """Return this moment, aware, in UTC."""
    return datetime.now(UTC)


class ExactDecimal(TypeDecorator[Decimal]):
    """A decimal kept as its text, so that no mark ever passes through a binary fraction."""

    impl = String
    cache_ok = True

    def process_bind_param(self, value: Decimal | None, dialect: Dialect) -> str | None:  # noqa: ARG002 SQLAlchemy's signature
        """Write a decimal without an exponent."""
        return None if value is None else format(value, "f")

    def process_result_value(self, value: str | None, dialect: Dialect) -> Decimal | None:  # noqa: ARG002 SQLAlchemy's signature
        """Read it back, digit for digit."""
        return None if value is None else Decimal(value)


class Base(SQLModel):
    """Base of all tables: one metadata, with names for every constraint so that migrations can find them."""

    metadata: ClassVar[MetaData] = MetaData(
        naming_convention={
            "ix": "ix_%(table_name)s_%(column_0_N_name)s",
            "uq": "uq_%(table_name)s_%(column_0_N_name)s",
            "ck": "ck_%(table_name)s_%(constraint_name)s",
            "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
            "pk": "pk_%(table_name)s",
        },
    )


class StoredContest(Base, table=True):
    """One contest; its rules are the text in force."""

    __tablename__ = "contest"
    __table_args__ = (
        one_of("phase", PHASES),
        CheckConstraint("length(slug) BETWEEN 1 AND 80", name="slug"),
        CheckConstraint("revision >= 1", name="revision"),
    )

    id: int = Field(default=None, primary_key=True)
    slug: str = Field(unique=True, description="Names the contest in addresses")
    title: str = Field(description="As the rules have it, for lists")
    phase: str = "draft"
    rules_text: str = Field(description="rules.toml as declared")
    order_json: str = Field(default="[]", description="Entry keys in the drawn order; empty before the draw")
    revision: int = Field(default=1, description="Of the result: correcting one that was shown makes the next")
    revision_reason: str = Field(default="", description="Why it is corrected; empty for the first")
    phase_since: datetime | None = Field(default=None, description="When it came to its phase")
    created_at: datetime = Field(default_factory=utc_now)


class StoredPiece(Base, table=True):
    """A test piece: the text of its file."""

    __tablename__ = "piece"
    __table_args__ = (UniqueConstraint("contest_id", "key"),)

    id: int = Field(default=None, primary_key=True)
    contest_id: int = Field(foreign_key="contest.id")
    key: str = Field(description="As entries name it")
    file_name: str = Field(description="With its suffix, which says how to read it")
    text: str


class StoredEntry(Base, table=True):
    """One band's entry; fields as in `judging.contest.Entry`, ``key`` being its ``id``.

    ``may_be_recorded`` follows from ``consent``, and ``number`` from the contest's order.
    """

    __tablename__ = "entry"
    __table_args__ = (
        UniqueConstraint("contest_id", "key"),
        UniqueConstraint("contest_id", "id"),  # what composite keys below point at
        CheckConstraint("length(key) BETWEEN 1 AND 80", name="key"),
        CheckConstraint(
            "borrowed >= 0 AND restarts >= 0 AND restart_changes >= 0 AND missing_rows >= 0 AND over_time_s >= 0",
            name="counts",
        ),
        CheckConstraint("experienced IS NULL OR experienced >= 0", name="experienced"),
        one_of("consent", CONSENTS),
    )

    id: int = Field(default=None, primary_key=True)
    contest_id: int = Field(foreign_key="contest.id")
    key: str
    received: int = Field(description="Order in which entries were received, from 0")
    band: str
    section: str = ""
    piece: str = ""
    scratch: bool = False
    borrowed: int = 0
    experienced: int | None = None
    withdrawn: str = ""
    disqualified: str = ""
    over_time_s: float = 0.0
    restarts: int = 0
    restart_changes: int = 0
    missing_rows: int = 0
    wrong_method: str = ""
    unfinished: str = ""
    late: bool = False
    also_in_json: str = Field(default="[]", description="Further sections")
    conflicts_json: str = Field(default="[]", description="Judges who have to do with the band")
    causes_json: str = Field(default="[]", description="Why a penalty was given, by kind")
    remarks: str = ""
    consent: str = Field(default="not asked", description="To be recorded; without it the band is judged by ear only")
    recording_taken_back_at: datetime | None = Field(default=None, description="When the band had its recording erased")
    practice_began_at: datetime | None = Field(default=None, description="When the steward saw its practice begin")
    practice_ended_at: datetime | None = Field(default=None, description="When the steward saw its practice end")
    began_at: datetime | None = Field(default=None, description="When the steward saw it begin")
    ended_at: datetime | None = Field(default=None, description="When the steward saw it end")
    incidents: str = Field(default="", description="What the steward saw happen, in words")


class StoredJudge(Base, table=True):
    """A judge, or a panel that gives one agreed mark."""

    __tablename__ = "judge"
    __table_args__ = (UniqueConstraint("contest_id", "key"), UniqueConstraint("contest_id", "id"))

    id: int = Field(default=None, primary_key=True)
    contest_id: int = Field(foreign_key="contest.id")
    key: str
    position: int = Field(description="Order in print, from 0")
    name: str
    shadow: bool = Field(default=False, description="Judges along to learn; its sheets do not count")
    belongs_to: str = Field(default="", description="Towers and bands the judge has to do with, in the judge's words")
    declared_at: datetime | None = Field(default=None, description="When the judge declared them, or none")


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


class StoredRecording(Base, table=True):
    """A recording of one entry: where it came from, and the SHA-256 that names its file."""

    __tablename__ = "recording"
    __table_args__ = (
        UniqueConstraint("entry_id", "sha256"),
        CheckConstraint("length(sha256) = 64", name="sha256"),
        CheckConstraint("size_bytes >= 0", name="size"),
    )

    id: int = Field(default=None, primary_key=True)
    entry_id: int = Field(foreign_key="entry.id")
    sha256: str = Field(index=True)
    size_bytes: int
    name: str = Field(description="The giver's own name for the file; shown to the organiser only")
    is_second: bool = Field(default=False, description="Another recorder's, held against the first; never counted")
    added_at: datetime = Field(default_factory=utc_now)
    erased_at: datetime | None = Field(default=None, description="Consent withdrawn or time for keeping over")


class StoredDayRecording(Base, table=True):
    """One recording of a contest's whole day, until it is cut to its entries and erased."""

    __tablename__ = "day_recording"
    __table_args__ = (
        CheckConstraint("length(sha256) = 64", name="sha256"),
        CheckConstraint("size_bytes >= 0", name="size"),
    )

    id: int = Field(default=None, primary_key=True)
    contest_id: int = Field(foreign_key="contest.id", index=True)
    sha256: str = Field(index=True)
    size_bytes: int
    name: str = Field(description="The giver's own name for the file")
    cuts_json: str = Field(default="", description="What was found by the times noted; empty until it is")
    added_at: datetime = Field(default_factory=utc_now)
    erased_at: datetime | None = Field(
        default=None, description="Erased once it is cut: it holds more than the touches"
    )


class StoredStrikeLog(Base, table=True):
    """A strike log of one entry; the newest is in force, of those that are not a second recorder's."""

    __tablename__ = "strike_log"
    __table_args__ = (
        one_of("origin", ("heard", "given")),
        CheckConstraint("length(sha256) = 64", name="sha256"),
    )

    id: int = Field(default=None, primary_key=True)
    entry_id: int = Field(foreign_key="entry.id", index=True)
    recording_id: int | None = Field(default=None, foreign_key="recording.id")
    origin: str = Field(description="Heard by the ear, or given as a log")
    csv: str
    sha256: str = Field(description="Of csv")
    notes_json: str = Field(default="[]", description="What the ear said of the recording, a list of sentences")
    start_is_sure: bool = Field(default=True, description="False where a person should confirm the first blow")
    is_second: bool = Field(default=False, description="Heard in a second recorder's recording; never counted")
    added_at: datetime = Field(default_factory=utc_now)


class StoredPublication(Base, table=True):
    """A result as it was made public, word for word; a correction is a further one."""

    __tablename__ = "publication"
    __table_args__ = (
        UniqueConstraint("contest_id", "revision", "phase"),
        one_of("phase", ("provisional", "final")),
        CheckConstraint("revision >= 1 AND (revision = 1 OR length(trim(reason)) > 0)", name="revision_has_reason"),
    )

    id: int = Field(default=None, primary_key=True)
    contest_id: int = Field(foreign_key="contest.id")
    revision: int
    phase: str
    result_json: str = Field(description="The document of `judging.contest.result_document`")
    rules_text: str = Field(description="The rules it was made under")
    audit_head: str = Field(description="Head of the audit chain just before, as papers print it")
    reason: str = ""
    bands_json: str = Field(default="{}", description="Names of the bands as they were, by entry")
    made_at: datetime = Field(default_factory=utc_now)


class StoredProtest(Base, table=True):
    """A protest against a provisional result, as it was handed in, and how it was answered."""

    __tablename__ = "protest"
    __table_args__ = (
        UniqueConstraint("contest_id", "number"),
        ForeignKeyConstraint(["contest_id", "entry_id"], ["entry.contest_id", "entry.id"]),
        one_of("outcome", OUTCOMES),
        CheckConstraint("number >= 1 AND revision >= 1", name="numbers"),
        CheckConstraint("length(trim(about)) > 0", name="about"),
        CheckConstraint("(outcome = 'open') = (answered_at IS NULL)", name="answered_at"),
        CheckConstraint(
            "outcome = 'open' OR (length(trim(answer)) > 0 AND length(trim(answered_by)) > 0)", name="answered"
        ),
    )

    id: int = Field(default=None, primary_key=True)
    contest_id: int = Field(foreign_key="contest.id")
    number: int = Field(description="In this contest, from 1")
    revision: int = Field(description="Of the result it is against")
    entry_id: int | None = Field(default=None, description="The band that protests; none where somebody else does")
    handed_in_by: str = Field(default="", description="Who handed it in, where no band did")
    handed_in_at: datetime
    about: str
    outcome: str = "open"
    answered_by: str = ""
    answer: str = ""
    answered_at: datetime | None = None


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


def fields_of(stored: Base, *names: str) -> Mapping[str, Any]:
    """Pick fields of a stored value, for the audit trail's before and after.

    Parameters
    ----------
    stored : Base
        Any row of a table.
    *names : str
        Its fields.

    Returns
    -------
    mapping of str to object
        The fields' values now.
    """
    return {name: getattr(stored, name) for name in names}
