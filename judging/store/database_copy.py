"""One database file copied while it is in use: as of one moment, checked, and there only when whole.

A plain copy of the file would not do: what was committed last is still in the log beside it.
"""

import os
import secrets
import sqlite3
from contextlib import closing
from pathlib import Path

from judging.errors import InputError
from judging.store.recordings import sync_folder


def copy_database(source: Path, target: Path) -> None:
    """Copy one database as of one moment while it is in use; checked, and there only when whole.

    Parameters
    ----------
    source, target : Path
        Files; the target's folder must exist.

    Raises
    ------
    InputError
        The database or the copy is damaged.
    """
    part = target.with_name(f".{target.name}-{secrets.token_hex(8)}.part")
    try:
        with closing(sqlite3.connect(source)) as live, closing(sqlite3.connect(part)) as copy:
            live.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")  # one file, with no log beside it
        check_database(part)
        with part.open("rb+") as file:
            os.fsync(file.fileno())
        part.replace(target)
        sync_folder(target.parent)
    except sqlite3.DatabaseError as problem:
        raise InputError(str(source), f"is not a usable database ({problem})") from problem
    finally:
        part.unlink(missing_ok=True)


def check_database(path: Path) -> None:
    """Read a database through.

    Raises
    ------
    InputError
        It is no database, or damaged.
    """
    try:
        with closing(sqlite3.connect(path)) as database:
            found = [row[0] for row in database.execute("PRAGMA integrity_check")]
            orphans = database.execute("PRAGMA foreign_key_check").fetchall()
    except sqlite3.DatabaseError as problem:
        raise InputError(path.name, f"is not a usable database ({problem})") from problem
    if found != ["ok"] or orphans:
        raise InputError(path.name, f"is damaged ({'; '.join(found[:3])}; {len(orphans)} broken references)")
