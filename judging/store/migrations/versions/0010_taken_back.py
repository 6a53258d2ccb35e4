"""When a band took its recording back, after which none of it is kept."""

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column."""
    op.add_column("entry", sa.Column("recording_taken_back_at", sa.DateTime(timezone=True), nullable=True))
