"""What a pull-off should sound like, at the pace of a tower that is to be visited: a job that rings it into a file."""

import hashlib
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
from sqlmodel import Session

from judging.jobs.queue import enqueue
from judging.jobs.sound_task import SOUND_VERSION, call_to_sound
from judging.jobs.task_frame import Call
from judging.piece import Piece, read_row
from judging.store.engine import Store
from judging.store.service_tables import StoredJob

#: Long enough to settle into, short enough to hear again and again.
WHOLE_PULLS = 4

#: Quiet before the first blow: a player may take a moment to begin, and listeners too.
LEAD_IN_S = 1.0

#: Extra space before a handstroke lead, in gaps: full open leads, as most towers ring.
OPEN_LEAD = 1.0

KIND = "ideal pull-off"


def gap_ms(bells: int, minutes: int) -> float:
    """Time between blows at a pace, in ms.

    Parameters
    ----------
    bells : int
        How many, covers included.
    minutes : int
        The time of 5,040 rows.

    Returns
    -------
    float
    """
    from judging.sounding.steady import gap_s  # noqa: PLC0415 the rest of that room makes sound

    return 1000 * gap_s(bells, peal_minutes=minutes, handstroke_gap=OPEN_LEAD)


def ideal_path(store: Store, row: str, minutes: int) -> Path:
    """Return where the sound of an ideal pull-off is, if it has been made."""
    said = f"{SOUND_VERSION}\n{KIND}\n{row}\n{minutes}\n{LEAD_IN_S}"
    return store.data / "sounds" / f"{hashlib.sha256(said.encode()).hexdigest()}.flac"


def enqueue_ideal(session: Session, store: Store, row: str, minutes: int) -> StoredJob:
    """Ask for an ideal pull-off; asked for twice, it is one, and made again where its file was thrown away."""
    return enqueue(
        session,
        kind=KIND,
        input_sha256=hashlib.sha256(row.encode()).hexdigest(),
        engine_version=SOUND_VERSION,
        params={"row": row, "minutes": minutes},
        makes=ideal_path(store, row, minutes),
    )


def call_ideal(_session: Session, store: Store, job: StoredJob) -> Call:
    """Return what `judging.jobs.sound_task.sound_task` is handed for a job."""
    from judging.sounding.steady import ideal_log  # noqa: PLC0415 the rest of that room makes sound

    params = json.loads(job.params_json)
    row = read_row(params["row"], where="row")
    piece = Piece("an ideal pull-off", np.tile(row, (2 * WHOLE_PULLS, 1)))
    log = ideal_log(piece, peal_minutes=params["minutes"], handstroke_gap=OPEN_LEAD)
    log = replace(log, times_s=log.times_s + LEAD_IN_S)
    return call_to_sound(log, len(row), ideal_path(store, params["row"], params["minutes"]))
