"""The tables that serve the service itself: the audit chain, personal links, sessions and long jobs."""

from datetime import datetime

from sqlalchemy import CheckConstraint, ForeignKeyConstraint, UniqueConstraint
from sqlmodel import Field

from judging.store.columns import Base, one_of, utc_now

ROLES = ("organiser", "judge", "shadow judge", "steward", "band")

JOB_STATES = ("queued", "running", "done", "failed")


class StoredAudit(Base, table=True):
    """One entry of the audit chain; every field is the very text that is hashed."""

    __tablename__ = "audit"
    __table_args__ = (
        CheckConstraint("seq >= 1", name="seq"),
        CheckConstraint("length(hash) = 64 AND length(prev_hash) = 64", name="hashes"),
        CheckConstraint("length(what) > 0 AND length(who) > 0", name="who_what"),
    )

    seq: int = Field(primary_key=True, description="From 1, without a gap")
    at: str = Field(description="UTC, ISO 8601 with microseconds")
    who: str
    what: str
    contest: str = ""
    about: str = ""
    before: str = ""
    after: str = ""
    reason: str = ""
    prev_hash: str = Field(unique=True)
    hash: str = Field(unique=True)


class StoredLink(Base, table=True):
    """A personal link: who may become what with it; only the hash of its token is kept."""

    __tablename__ = "link"
    __table_args__ = (
        ForeignKeyConstraint(["contest_id", "entry_id"], ["entry.contest_id", "entry.id"]),
        ForeignKeyConstraint(["contest_id", "judge_id"], ["judge.contest_id", "judge.id"]),
        one_of("role", ROLES),
        CheckConstraint("role = 'organiser' OR contest_id IS NOT NULL", name="contest"),
        CheckConstraint("(role IN ('judge', 'shadow judge')) = (judge_id IS NOT NULL)", name="judge"),
        CheckConstraint("(role = 'band') = (entry_id IS NOT NULL)", name="band"),
        CheckConstraint("length(token_sha256) = 64", name="token"),
    )

    id: int = Field(default=None, primary_key=True)
    token_sha256: str = Field(unique=True)
    role: str
    contest_id: int | None = Field(default=None, foreign_key="contest.id")
    judge_id: int | None = None
    entry_id: int | None = None
    note: str = Field(default="", description="The organiser's own words for it")
    created_at: datetime = Field(default_factory=utc_now)
    expires_at: datetime
    used_at: datetime | None = None
    revoked_at: datetime | None = None


class StoredSession(Base, table=True):
    """A session that a link was exchanged for; only the hash of its token is kept."""

    __tablename__ = "session"
    __table_args__ = (CheckConstraint("length(token_sha256) = 64", name="token"),)

    id: int = Field(default=None, primary_key=True)
    token_sha256: str = Field(unique=True)
    link_id: int = Field(foreign_key="link.id", index=True)
    created_at: datetime = Field(default_factory=utc_now)
    seen_at: datetime = Field(default_factory=utc_now)
    ended_at: datetime | None = None


class StoredJob(Base, table=True):
    """A long job: what it is made from, how far it is, and what became of it."""

    __tablename__ = "job"
    __table_args__ = (
        UniqueConstraint("kind", "input_sha256", "params_json", "engine_version"),
        one_of("state", JOB_STATES),
        CheckConstraint("progress BETWEEN 0 AND 1", name="progress"),
        CheckConstraint("attempts >= 0", name="attempts"),
        CheckConstraint("(state = 'running') = (lease_until IS NOT NULL)", name="lease"),
        CheckConstraint("state <> 'failed' OR length(error) > 0", name="failed_has_error"),
    )

    id: int = Field(default=None, primary_key=True)
    kind: str
    input_sha256: str
    params_json: str = "{}"
    engine_version: str
    entry_id: int | None = Field(default=None, foreign_key="entry.id", index=True)
    state: str = Field(default="queued", index=True)
    attempts: int = 0
    lease_until: datetime | None = None
    worker: str = ""
    progress: float = 0.0
    message: str = Field(default="", description="What it is doing now, in words")
    error: str = Field(default="", description="Why it failed, as a person is told")
    created_at: datetime = Field(default_factory=utc_now)
    started_at: datetime | None = None
    finished_at: datetime | None = None
