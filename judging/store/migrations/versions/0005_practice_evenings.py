"""What is a band's own: practice evenings with every stand, and sheets that were opened to everybody."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "evening",
        sa.Column("contest_id", sa.Integer(), nullable=False),
        sa.Column("row", sa.String(), nullable=False),
        sa.Column("there_bells", sa.Integer(), nullable=True),
        sa.Column("there_minutes", sa.Integer(), nullable=True),
        sa.PrimaryKeyConstraint("contest_id", name="pk_evening"),
        sa.ForeignKeyConstraint(["contest_id"], ["contest.id"], name="fk_evening_contest_id_contest"),
        sa.CheckConstraint("length(row) BETWEEN 3 AND 16", name=op.f("ck_evening_row")),
        sa.CheckConstraint("there_bells BETWEEN 3 AND 16", name=op.f("ck_evening_there_bells")),
        sa.CheckConstraint("there_minutes BETWEEN 90 AND 300", name=op.f("ck_evening_there_minutes")),
        sa.CheckConstraint("(there_bells IS NULL) = (there_minutes IS NULL)", name=op.f("ck_evening_there")),
    )
    op.create_table(
        "stand",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("contest_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("row", sa.String(), nullable=False),
        sa.Column("csv", sa.String(), nullable=False),
        sa.Column("notes_json", sa.String(), nullable=False),
        sa.Column("problem", sa.String(), nullable=False),
        sa.Column("stood_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_stand"),
        sa.ForeignKeyConstraint(["contest_id"], ["contest.id"], name="fk_stand_contest_id_contest"),
        sa.UniqueConstraint("contest_id", "number", name="uq_stand_contest_id_number"),
        sa.CheckConstraint("number >= 1", name=op.f("ck_stand_number")),
        sa.CheckConstraint("(csv = '') <> (problem = '')", name=op.f("ck_stand_heard")),
    )
    op.create_table(
        "open_sheet",
        sa.Column("entry_id", sa.Integer(), nullable=False),
        sa.Column("opened_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("entry_id", name="pk_open_sheet"),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name="fk_open_sheet_entry_id_entry"),
    )
