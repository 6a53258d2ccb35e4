"""Strike logs of a practice night may be erased by whoever it belongs to; those of contests stay for good."""

from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Let the first line of a night's rules tell it from a contest."""
    op.execute("DROP TRIGGER strike_log_no_delete")
    op.execute(
        "CREATE TRIGGER strike_log_no_delete BEFORE DELETE ON strike_log "
        "WHEN NOT EXISTS (SELECT 1 FROM entry JOIN contest ON contest.id = entry.contest_id "
        "WHERE entry.id = OLD.entry_id AND contest.phase = 'draft' "
        "AND contest.rules_text LIKE '# A practice night: nobody is ranked.%') "
        "BEGIN SELECT RAISE(ABORT, 'strike_log is kept for good'); END"
    )
