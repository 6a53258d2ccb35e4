"""The whole service copied to a second place, verified, and brought back from there.

A backup is a folder: the database as of one moment, every recording it refers to, and ``backup.json`` with the
SHA-256 of each file, the head of the audit chain and the version that wrote it. It is written under another name,
synced and renamed, so that a folder of the right name is a whole backup.
"""

import json
import os
import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import file_digest
from pathlib import Path, PurePosixPath

from pydantic import BaseModel, ConfigDict, ValidationError
from sqlalchemy.exc import DatabaseError
from sqlmodel import Session

from judging import __version__
from judging.errors import InputError
from judging.store.audit import verify_chain
from judging.store.database_copy import check_database, copy_database
from judging.store.engine import DATABASE_NAME, database_engine
from judging.store.evidence import wanted_recordings
from judging.store.recordings import sync_folder

LIST_NAME = "backup.json"
_FORM = "evenblow backup 1"
_RECORDINGS = "recordings"


@dataclass(frozen=True, slots=True)
class BackupReport:
    """What a backup holds.

    Parameters
    ----------
    folder : Path
        Where it is.
    recordings : int
        How many.
    missing : tuple of str
        SHA-256 of recordings that the database refers to but that were not there.
    audit_head : str
        Head of the audit chain, as papers print it.
    """

    folder: Path
    recordings: int
    missing: tuple[str, ...]
    audit_head: str


class _BackupList(BaseModel):
    """The text of ``backup.json``."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    form: str
    version: str
    made_at: str
    audit_head: str
    files: dict[str, str]  # name in the backup → SHA-256
    missing: tuple[str, ...]


def backup(data: Path, target: Path) -> BackupReport:
    """Copy a data folder, while the service runs, into a new folder.

    Parameters
    ----------
    data : Path
        The data folder.
    target : Path
        A folder that does not exist yet, best on another disk.

    Returns
    -------
    BackupReport
        What was copied; ``missing`` names recordings that could not be.

    Raises
    ------
    InputError
        Nothing to back up, the target exists, or what was copied is not whole.
    """
    if not (data / DATABASE_NAME).is_file():
        raise InputError(str(data), "holds no Evenblow database; is it the data folder")
    if target.exists():
        raise InputError(str(target), "is there already; a backup goes into a new folder")
    with _appearing_whole(target) as part:
        (part / _RECORDINGS).mkdir()
        copy_database(data / DATABASE_NAME, part / DATABASE_NAME)
        try:
            with _reading(part / DATABASE_NAME) as session:
                wanted, head = sorted(wanted_recordings(session)), verify_chain(session)
        except DatabaseError as problem:
            raise InputError(
                str(data / DATABASE_NAME),
                f"has not the tables of this Evenblow ({problem.orig}); was it written by another version? Starting "
                "the service once keeps a copy of it and brings an older one up to date",
            ) from problem
        there = [sha256 for sha256 in wanted if (data / _RECORDINGS / sha256).is_file()]
        files = {DATABASE_NAME: _hash(part / DATABASE_NAME)}
        for sha256 in there:
            name = f"{_RECORDINGS}/{sha256}"
            files[name] = sha256
            _copy_verified(data / name, part / name, sha256)
        report = BackupReport(target, len(there), tuple(sorted(set(wanted) - set(there))), str(head))
        listed = _BackupList(
            form=_FORM,
            version=__version__,
            made_at=datetime.now(UTC).isoformat(timespec="seconds"),
            audit_head=report.audit_head,
            files=files,
            missing=report.missing,
        )
        _write_synced(part / LIST_NAME, listed.model_dump_json(indent=1).encode())
    return report


def restore(source: Path, data: Path) -> BackupReport:
    """Bring a backup back into an empty data folder, after reading all of it through.

    Parameters
    ----------
    source : Path
        A backup.
    data : Path
        A folder that does not exist yet or is empty.

    Returns
    -------
    BackupReport
        What was brought back.

    Raises
    ------
    InputError
        The source is no backup or not whole, or the folder is in use.
    """
    listed = _read_list(source / LIST_NAME)
    if data.exists() and (not data.is_dir() or any(data.iterdir())):
        raise InputError(str(data), "is not empty; a backup is restored into a new folder, so that nothing is lost")
    with _appearing_whole(data) as part:
        (part / _RECORDINGS).mkdir(mode=0o700)
        # Only what is listed: a log file left beside the database would be played back into it.
        for name, sha256 in listed.files.items():
            _copy_verified(source / name, part / name, sha256)
        check_database(part / DATABASE_NAME)
        with _reading(part / DATABASE_NAME) as session:
            head = str(verify_chain(session))
        if head != listed.audit_head:
            raise InputError(str(source), f"its audit chain ends at {head}, its list says {listed.audit_head}")
    return BackupReport(data, len(listed.files) - 1, listed.missing, head)


@contextmanager
def _appearing_whole(folder: Path) -> Iterator[Path]:
    """Yield a folder to fill, which gets its right name at the end, and is gone after any error."""
    part = folder.with_name(f".{folder.name}-{secrets.token_hex(8)}.part")
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        part.mkdir(mode=0o700)
        yield part
        for inner in (part / _RECORDINGS, part):
            sync_folder(inner)
        if folder.exists():
            folder.rmdir()
        part.replace(folder)
        sync_folder(folder.parent)
    except OSError as problem:
        raise InputError(str(folder), f"cannot be written ({problem.strerror})") from problem
    finally:
        shutil.rmtree(part, ignore_errors=True)  # harmless once it has its right name


@contextmanager
def _reading(path: Path) -> Iterator[Session]:
    """Yield a session on a database that nobody else uses."""
    engine = database_engine(path, writes=False, alone=True)
    try:
        with Session(engine) as session:
            yield session
    finally:
        engine.dispose()


def _copy_verified(source: Path, target: Path, sha256: str) -> None:
    """Copy a file, put it on the disk, and read the copy through."""
    try:
        shutil.copyfile(source, target)
    except FileNotFoundError as problem:
        raise InputError(str(source), "is missing from the backup") from problem
    with target.open("rb+") as file:
        os.fsync(file.fileno())
    if _hash(target) != sha256:
        raise InputError(str(source), "was changed since it was written: its SHA-256 is not the one listed")


def _hash(path: Path) -> str:
    with path.open("rb") as file:
        return file_digest(file, "sha256").hexdigest()


def _write_synced(path: Path, content: bytes) -> None:
    with path.open("xb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())


def _read_list(path: Path) -> _BackupList:
    """Return a backup's list, with no name in it that leads out of the backup."""
    try:
        listed = _BackupList.model_validate(json.loads(path.read_text(encoding="utf-8")))
    except OSError as problem:
        raise InputError(
            str(path.parent), f"is no backup: it has no {LIST_NAME} to be read ({problem.strerror})"
        ) from problem
    except (ValueError, ValidationError, RecursionError) as problem:
        raise InputError(str(path), "is not the list of a backup; was it cut short") from problem
    if listed.form != _FORM:
        raise InputError(str(path), f"is in the form {listed.form!r}; this version reads {_FORM!r}")
    for name, sha256 in listed.files.items():
        parts = PurePosixPath(name).parts
        if name != DATABASE_NAME and parts != (_RECORDINGS, sha256):
            raise InputError(str(path), f"lists {name!r}, which is no file of a backup")
    if DATABASE_NAME not in listed.files:
        raise InputError(str(path), "lists no database")
    return listed
