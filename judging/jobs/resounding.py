"""Recordings of what a band might sound like, on made-up bells or its tower's own: a job that rings a log into a file.

Three ways of hearing a log: *as rung*, where there is no recording to hear; *steady*, the same rows at the band's own
pace without a fault; and *repaired*, the band's own touch with its first habit put right. All are on the clock of the
log, so that a moment of one is the same moment of the others. The file's name says what it was made from: it can be
thrown away at any time, and is made again.

What is rung on the tower's own bells is made only when it is asked for, and goes when the recording goes.
"""

import hashlib
import json
from pathlib import Path
from typing import Literal

from sqlmodel import Session, select

from judging.contest import read_rules
from judging.errors import RuleError
from judging.jobs.queue import enqueue
from judging.jobs.sound_task import SOUND_VERSION, Recorded, call_to_sound
from judging.jobs.task_frame import Call
from judging.piece import piece_from_file
from judging.store.engine import Store
from judging.store.evidence import strike_log_of
from judging.store.lookups import piece_of
from judging.store.service_tables import StoredJob
from judging.store.tables import StoredContest, StoredEntry, StoredRecording, StoredStrikeLog
from judging.striking import count_striking, read_log
from judging.striking.repairing import repaired, rung_steadily
from judging.striking.values import Count, Habit

Way = Literal["as rung", "steady", "repaired"]
WAYS: tuple[Way, ...] = ("as rung", "steady", "repaired")


def sound_path(
    store: Store, log: StoredStrikeLog, way: Way, rules_text: str, *, bells_of: StoredRecording | None = None
) -> Path:
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
    bells_of : StoredRecording or None
        The recording whose bells it is rung on; None for made-up bells.

    Returns
    -------
    Path
        In the folder ``sounds`` of the data folder; named by what it is made from.
    """
    said = f"{SOUND_VERSION}\n{log.sha256}\n{way}\n{rules_text}"
    if bells_of is not None:
        said += f"\nbells of {bells_of.sha256}"
    return store.data / "sounds" / f"{hashlib.sha256(said.encode()).hexdigest()}.flac"


def enqueue_sound(
    session: Session, store: Store, entry: StoredEntry, way: Way, *, bells_of: StoredRecording | None = None
) -> StoredJob:
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
    bells_of : StoredRecording or None
        The entry's recording, whose bells it is to be rung on; None for made-up bells.

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
    on_own = {} if bells_of is None else {"bells_of": bells_of.id}
    return enqueue(
        session,
        kind="sound",
        input_sha256=log.sha256,
        engine_version=SOUND_VERSION,
        params={"entry": entry.id, "way": way, "rules_sha256": hashlib.sha256(rules.encode()).hexdigest()} | on_own,
        entry_id=entry.id,
        makes=sound_path(store, log, way, rules, bells_of=bells_of),
    )


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


def call_sound(session: Session, store: Store, job: StoredJob) -> Call:
    """Return what `sound_task` is handed for a job.

    Raises
    ------
    RuleError
        What is to be rung, or the recording of its bells, is not there any more.
    """
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
    bells_of = session.get_one(StoredRecording, params["bells_of"]) if "bells_of" in params else None
    path = sound_path(store, stored, params["way"], rules_text, bells_of=bells_of)
    if bells_of is None:
        return call_to_sound(log, piece.bells, path)
    if bells_of.erased_at is not None:
        raise RuleError(f"The recording of {entry.key} was erased, so its bells cannot be measured.")
    recorded = Recorded(str(store.recordings.path(bells_of.sha256)), stored.csv)
    return call_to_sound(log, piece.bells, path, recorded=recorded, sha256=bells_of.sha256)


def sounds_made_of(session: Session, store: Store, log: StoredStrikeLog, rules_text: str) -> tuple[Path, ...]:
    """Return every file that may have been made of a log, on made-up bells and on those of any of its recordings.

    Parameters
    ----------
    session : Session
        A reading session will do.
    store : Store
        Where the files are.
    log : StoredStrikeLog
        What was rung.
    rules_text : str
        As in `sound_path`.

    Returns
    -------
    tuple of Path
        Whether there or not.
    """
    recordings = session.exec(select(StoredRecording).where(StoredRecording.entry_id == log.entry_id)).all()
    return tuple(
        sound_path(store, log, way, rules_text, bells_of=recording) for way in WAYS for recording in (None, *recordings)
    )
