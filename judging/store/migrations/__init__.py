"""What alembic runs: `env` and the versions, oldest first."""
