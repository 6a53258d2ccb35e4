"""The open store: one database and one folder of recordings in a data folder.

Writers and readers are kept apart. `Store.write` begins at once as the only writer (``BEGIN IMMEDIATE``), so that
what it reads cannot change before it writes; `Store.read` may not write at all (``query_only``). Every commit is on
the disk before it is acknowledged (WAL with ``synchronous = FULL``).
"""

import os
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Self

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.engine import make_url
from sqlalchemy.exc import DatabaseError, OperationalError
from sqlmodel import Session

from judging.errors import InputError, RuleError
from judging.store.evidence import wanted_recordings
from judging.store.migrate import migrate
from judging.store.recordings import Recordings
from judging.store.settings import Settings
from judging.store.takes import Takes

DATABASE_NAME = "evenblow.sqlite3"

#: How long a writer waits for the one before it; a write takes about a millisecond, so this is for slow disks.
BUSY_TIMEOUT_MS = 15_000


class Store:
    """Everything the service keeps; open it with `Store.open`, close it when done (it is a context manager).

    Attributes
    ----------
    data : Path
        The data folder.
    settings : Settings
        Limits in force.
    recordings : Recordings
        The recordings' files.
    takes : Takes
        Recordings that are being made, in slices.
    """

    def __init__(self, data: Path, settings: Settings, writer: Engine, reader: Engine) -> None:
        self.data = data
        self.settings = settings
        self.recordings = Recordings(
            data / "recordings",
            max_bytes=settings.max_recording_bytes,
            min_free_bytes=settings.min_free_bytes,
        )
        self.takes = Takes(data / "takes", min_free_bytes=settings.min_free_bytes)
        self._writer = writer
        self._reader = reader

    @classmethod
    def open(cls, data: Path, settings: Settings | None = None) -> Self:
        """Store in a data folder, made where there is none and brought up to the present tables.

        Parameters
        ----------
        data : Path
            The data folder.
        settings : Settings or None
            Limits; read from the environment where None.

        Returns
        -------
        Store
            Ready to be written and read, by several threads and several processes at once.

        Raises
        ------
        InputError
            The folder cannot be used, or was written by a newer version.
        RuleError
            Others have been writing for too long, or the disk is full.
        """
        settings = settings or Settings()
        try:
            data.mkdir(mode=0o700, parents=True, exist_ok=True)
            (data / "recordings").mkdir(mode=0o700, exist_ok=True)
        except OSError as problem:
            raise InputError(str(data), f"cannot be used as a data folder ({problem.strerror})") from problem
        path = data / DATABASE_NAME
        if not os.access(data, os.W_OK):
            raise InputError(str(data), "cannot be used as a data folder (it may not be written to)")
        writer = database_engine(path, writes=True)
        try:
            with _storage_errors(), writer.connect() as connection:
                migrate(connection, path, saved=data / "backups")
        except (sqlite3.DatabaseError, DatabaseError) as problem:
            writer.dispose()
            cause = problem.orig if isinstance(problem, DatabaseError) else problem
            raise InputError(str(path), f"is not a usable database ({cause})") from problem
        return cls(data, settings, writer, database_engine(path, writes=False))

    @contextmanager
    def write(self) -> Iterator[Session]:
        """Session that is the only writer: committed at the end, rolled back on any error.

        Yields
        ------
        Session
            What was loaded in it stays readable afterwards.

        Raises
        ------
        RuleError
            Others have been writing for too long, or the disk is full; nothing was kept.
        """
        with _storage_errors(), Session(self._writer, expire_on_commit=False) as session, session.begin():
            session.connection()  # takes the write lock now, before anything is read
            yield session

    @contextmanager
    def read(self) -> Iterator[Session]:
        """Session that sees one moment of the database and cannot write.

        Yields
        ------
        Session
            What was loaded in it stays readable afterwards.
        """
        with Session(self._reader, expire_on_commit=False, autoflush=False) as session:
            yield session

    def sweep(self, *, older_than_s: float = 86_400.0) -> tuple[str, ...]:
        """Names of files removed from the recordings: cut uploads, and what no entry refers to any more.

        Parameters
        ----------
        older_than_s : float
            Younger files are left, since their row may be on its way.

        Returns
        -------
        tuple of str
            In order.
        """
        with self.write() as session:  # so that no row can come to refer to a file that is being removed
            return self.recordings.sweep(wanted_recordings(session), older_than_s=older_than_s)

    def settle(self) -> None:
        """Write the log beside the database into it and empty it, so that nothing erased is left there.

        Somebody reading just then may keep it from being emptied; the next writes then go over it.
        """
        connection = self._writer.raw_connection()
        try:
            connection.cursor().execute("PRAGMA wal_checkpoint(TRUNCATE)").close()
        finally:
            connection.close()

    def close(self) -> None:
        """Let go of all connections."""
        self._writer.dispose()
        self._reader.dispose()

    def __enter__(self) -> Self:
        """Return the store itself."""
        return self

    def __exit__(self, *_: object) -> None:
        """Close."""
        self.close()


def database_engine(path: Path, *, writes: bool, alone: bool = False) -> Engine:
    """Engine on one SQLite file, every connection made durable and every transaction begun as it is meant.

    Parameters
    ----------
    path : Path
        The database file.
    writes : bool
        True for ``BEGIN IMMEDIATE``; False for connections that cannot write.
    alone : bool
        True for a file that nobody else uses, such as a copy: it is left without a log beside it.

    Returns
    -------
    Engine
        For `Store.write` or `Store.read`.
    """
    engine = create_engine(make_url("sqlite+pysqlite://").set(database=str(path)))
    begin = "BEGIN IMMEDIATE" if writes else "BEGIN"

    @event.listens_for(engine, "connect")
    def prepare(dbapi: sqlite3.Connection, _record: Any) -> None:  # noqa: ANN401 the pool's own record
        # Python 3.11's sqlite3 would begin transactions by itself, later and weaker than meant.
        dbapi.isolation_level = None
        dbapi.execute(f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}")
        if not alone:
            _use_wal(dbapi)
        # secure_delete: what somebody erased is written over, and not left in the file for a later row to cover.
        for pragma in ("synchronous = FULL", "foreign_keys = ON", "trusted_schema = OFF", "secure_delete = ON"):
            dbapi.execute(f"PRAGMA {pragma}")
        if not writes:
            dbapi.execute("PRAGMA query_only = ON")

    @event.listens_for(engine, "begin")
    def begin_as_meant(connection: Connection) -> None:
        connection.exec_driver_sql(begin)

    return engine


@contextmanager
def _storage_errors() -> Iterator[None]:
    """Say in words what keeps a database from being written."""
    try:
        yield
    except OperationalError as problem:
        code = getattr(problem.orig, "sqlite_errorname", "")
        if code.startswith("SQLITE_BUSY"):
            raise RuleError("Others are writing just now, so nothing was kept; send it again in a moment.") from problem
        if code.startswith("SQLITE_FULL"):
            raise RuleError("The disk is full, so nothing was kept; free some space and send it again.") from problem
        raise


def _use_wal(dbapi: sqlite3.Connection) -> None:
    """Turn write-ahead logging on; SQLite does not wait by itself where two processes open a new file at once."""
    for attempt in range(100):
        try:
            dbapi.execute("PRAGMA journal_mode = WAL")
        except sqlite3.OperationalError:
            if attempt == 99:
                raise
            time.sleep(0.02)
        else:
            return
