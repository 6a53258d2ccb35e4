"""Bringing a database up to the present tables, in one transaction: all of it or nothing."""

from datetime import UTC, datetime
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection

from judging.errors import InputError
from judging.store.database_copy import copy_database

MIGRATIONS = Path(__file__).resolve().parent / "migrations"


def alembic_config() -> Config:
    """Return alembic's configuration: the migrations that come with the package, and nothing to read from disk."""
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    return config


def migrate(connection: Connection, path: Path, *, saved: Path) -> None:
    """Upgrade a database to the newest tables, having saved it as it was.

    Parameters
    ----------
    connection : Connection
        A connection of a writing engine, with no transaction begun.
    path : Path
        The database file.
    saved : Path
        Folder in which a copy is kept of a database that is about to be changed.

    Raises
    ------
    InputError
        The database was written by a newer version, whose tables are not known here.
    """
    config = alembic_config()
    script = ScriptDirectory.from_config(config)
    with connection.begin():
        current = MigrationContext.configure(connection).get_current_revision()
        if current is not None and current not in {revision.revision for revision in script.walk_revisions()}:
            raise InputError(
                str(path),
                f"its tables are of version {current}, unknown to this Evenblow; it was written by a newer one",
            )
        if current == script.get_current_head():
            return
        if current is not None:  # it holds something already; as a writer nobody else changes it now
            saved.mkdir(mode=0o700, exist_ok=True)
            moment = datetime.now(UTC).strftime("%Y%m%dT%H%M%SZ")
            copy_database(path, saved / f"tables-{current}-{moment}.sqlite3")
        config.attributes["connection"] = connection
        command.upgrade(config, "head")
