"""The first tables: contests and what belongs to them, the audit chain, links, sessions and jobs."""

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

#: Tables whose rows are never changed and never removed.
FOR_GOOD = ("audit", "sheet", "tap", "strike_log", "publication")


def text(name: str) -> "sa.Column[Any]":
    """Column of text that is always given."""
    return sa.Column(name, sa.String(), nullable=False)


def whole(name: str, *, needed: bool = True) -> "sa.Column[Any]":
    """Column of whole numbers."""
    return sa.Column(name, sa.Integer(), nullable=not needed)


def moment(name: str, *, needed: bool = True) -> "sa.Column[Any]":
    """Column of moments in UTC."""
    return sa.Column(name, sa.DateTime(timezone=True), nullable=not needed)


def check(name: str, rule: str) -> sa.CheckConstraint:
    """Rule that every row obeys, under exactly this name."""
    return sa.CheckConstraint(rule, name=op.f(name))


def upgrade() -> None:
    """Make the tables, then the triggers that keep what is written for good."""
    make_contest_tables()
    make_service_tables()
    make_triggers()


def make_contest_tables() -> None:
    """Make what belongs to a contest."""
    op.create_table(
        "contest",
        whole("id"),
        text("slug"),
        text("title"),
        text("phase"),
        text("rules_text"),
        text("order_json"),
        whole("revision"),
        moment("created_at"),
        check(
            "ck_contest_phase",
            "phase IN ('draft', 'published', 'drawn', 'ringing', 'sheets in', 'provisional', 'protest', 'final')",
        ),
        check("ck_contest_slug", "length(slug) BETWEEN 1 AND 80"),
        check("ck_contest_revision", "revision >= 1"),
        sa.PrimaryKeyConstraint("id", name="pk_contest"),
        sa.UniqueConstraint("slug", name="uq_contest_slug"),
    )
    op.create_table(
        "piece",
        whole("id"),
        whole("contest_id"),
        text("key"),
        text("file_name"),
        text("text"),
        sa.ForeignKeyConstraint(["contest_id"], ["contest.id"], name="fk_piece_contest_id_contest"),
        sa.PrimaryKeyConstraint("id", name="pk_piece"),
        sa.UniqueConstraint("contest_id", "key", name="uq_piece_contest_id_key"),
    )
    op.create_table(
        "entry",
        whole("id"),
        whole("contest_id"),
        text("key"),
        whole("received"),
        text("band"),
        text("section"),
        text("piece"),
        sa.Column("scratch", sa.Boolean(), nullable=False),
        whole("borrowed"),
        whole("experienced", needed=False),
        text("withdrawn"),
        text("disqualified"),
        sa.Column("over_time_s", sa.Float(), nullable=False),
        whole("restarts"),
        whole("restart_changes"),
        whole("missing_rows"),
        text("wrong_method"),
        text("unfinished"),
        sa.Column("late", sa.Boolean(), nullable=False),
        text("also_in_json"),
        text("remarks"),
        text("consent"),
        moment("began_at", needed=False),
        moment("ended_at", needed=False),
        check("ck_entry_consent", "consent IN ('not asked', 'given', 'refused')"),
        check(
            "ck_entry_counts",
            "borrowed >= 0 AND restarts >= 0 AND restart_changes >= 0 AND missing_rows >= 0 AND over_time_s >= 0",
        ),
        check("ck_entry_experienced", "experienced IS NULL OR experienced >= 0"),
        check("ck_entry_key", "length(key) BETWEEN 1 AND 80"),
        sa.ForeignKeyConstraint(["contest_id"], ["contest.id"], name="fk_entry_contest_id_contest"),
        sa.PrimaryKeyConstraint("id", name="pk_entry"),
        sa.UniqueConstraint("contest_id", "id", name="uq_entry_contest_id_id"),
        sa.UniqueConstraint("contest_id", "key", name="uq_entry_contest_id_key"),
    )
    op.create_table(
        "judge",
        whole("id"),
        whole("contest_id"),
        text("key"),
        whole("position"),
        text("name"),
        sa.Column("shadow", sa.Boolean(), nullable=False),
        sa.ForeignKeyConstraint(["contest_id"], ["contest.id"], name="fk_judge_contest_id_contest"),
        sa.PrimaryKeyConstraint("id", name="pk_judge"),
        sa.UniqueConstraint("contest_id", "id", name="uq_judge_contest_id_id"),
        sa.UniqueConstraint("contest_id", "key", name="uq_judge_contest_id_key"),
    )
    op.create_table(
        "sheet",
        whole("id"),
        whole("contest_id"),
        whole("entry_id"),
        whole("judge_id"),
        whole("revision"),
        text("total"),
        text("comment"),
        text("reason"),
        moment("signed_at"),
        check("ck_sheet_revision_has_reason", "revision >= 1 AND (revision = 1 OR length(trim(reason)) > 0)"),
        sa.ForeignKeyConstraint(
            ["contest_id", "entry_id"], ["entry.contest_id", "entry.id"], name="fk_sheet_contest_id_entry_id_entry"
        ),
        sa.ForeignKeyConstraint(
            ["contest_id", "judge_id"], ["judge.contest_id", "judge.id"], name="fk_sheet_contest_id_judge_id_judge"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_sheet"),
        sa.UniqueConstraint("judge_id", "entry_id", "revision", name="uq_sheet_judge_id_entry_id_revision"),
    )
    op.create_table(
        "tap",
        whole("id"),
        whole("sheet_id"),
        whole("position"),
        whole("change", needed=False),
        text("faults"),
        sa.Column("time_s", sa.Float(), nullable=True),
        check("ck_tap_change", "change IS NULL OR change >= 1"),
        sa.ForeignKeyConstraint(["sheet_id"], ["sheet.id"], name="fk_tap_sheet_id_sheet"),
        sa.PrimaryKeyConstraint("id", name="pk_tap"),
        sa.UniqueConstraint("sheet_id", "position", name="uq_tap_sheet_id_position"),
    )
    op.create_table(
        "recording",
        whole("id"),
        whole("entry_id"),
        text("sha256"),
        whole("size_bytes"),
        text("name"),
        moment("added_at"),
        moment("erased_at", needed=False),
        check("ck_recording_sha256", "length(sha256) = 64"),
        check("ck_recording_size", "size_bytes >= 0"),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name="fk_recording_entry_id_entry"),
        sa.PrimaryKeyConstraint("id", name="pk_recording"),
        sa.UniqueConstraint("entry_id", "sha256", name="uq_recording_entry_id_sha256"),
    )
    op.create_index("ix_recording_sha256", "recording", ["sha256"])
    op.create_table(
        "strike_log",
        whole("id"),
        whole("entry_id"),
        whole("recording_id", needed=False),
        text("origin"),
        text("csv"),
        text("sha256"),
        text("notes_json"),
        sa.Column("start_is_sure", sa.Boolean(), nullable=False),
        moment("added_at"),
        check("ck_strike_log_origin", "origin IN ('heard', 'given')"),
        check("ck_strike_log_sha256", "length(sha256) = 64"),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name="fk_strike_log_entry_id_entry"),
        sa.ForeignKeyConstraint(["recording_id"], ["recording.id"], name="fk_strike_log_recording_id_recording"),
        sa.PrimaryKeyConstraint("id", name="pk_strike_log"),
    )
    op.create_index("ix_strike_log_entry_id", "strike_log", ["entry_id"])
    op.create_table(
        "publication",
        whole("id"),
        whole("contest_id"),
        whole("revision"),
        text("phase"),
        text("result_json"),
        text("rules_text"),
        text("audit_head"),
        text("reason"),
        moment("made_at"),
        check("ck_publication_phase", "phase IN ('provisional', 'final')"),
        check("ck_publication_revision_has_reason", "revision >= 1 AND (revision = 1 OR length(trim(reason)) > 0)"),
        sa.ForeignKeyConstraint(["contest_id"], ["contest.id"], name="fk_publication_contest_id_contest"),
        sa.PrimaryKeyConstraint("id", name="pk_publication"),
        sa.UniqueConstraint("contest_id", "revision", "phase", name="uq_publication_contest_id_revision_phase"),
    )


