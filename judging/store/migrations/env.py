"""What alembic runs: always on the connection it is handed, inside the transaction already begun there."""

from alembic import context

from judging.store import service_tables
from judging.store.columns import Base

assert service_tables.StoredAudit.metadata is Base.metadata  # noqa: S101 all tables must be known before comparing

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Base.metadata,
    render_as_batch=True,  # SQLite alters a table by making it anew
    transactional_ddl=True,  # the writing engine begins transactions itself, so DDL rolls back with the rest
)
context.run_migrations()
