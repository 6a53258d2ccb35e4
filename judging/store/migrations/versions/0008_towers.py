"""Towers with the voices kept there, how each log was heard, and a second recorder's recordings."""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the tables and columns, and keep how a log was heard for as long as the log."""
    op.create_table(
        "tower",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("bells", sa.Integer(), nullable=False),
        sa.Column("recorder", sa.String(), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_tower"),
        sa.UniqueConstraint("name", "recorder", name="uq_tower_name_recorder"),
        sa.CheckConstraint("length(name) BETWEEN 1 AND 80", name=op.f("ck_tower_name")),
        sa.CheckConstraint("length(recorder) BETWEEN 1 AND 200", name=op.f("ck_tower_recorder")),
        sa.CheckConstraint("bells BETWEEN 3 AND 16", name=op.f("ck_tower_bells")),
    )
    op.create_table(
        "voices",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("tower_id", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(), nullable=False),
        sa.Column("data", sa.LargeBinary(), nullable=False),
        sa.Column("blows", sa.Integer(), nullable=False),
        sa.Column("learnt_from", sa.String(), nullable=False),
        sa.Column("kept_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("erased_at", sa.DateTime(timezone=True), nullable=True),
        sa.PrimaryKeyConstraint("id", name="pk_voices"),
        sa.ForeignKeyConstraint(["tower_id"], ["tower.id"], name="fk_voices_tower_id_tower"),
        sa.CheckConstraint("length(sha256) = 64", name=op.f("ck_voices_sha256")),
        sa.CheckConstraint("blows >= 1", name=op.f("ck_voices_blows")),
        sa.CheckConstraint("(erased_at IS NULL) = (length(data) > 0)", name=op.f("ck_voices_erased")),
    )
    op.create_index("ix_voices_tower_id", "voices", ["tower_id"])
    op.create_table(
        "place",
        sa.Column("contest_id", sa.Integer(), nullable=False),
        sa.Column("bells", sa.Integer(), nullable=False),
        sa.Column("tower_id", sa.Integer(), nullable=False),
        sa.Column("voices_id", sa.Integer(), nullable=True),
        sa.Column("follows_newest", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("contest_id", "bells", name="pk_place"),
        sa.ForeignKeyConstraint(["contest_id"], ["contest.id"], name="fk_place_contest_id_contest"),
        sa.ForeignKeyConstraint(["tower_id"], ["tower.id"], name="fk_place_tower_id_tower"),
        sa.ForeignKeyConstraint(["voices_id"], ["voices.id"], name="fk_place_voices_id_voices"),
        sa.CheckConstraint("NOT (follows_newest AND voices_id IS NOT NULL)", name=op.f("ck_place_voices")),
    )
    op.create_index("ix_place_tower_id", "place", ["tower_id"])
    op.create_table(
        "hearing",
        sa.Column("strike_log_id", sa.Integer(), nullable=False),
        sa.Column("voices_sha256", sa.String(), nullable=False),
        sa.Column("said", sa.String(), nullable=False),
        sa.Column("clarity_json", sa.String(), nullable=False),
        sa.Column("learnt", sa.LargeBinary(), nullable=False),
        sa.Column("blows", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("strike_log_id", name="pk_hearing"),
        sa.ForeignKeyConstraint(["strike_log_id"], ["strike_log.id"], name="fk_hearing_strike_log_id_strike_log"),
        sa.CheckConstraint("voices_sha256 = '' OR length(voices_sha256) = 64", name=op.f("ck_hearing_voices_sha256")),
        sa.CheckConstraint("blows >= 0", name=op.f("ck_hearing_blows")),
    )
    op.execute(
        "CREATE TRIGGER hearing_no_update BEFORE UPDATE ON hearing "
        "BEGIN SELECT RAISE(ABORT, 'hearing is kept for good'); END"
    )
    op.execute(
        "CREATE TRIGGER hearing_no_delete BEFORE DELETE ON hearing "
        "WHEN NOT EXISTS (SELECT 1 FROM strike_log JOIN entry ON entry.id = strike_log.entry_id "
        "JOIN contest ON contest.id = entry.contest_id "
        "WHERE strike_log.id = OLD.strike_log_id AND contest.phase = 'draft' "
        "AND contest.rules_text LIKE '# A practice night: nobody is ranked.%') "
        "BEGIN SELECT RAISE(ABORT, 'hearing is kept for good'); END"
    )
    for table in ("recording", "strike_log"):
        op.add_column(table, sa.Column("is_second", sa.Boolean(), nullable=False, server_default=sa.false()))