def make_service_tables() -> None:
    """Make what serves the service."""
    op.create_table(
        "audit",
        whole("seq"),
        text("at"),
        text("who"),
        text("what"),
        text("contest"),
        text("about"),
        text("before"),
        text("after"),
        text("reason"),
        text("prev_hash"),
        text("hash"),
        check("ck_audit_hashes", "length(hash) = 64 AND length(prev_hash) = 64"),
        check("ck_audit_who_what", "length(what) > 0 AND length(who) > 0"),
        check("ck_audit_seq", "seq >= 1"),
        sa.PrimaryKeyConstraint("seq", name="pk_audit"),
        sa.UniqueConstraint("hash", name="uq_audit_hash"),
        sa.UniqueConstraint("prev_hash", name="uq_audit_prev_hash"),
    )
    op.create_table(
        "link",
        whole("id"),
        text("token_sha256"),
        text("role"),
        whole("contest_id", needed=False),
        whole("judge_id", needed=False),
        whole("entry_id", needed=False),
        text("note"),
        moment("created_at"),
        moment("expires_at"),
        moment("used_at", needed=False),
        moment("revoked_at", needed=False),
        check("ck_link_band", "(role = 'band') = (entry_id IS NOT NULL)"),
        check("ck_link_judge", "(role IN ('judge', 'shadow judge')) = (judge_id IS NOT NULL)"),
        check("ck_link_contest", "role = 'organiser' OR contest_id IS NOT NULL"),
        check("ck_link_role", "role IN ('organiser', 'judge', 'shadow judge', 'steward', 'band')"),
        check("ck_link_token", "length(token_sha256) = 64"),
        sa.ForeignKeyConstraint(
            ["contest_id", "entry_id"], ["entry.contest_id", "entry.id"], name="fk_link_contest_id_entry_id_entry"
        ),
        sa.ForeignKeyConstraint(
            ["contest_id", "judge_id"], ["judge.contest_id", "judge.id"], name="fk_link_contest_id_judge_id_judge"
        ),
        sa.ForeignKeyConstraint(["contest_id"], ["contest.id"], name="fk_link_contest_id_contest"),
        sa.PrimaryKeyConstraint("id", name="pk_link"),
        sa.UniqueConstraint("token_sha256", name="uq_link_token_sha256"),
    )
    op.create_table(
        "session",
        whole("id"),
        text("token_sha256"),
        whole("link_id"),
        moment("created_at"),
        moment("seen_at"),
        moment("ended_at", needed=False),
        check("ck_session_token", "length(token_sha256) = 64"),
        sa.ForeignKeyConstraint(["link_id"], ["link.id"], name="fk_session_link_id_link"),
        sa.PrimaryKeyConstraint("id", name="pk_session"),
        sa.UniqueConstraint("token_sha256", name="uq_session_token_sha256"),
    )
    op.create_index("ix_session_link_id", "session", ["link_id"])
    op.create_table(
        "job",
        whole("id"),
        text("kind"),
        text("input_sha256"),
        text("params_json"),
        text("engine_version"),
        whole("entry_id", needed=False),
        text("state"),
        whole("attempts"),
        moment("lease_until", needed=False),
        text("worker"),
        sa.Column("progress", sa.Float(), nullable=False),
        text("message"),
        text("error"),
        moment("created_at"),
        moment("started_at", needed=False),
        moment("finished_at", needed=False),
        check("ck_job_lease", "(state = 'running') = (lease_until IS NOT NULL)"),
        check("ck_job_failed_has_error", "state <> 'failed' OR length(error) > 0"),
        check("ck_job_state", "state IN ('queued', 'running', 'done', 'failed')"),
        check("ck_job_attempts", "attempts >= 0"),
        check("ck_job_progress", "progress BETWEEN 0 AND 1"),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name="fk_job_entry_id_entry"),
        sa.PrimaryKeyConstraint("id", name="pk_job"),
        sa.UniqueConstraint(
            "kind",
            "input_sha256",
            "params_json",
            "engine_version",
            name="uq_job_kind_input_sha256_params_json_engine_version",
        ),
    )
    op.create_index("ix_job_entry_id", "job", ["entry_id"])
    op.create_index("ix_job_state", "job", ["state"])


def make_triggers() -> None:
    """Refuse changes of what is kept for good, and any audit entry that does not follow from the last."""
    for table in FOR_GOOD:
        for deed in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER {table}_no_{deed.lower()} BEFORE {deed} ON {table} "
                f"BEGIN SELECT RAISE(ABORT, '{table} is kept for good'); END"
            )
    op.execute(
        "CREATE TRIGGER audit_follows BEFORE INSERT ON audit "
        "WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM audit) "
        # Before the first entry stand 64 zeros.
        "OR NEW.prev_hash IS NOT coalesce((SELECT hash FROM audit WHERE seq = NEW.seq - 1), hex(zeroblob(32))) "
        "BEGIN SELECT RAISE(ABORT, 'audit entry does not follow from the last'); END"
    )
