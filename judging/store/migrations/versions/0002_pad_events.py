"""What judges do on their pads, kept for good as it came."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table and the triggers that keep it."""
    op.create_table(
        "pad_event",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("contest_id", sa.Integer(), nullable=False),
        sa.Column("entry_id", sa.Integer(), nullable=False),
        sa.Column("judge_id", sa.Integer(), nullable=False),
        sa.Column("event", sa.String(), nullable=False),
        sa.Column("device", sa.String(), nullable=False),
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("at_ms", sa.BigInteger(), nullable=False),
        sa.Column("device_ms", sa.BigInteger(), nullable=False),
        sa.Column("received_ms", sa.BigInteger(), nullable=False),
        sa.Column("faults", sa.String(), nullable=True),
        sa.Column("change", sa.Integer(), nullable=True),
        sa.Column("of", sa.String(), nullable=False),
        sa.Column("text", sa.String(), nullable=False),
        sa.CheckConstraint(
            "kind IN ('start', 'tap', 'undo', 'lead', 'stop', 'correct', 'comment', 'sign')",
            name=op.f("ck_pad_event_kind"),
        ),
        sa.CheckConstraint("seq >= 1", name=op.f("ck_pad_event_seq")),
        sa.CheckConstraint("change IS NULL OR change >= 1", name=op.f("ck_pad_event_change")),
        sa.ForeignKeyConstraint(
            ["contest_id", "entry_id"], ["entry.contest_id", "entry.id"], name="fk_pad_event_contest_id_entry_id_entry"
        ),
        sa.ForeignKeyConstraint(
            ["contest_id", "judge_id"], ["judge.contest_id", "judge.id"], name="fk_pad_event_contest_id_judge_id_judge"
        ),
        sa.PrimaryKeyConstraint("id", name="pk_pad_event"),
        sa.UniqueConstraint("judge_id", "entry_id", "event", name="uq_pad_event_judge_id_entry_id_event"),
    )
    for deed in ("UPDATE", "DELETE"):
        op.execute(
            f"CREATE TRIGGER pad_event_no_{deed.lower()} BEFORE {deed} ON pad_event "
            "BEGIN SELECT RAISE(ABORT, 'pad_event is kept for good'); END"
        )
