"""Bands' own books of touches from year to year."""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "book",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("token_sha256", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("begun_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_book"),
        sa.UniqueConstraint("token_sha256", name="uq_book_token_sha256"),
        sa.CheckConstraint("length(token_sha256) = 64", name=op.f("ck_book_token")),
        sa.CheckConstraint("length(name) BETWEEN 1 AND 80", name=op.f("ck_book_name")),
    )
    op.create_table(
        "book_touch",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("book_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("touch_json", sa.String(), nullable=False),
        sa.Column("entry_id", sa.Integer(), nullable=True),
        sa.Column("kept_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_book_touch"),
        sa.ForeignKeyConstraint(["book_id"], ["book.id"], name="fk_book_touch_book_id_book"),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name="fk_book_touch_entry_id_entry"),
        sa.UniqueConstraint("book_id", "number", name="uq_book_touch_book_id_number"),
        sa.UniqueConstraint("book_id", "key", name="uq_book_touch_book_id_key"),
        sa.CheckConstraint("number >= 1", name=op.f("ck_book_touch_number")),
    )
    op.create_table(
        "book_session",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("token_sha256", sa.String(), nullable=False),
        sa.Column("book_id", sa.Integer(), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_book_session"),
        sa.ForeignKeyConstraint(["book_id"], ["book.id"], name="fk_book_session_book_id_book"),
        sa.UniqueConstraint("token_sha256", name="uq_book_session_token_sha256"),
        sa.CheckConstraint("length(token_sha256) = 64", name=op.f("ck_book_session_token")),
    )
    op.create_index("ix_book_session_book_id", "book_session", ["book_id"])
