"""The tables of a contest: what was declared, who entered, what was heard and shown.

The texts are the truth (rules, pieces, strike logs, sheets): machine counts and results are made from them again
whenever they are wanted, so nothing here can disagree with them. Signed sheets, strike logs and audit entries are
append-only; triggers in the migrations refuse changes. `judging.store.sheet_tables` holds what judges gave,
`judging.store.service_tables` what serves the service itself.

An ``id`` is given by the database when a row is flushed. Classes are called ``Stored...`` because a *row* is
something else in this house.
"""

from datetime import datetime

from sqlalchemy import CheckConstraint, ForeignKeyConstraint, UniqueConstraint
from sqlmodel import Field

from judging.contest.phases import LIFE
from judging.store.columns import Base, one_of, utc_now

PHASES = tuple(str(phase) for phase in LIFE)

CONSENTS = ("not asked", "given", "refused")

OUTCOMES = ("open", "upheld", "dismissed", "taken back")


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
