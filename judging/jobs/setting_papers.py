"""Long papers set by a worker: a job that turns a paper's values into its file.

What is set is kept by what it is made from, so that a file can be thrown away at any time and is never out of date.
"""

import hashlib
import json
from dataclasses import asdict
from pathlib import Path

from sqlmodel import Session, select

from judging import __version__
from judging.errors import InputError
from judging.jobs.queue import enqueue
from judging.jobs.task_frame import Call
from judging.jobs.workers import Step
from judging.papers import Setting
from judging.store.engine import Store
from judging.store.service_tables import StoredJob

#: Changes whenever the same values would look different.
PAPER_VERSION = f"papers {__version__}"


def paper_path(store: Store, sha256: str) -> Path:
    """Return where the paper of a setting is, if it has been set; in the folder ``papers`` of the data folder."""
    return _file(store, sha256, "pdf")


def paper_asked_for(store: Store, sha256: str) -> Setting | None:
    """Return what was asked to be set; None where nobody has asked for it."""
    try:
        return Setting(**json.loads(_file(store, sha256, "json").read_text(encoding="utf-8")))
    except FileNotFoundError:
        return None


def paper_job(session: Session, sha256: str) -> StoredJob | None:
    """Return the job that sets a paper; None where nobody has asked for it."""
    return session.exec(
        select(StoredJob).where(
            StoredJob.kind == "paper", StoredJob.input_sha256 == sha256, StoredJob.engine_version == PAPER_VERSION
        )
    ).first()


def enqueue_paper(session: Session, store: Store, setting: Setting) -> StoredJob:
    """Ask for a paper to be set.

    Parameters
    ----------
    session : Session
        A writing session.
    store : Store
        Where its values are put for the worker, and its file will be.
    setting : Setting
        The paper.

    Returns
    -------
    StoredJob
        Asked for twice, it is one; a paper whose file was thrown away is set again.
    """
    given = _file(store, setting.sha256, "json")
    given.parent.mkdir(parents=True, exist_ok=True)
    _write(given, json.dumps(asdict(setting), ensure_ascii=False).encode())
    return enqueue(
        session,
        kind="paper",
        input_sha256=setting.sha256,
        engine_version=PAPER_VERSION,
        makes=paper_path(store, setting.sha256),
    )


def paper_task(given_path: str, path: str, *, progress: Step) -> str:
    """Set a paper into a file.

    Parameters
    ----------
    given_path : str
        A file with the paper's values.
    path : str
        The paper's file, whose folder exists.
    progress : Step
        Told how far it is.

    Returns
    -------
    str
        The file.

    Raises
    ------
    InputError
        What it is made from is gone, or there is no room for it.
    """
    try:
        progress(0.05, "reading what is to be set")
        setting = Setting(**json.loads(Path(given_path).read_text(encoding="utf-8")))
        progress(0.1, f"setting the pages, about {max(1, round(setting.expected_ms / 1000))} s")
        content = setting.pdf()
        progress(0.95, "keeping the file")
        _write(Path(path), content)
    except OSError:
        cause = "what it is made from is gone from the disk, or the disk is full; ask for it again"
        raise InputError("the paper", cause) from None
    return path


def call_paper(_session: Session, store: Store, job: StoredJob) -> Call:
    """Return what `paper_task` is handed for a job."""
    files = tuple(str(_file(store, job.input_sha256, kind)) for kind in ("json", "pdf"))
    return Call(files, too_large="the paper: is too long to be set within the memory that one job may take")


def _file(store: Store, sha256: str, kind: str) -> Path:
    name = hashlib.sha256(f"{PAPER_VERSION}\n{sha256}".encode()).hexdigest()
    return store.data / "papers" / f"{name}.{kind}"


def _write(path: Path, content: bytes) -> None:
    """Write a whole file or none."""
    temporary = path.with_suffix(f"{path.suffix}.part")
    temporary.write_bytes(content)
    temporary.replace(path)
