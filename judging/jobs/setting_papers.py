"""Long papers set by a worker: a job that turns a paper's values into its file.

What is set is kept by what it is made from, so that a file can be thrown away at any time and is never out of date.
"""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path

from sqlmodel import Session, select

from judging import __version__
from judging.jobs.limits import Limits, limited
from judging.jobs.queue import do_again, enqueue
from judging.jobs.tasks import ProgressFile, Refused
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
    job = enqueue(session, kind="paper", input_sha256=setting.sha256, engine_version=PAPER_VERSION)
    if job.state == "done" and not paper_path(store, setting.sha256).is_file():
        do_again(session, job)
    return job


def paper_task(given_path: str, path: str, *, progress_path: str = "", limits: Limits | None = None) -> str | Refused:
    """Set a paper into a file.

    Parameters
    ----------
    given_path : str
        A file with the paper's values.
    path : str
        The paper's file, whose folder exists.
    progress_path : str
        A file to write progress to; empty for none.
    limits : Limits or None
        Memory and time that may be used.

    Returns
    -------
    str or Refused
        The file, or why there is none.
    """
    progress = ProgressFile(progress_path)
    try:
        with limited(limits):
            progress(0.05, "reading what is to be set")
            setting = Setting(**json.loads(Path(given_path).read_text(encoding="utf-8")))
            progress(0.1, f"setting the pages, about {max(1, round(setting.expected_ms / 1000))} s")
            content = setting.pdf()
            progress(0.95, "keeping the file")
            _write(Path(path), content)
            return path
    except OSError:
        return Refused("the paper: what it is made from is gone from the disk, or the disk is full; ask for it again")
    except MemoryError:
        return Refused("the paper: is too long to be set within the memory that one job may take")


def call_paper(session: Session, store: Store, job: StoredJob) -> tuple[tuple[str, str], Mapping[str, Limits]]:
    """Return what `paper_task` is handed for a job, by position and by name."""
    del session
    given, path = (str(_file(store, job.input_sha256, kind)) for kind in ("json", "pdf"))
    settings = store.settings
    return (given, path), {"limits": Limits(settings.worker_memory_bytes, settings.job_seconds)}


def _file(store: Store, sha256: str, kind: str) -> Path:
    name = hashlib.sha256(f"{PAPER_VERSION}\n{sha256}".encode()).hexdigest()
    return store.data / "papers" / f"{name}.{kind}"


def _write(path: Path, content: bytes) -> None:
    """Write a whole file or none."""
    temporary = path.with_suffix(f"{path.suffix}.part")
    temporary.write_bytes(content)
    temporary.replace(path)
