"""One recording of a contest's whole day."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        "day_recording",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("contest_id", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(), nullable=False),
        sa.Column("size_bytes", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("cuts_json", sa.String(), nullable=False),
        sa.Column("added_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("erased_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint("length(sha256) = 64", name=op.f("ck_day_recording_sha256")),
        sa.CheckConstraint("size_bytes >= 0", name=op.f("ck_day_recording_size")),
        sa.ForeignKeyConstraint(["contest_id"], ["contest.id"], name="fk_day_recording_contest_id_contest"),
        sa.PrimaryKeyConstraint("id", name="pk_day_recording"),
    )
    op.create_index("ix_day_recording_contest_id", "day_recording", ["contest_id"])
    op.create_index("ix_day_recording_sha256", "day_recording", ["sha256"])
