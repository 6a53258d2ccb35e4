"""Protests, paper sheets keyed in twice, judges' conflicts of interest, causes of penalties, reasons of revisions."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add columns with what they mean for contests that are there already, then the two tables."""
    for table, name, default in (
        ("contest", "revision_reason", ""),
        ("entry", "conflicts_json", "[]"),
        ("entry", "causes_json", "[]"),
        ("judge", "belongs_to", ""),
        ("publication", "bands_json", "{}"),
    ):
        op.add_column(table, sa.Column(name, sa.String(), nullable=False, server_default=default))
    op.add_column("contest", sa.Column("phase_since", sa.DateTime(timezone=True), nullable=True))
    op.add_column("judge", sa.Column("declared_at", sa.DateTime(timezone=True), nullable=True))
    _make_protests()
    _make_keyings()


def _make_protests() -> None:
    op.create_table(
        "protest",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("contest_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("entry_id", sa.Integer(), nullable=True),
        sa.Column("handed_in_by", sa.String(), nullable=False),
        sa.Column("handed_in_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("about", sa.String(), nullable=False),
        sa.Column("outcome", sa.String(), nullable=False),
        sa.Column("answered_by", sa.String(), nullable=False),
        sa.Column("answer", sa.String(), nullable=False),
        sa.Column("answered_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint("outcome IN ('open', 'upheld', 'dismissed', 'taken back')", name=op.f("ck_protest_outcome")),
        sa.CheckConstraint("number >= 1 AND revision >= 1", name=op.f("ck_protest_numbers")),
        sa.CheckConstraint("length(trim(about)) > 0", name=op.f("ck_protest_about")),
        sa.CheckConstraint("(outcome = 'open') = (answered_at IS NULL)", name=op.f("ck_protest_answered_at")),
        sa.CheckConstraint(
            "outcome = 'open' OR (length(trim(answer)) > 0 AND length(trim(answered_by)) > 0)",
            name=op.f("ck_protest_answered"),
        ),
        sa.ForeignKeyConstraint(["contest_id"], ["contest.id"], name="fk_protest_contest_id_contest"),
        sa.ForeignKeyConstraint(
            ["contest_id", "entry_id"], ["entry.contest_id", "entry.id"], name="fk_protest_contest_id_entry_id_entry"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_protest"),
        sa.UniqueConstraint("contest_id", "number", name="uq_protest_contest_id_number"),
    )


def _make_keyings() -> None:
    op.create_table(
        "keying",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("contest_id", sa.Integer(), nullable=False),
        sa.Column("entry_id", sa.Integer(), nullable=False),
        sa.Column("judge_id", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("who", sa.String(), nullable=False),
        sa.Column("total", sa.String(), nullable=False),
        sa.Column("taps_json", sa.String(), nullable=False),
        sa.Column("comment", sa.String(), nullable=False),
        sa.Column("reason", sa.String(), nullable=False),
        sa.Column("keyed_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_keying_revision")),
        sa.ForeignKeyConstraint(
            ["contest_id", "entry_id"], ["entry.contest_id", "entry.id"], name="fk_keying_contest_id_entry_id_entry"
        ),
        sa.ForeignKeyConstraint(
            ["contest_id", "judge_id"], ["judge.contest_id", "judge.id"], name="fk_keying_contest_id_judge_id_judge"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_keying"),
    )
    for deed in ("UPDATE", "DELETE"):
        op.execute(
            f"CREATE TRIGGER keying_no_{deed.lower()} BEFORE {deed} ON keying "
            "BEGIN SELECT RAISE(ABORT, 'keying is kept for good'); END"
        )
