"""Where bells ring several times in a recording: which stretch was heard, and whether that is sure."""

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the columns."""
    op.add_column("hearing", sa.Column("segments_json", sa.String(), nullable=False, server_default="[]"))
    op.add_column("hearing", sa.Column("segment_is_sure", sa.Boolean(), nullable=False, server_default=sa.true()))
