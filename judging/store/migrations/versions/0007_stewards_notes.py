"""What the steward notes of a band's turn: its practice, and what happened."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the columns."""
    for name in ("practice_began_at", "practice_ended_at"):
        op.add_column("entry", sa.Column(name, sa.DateTime(timezone=True), nullable=True))
    op.add_column("entry", sa.Column("incidents", sa.String(), nullable=False, server_default=""))
