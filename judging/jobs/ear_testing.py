"""Ear tests as sound: a test is known by its name alone, from which its faults and its file are made.

No answer is kept, nor who took a test. Of the files the newest are kept; one that was thrown away is made again.
"""

import hashlib
import json
import re
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Final, Literal

from sqlmodel import Session, col, select

from judging.jobs.queue import enqueue
from judging.jobs.sound_task import SOUND_VERSION, call_to_sound
from judging.jobs.task_frame import Call
from judging.marks.ear_test import Planted, displaced, plant, rung_in_test
from judging.piece.piece import Piece
from judging.store.engine import Store
from judging.store.service_tables import StoredJob
from judging.striking import StrikeLog

Rung = Literal["rounds", "hunting"]

#: Bells and rows that are offered; an even number of bells, so that all of them hunt.
BELLS: Final = (6, 8)
ROWS: Final = (120, 240)
#: Pace, as the minutes of a peal: about what is rung on light and on heavy bells.
PEAL_MINUTES: Final = (140, 220)
#: So many tests of each kind.
TESTS: Final = 99
#: So many tests' files stay on the disk, at about 2 MB a minute.
KEPT: Final = 20

_NAME = re.compile(r"(6|8)-(rounds|hunting)-([1-9]\d\d)-(120|240)-([1-9]\d?)")

#: Silence before the first blow.
_LEAD_IN_S = 1.0


@dataclass(frozen=True)
class EarTest:
    """One test.

    Parameters
    ----------
    bells, rows : int
        One of `BELLS` and of `ROWS`.
    rung : {"rounds", "hunting"}
        What is rung.
    peal_minutes : int
        Pace, within `PEAL_MINUTES`.
    number : int
        Which of its kind, from 1 to `TESTS`.
    """

    bells: int
    rung: Rung
    peal_minutes: int
    rows: int
    number: int

    @property
    def name(self) -> str:
        """Name, such as ``"6-rounds-165-120-17"``; `ear_test_named` reads it back."""
        return f"{self.bells}-{self.rung}-{self.peal_minutes}-{self.rows}-{self.number}"

    @cached_property
    def piece(self) -> Piece:
        """What is rung."""
        return rung_in_test(self.bells, self.rows, hunting=self.rung == "hunting")

    @property
    def gap_s(self) -> float:
        """Time between successive blows."""
        from judging.sounding.steady import gap_s  # noqa: PLC0415 nothing else of the service makes sound

        return gap_s(self.bells, peal_minutes=self.peal_minutes, handstroke_gap=1.0)

    @cached_property
    def planted(self) -> tuple[Planted, ...]:
        """Its faults."""
        return plant(self.piece, gap_s=self.gap_s, seed=int(hashlib.sha256(self.name.encode()).hexdigest()[:12], 16))

    @cached_property
    def log(self) -> StrikeLog:
        """Every blow, faults and all, on the clock of the file."""
        from judging.sounding.steady import ideal_log  # noqa: PLC0415 nothing else of the service makes sound

        ideal = ideal_log(self.piece, peal_minutes=self.peal_minutes)
        later = StrikeLog(ideal.times_s + _LEAD_IN_S, ideal.bells, ideal.spread_ms, ideal.source)
        return displaced(later, self.planted, bells=self.bells)


def ear_test_named(name: str) -> EarTest | None:
    """Return the test of a name; None where there is none such."""
    found = _NAME.fullmatch(name)
    if not found:
        return None
    test = EarTest(int(found[1]), "rounds" if found[2] == "rounds" else "hunting", *map(int, found.groups()[2:]))
    is_offered = PEAL_MINUTES[0] <= test.peal_minutes <= PEAL_MINUTES[1] and test.number <= TESTS
    return test if is_offered else None


def ear_test_path(store: Store, test: EarTest) -> Path:
    """Return where the file of a test is, if it has been made."""
    return store.data / "sounds" / f"{hashlib.sha256(_input(test).encode()).hexdigest()}.flac"


def ear_test_job(session: Session, test: EarTest) -> StoredJob | None:
    """Return the job that makes a test's sound, if it was asked for."""
    sha256 = hashlib.sha256(_input(test).encode()).hexdigest()
    return session.exec(select(StoredJob).where(StoredJob.kind == "ear test", StoredJob.input_sha256 == sha256)).first()


def enqueue_test(session: Session, store: Store, test: EarTest) -> StoredJob:
    """Ask for a test's sound.

    Parameters
    ----------
    session : Session
        A writing session.
    store : Store
        Whose file is looked for: a job that is done whose file was thrown away is done again.
    test : EarTest
        Which.

    Returns
    -------
    StoredJob
        Asked for twice, it is one.
    """
    job = enqueue(
        session,
        kind="ear test",
        input_sha256=hashlib.sha256(_input(test).encode()).hexdigest(),
        engine_version=SOUND_VERSION,
        params={"test": test.name},
        makes=ear_test_path(store, test),
    )
    for old in session.exec(
        select(StoredJob)
        .where(StoredJob.kind == "ear test", StoredJob.state == "done")
        .order_by(col(StoredJob.finished_at).desc())
        .offset(KEPT)
    ):
        gone = ear_test_named(json.loads(old.params_json)["test"])
        if gone is not None:
            ear_test_path(store, gone).unlink(missing_ok=True)
    return job


def call_test(_session: Session, store: Store, job: StoredJob) -> Call:
    """Return what `sound_task` is handed for a test's job."""
    test = ear_test_named(json.loads(job.params_json)["test"])
    if test is None:
        raise ValueError(f"job {job.id} makes no ear test")
    return call_to_sound(test.log, test.bells, ear_test_path(store, test))


def _input(test: EarTest) -> str:
    return f"{SOUND_VERSION}\near test\n{test.name}"
