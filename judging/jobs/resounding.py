"""Recordings of what a band might sound like, rung on made-up bells: a job that turns a strike log into a file.

Three ways of hearing a log: *as rung*, where there is no recording to hear; *steady*, the same rows at the band's own
pace without a fault; and *repaired*, the band's own touch with its first habit put right. All are on the clock of the
log, so that a moment of one is the same moment of the others. The file's name says what it was made from: it can be
thrown away at any time, and is made again.
"""

import hashlib
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Literal

from sqlmodel import Session

from judging import __version__
from judging.contest import read_rules
from judging.errors import JudgingError, RuleError
from judging.jobs.limits import Limits, limited
from judging.jobs.queue import do_again, enqueue
from judging.jobs.tasks import ProgressFile, Refused
from judging.piece import piece_from_file
from judging.store.engine import Store
from judging.store.evidence import strike_log_of
from judging.store.lookups import piece_of
from judging.store.service_tables import StoredJob
from judging.store.tables import StoredContest, StoredEntry, StoredStrikeLog
from judging.striking import count_striking, read_log, write_log
from judging.striking.repairing import repaired, rung_steadily
from judging.striking.values import Count, Habit

Way = Literal["as rung", "steady", "repaired"]
WAYS: tuple[Way, ...] = ("as rung", "steady", "repaired")

#: Changes whenever the same log would sound differently.
SOUND_VERSION = f"bells {__version__}"

#: The made-up ring that every band is heard on, so that bands can be compared.
_RING_SEED = 1657


def sound_path(store: Store, log: StoredStrikeLog, way: Way, rules_text: str) -> Path:
    """Return where the file of a log is, if it has been made.

    Parameters
    ----------
    store : Store
        Open.
    log : StoredStrikeLog
        What is heard.
    way : {"as rung", "steady", "repaired"}
        How.
    rules_text : str
        Which decide what a habit costs, and so which is put right.

    Returns
    -------
    Path
        In the folder ``sounds`` of the data folder; named by what it is made from.
    """
    said = f"{SOUND_VERSION}\n{log.sha256}\n{way}\n{rules_text}"
    return store.data / "sounds" / f"{hashlib.sha256(said.encode()).hexdigest()}.flac"


def enqueue_sound(session: Session, store: Store, entry: StoredEntry, way: Way) -> StoredJob:
    """Ask for a way of hearing an entry.

    Parameters
    ----------
    session : Session
        A writing session.
    store : Store
        Whose file is looked for: a job that is done whose file was thrown away is done again.
    entry : StoredEntry
        With a strike log.
    way : {"as rung", "steady", "repaired"}
        How.

    Returns
    -------
    StoredJob
        Asked for twice, it is one.

    Raises
    ------
    RuleError
        The entry has no strike log.
    """
    log = strike_log_of(session, entry.id or 0)
    if log is None:
        raise RuleError(f"{entry.key} has no strike log yet, so there is nothing to ring.")
    rules = session.get_one(StoredContest, entry.contest_id).rules_text
    job = enqueue(
        session,
        kind="sound",
        input_sha256=log.sha256,
        engine_version=SOUND_VERSION,
        params={"entry": entry.id, "way": way, "rules_sha256": hashlib.sha256(rules.encode()).hexdigest()},
        entry_id=entry.id,
    )
    if job.state == "done" and not sound_path(store, log, way, rules).is_file():
        do_again(session, job)
    return job


def first_habit(count: Count, name: str) -> Habit:
    """Return the habit that is put right: the first that is about some bells, as the sheet has it.

    Raises
    ------
    RuleError
        The band has none.
    """
    for habit in count.habits:
        if habit.bells and not habit.praise:
            return habit
    raise RuleError(f"{name} has no habit that could be put right.")


def sound_task(
    log_csv: str, bells: int, path: str, *, progress_path: str = "", limits: Limits | None = None
) -> str | Refused:
    """Ring a strike log into a file.

    Parameters
    ----------
    log_csv : str
        The log; its first blow is as long after the beginning of the file as after the log's zero.
    bells : int
        How many ring.
    path : str
        The file, whose folder exists.
    progress_path : str
        A file to write progress to; empty for none.
    limits : Limits or None
        Memory and time that may be used.

    Returns
    -------
    str or Refused
        The file, or why there is none.
    """
    try:
        with limited(limits):
            from judging.sounding import ring_of_bells, ring_to_file  # noqa: PLC0415 only a worker makes sound

            log = read_log(log_csv.encode(), name="strike log", bells=bells)
            ring_to_file(
                Path(path),
                log,
                bells=ring_of_bells(bells, seed=_RING_SEED),
                seed=_RING_SEED,
                lead_in_s=max(float(log.times_s[0]), 0.0),
                progress=ProgressFile(progress_path),
            )
            return path
    except JudgingError as problem:
        return Refused(str(problem))
    except MemoryError:
        return Refused("the ringing: is too long to be rung within the memory that one job may take")


def call_sound(session: Session, store: Store, job: StoredJob) -> tuple[tuple[str, int, str], Mapping[str, Limits]]:
    """Return what `sound_task` is handed for a job, by position and by name."""
    params = json.loads(job.params_json)
    entry = session.get_one(StoredEntry, params["entry"])
    stored = strike_log_of(session, entry.id or 0)
    if stored is None:
        raise RuleError(f"{entry.key} has no strike log any more.")
    rules_text = session.get_one(StoredContest, entry.contest_id).rules_text
    file = piece_of(session, entry)
    piece = piece_from_file(file.file_name, file.text)
    log = read_log(stored.csv.encode(), name=f"strike log of {entry.key}", bells=piece.bells)
    if params["way"] != "as rung":
        count = count_striking(log, piece, read_rules(rules_text, name="rules.toml").counting, name=entry.key)
        log = rung_steadily(count) if params["way"] == "steady" else repaired(count, first_habit(count, entry.key))
    path = sound_path(store, stored, params["way"], rules_text)
    path.parent.mkdir(exist_ok=True)
    settings = store.settings
    return (
        (write_log(log), piece.bells, str(path)),
        {"limits": Limits(settings.worker_memory_bytes, settings.job_seconds)},
    )
