"""Listening to a microphone for an evening: a worker process for each practice night, fed block by block.

The server takes blocks in and hands them on; the ear is in the worker, so that a long evening, or a crash, costs the
pages nothing. A worker that dies, or is not fed for a while, is gone; the next block is refused, and the page begins
anew. What was heard is kept in the store as soon as it is told. The sound itself is never written down.
"""

import logging
import multiprocessing
import queue
import secrets
import threading
import time
from dataclasses import dataclass, replace
from multiprocessing.context import SpawnProcess
from typing import Any, Self

from judging.errors import RuleError
from judging.jobs.limits import Limits, limited
from judging.store.engine import Store
from judging.store.evenings import add_stand

log = logging.getLogger(__name__)

#: Blocks that may wait for the worker (half a second each): while it hears a stand, nothing may be lost.
_MOST_WAITING = 60
#: How long a block may wait to be taken before the sender is told to send it again.
_PATIENCE_S = 5.0
#: A worker that is fed nothing for so long is ended; its page was closed.
IDLE_S = 120.0
#: Microphones listened to at once, which take a core each while bells ring.
MOST_AT_ONCE = 4
#: Largest and smallest block: a second at the highest rate, and a sample.
MOST_BLOCK_BYTES = 2 * 192_000
#: A working day, after which the worker is replaced in any case.
_LONGEST_S = 12 * 3600.0
_EAR = "ear"


@dataclass(frozen=True, slots=True)
class Standing:
    """How a microphone is getting on.

    Parameters
    ----------
    is_ready, is_ringing, is_silent : bool
        Whether the ear has begun to hear; whether bells ring; whether nothing at all comes in.
    told : int
        How many stands have been told since listening began.
    """

    is_ready: bool = False
    is_ringing: bool = False
    is_silent: bool = False
    told: int = 0


class Listening:
    """One microphone that is listened to.

    Parameters
    ----------
    store : Store
        Where stands are kept.
    contest_id : int
        The practice night.
    row : str
        What is pulled off in.
    rate_hz : int
        Of the blocks.
    voices : bytes
        Of the bells, from earlier this evening; empty for none.
    """

    def __init__(self, store: Store, contest_id: int, row: str, rate_hz: int, *, voices: bytes = b"") -> None:
        self.stream = secrets.token_urlsafe(9)
        self.contest_id = contest_id
        self.row = row
        self.voices = voices
        self.standing = Standing()
        self.next = 0
        self._store = store
        self._lock = threading.Lock()
        self._fed_at = time.monotonic()
        spawn = multiprocessing.get_context("spawn")
        self._blocks = spawn.Queue(_MOST_WAITING)
        self._answers = spawn.SimpleQueue()
        self._worker: SpawnProcess = spawn.Process(
            target=_listen,
            args=(row, rate_hz, voices, self._blocks, self._answers, store.settings.worker_memory_bytes),
            daemon=True,
        )
        self._worker.start()
        self._reader = threading.Thread(target=self._read, name=f"listening {contest_id}", daemon=True)
        self._reader.start()

    @property
    def is_alive(self) -> bool:
        """Whether it can take blocks."""
        return self._worker.is_alive()

    @property
    def is_idle(self) -> bool:
        """Whether it has not been fed for so long that nobody can be there."""
        return time.monotonic() - self._fed_at > IDLE_S

    def take(self, number: int, block: bytes) -> bool:
        """Take a block in.

        Parameters
        ----------
        number : int
            Its number, from 0. One that was had already is had; where numbers are left out, sound was lost.
        block : bytes
            Samples of 16 bits, little-endian, mono.

        Returns
        -------
        bool
            False where the worker cannot keep up and the block is to be sent again.
        """
        with self._lock:
            self._fed_at = time.monotonic()
            if number < self.next:
                return True
            try:
                self._blocks.put((number > self.next, block), timeout=_PATIENCE_S)
            except queue.Full:
                return False
            self.next = number + 1
            return True

    def stop(self) -> None:
        """End the worker; what is being rung is not heard."""
        self._worker.terminate()
        self._worker.join()
        self._reader.join(timeout=5)
        self._blocks.close()
        self._blocks.cancel_join_thread()

    def _read(self) -> None:
        """Keep what the worker tells, until it ends."""
        while self._worker.is_alive() or not self._answers.empty():
            if self._answers.empty():
                time.sleep(0.05)
                continue
            try:
                kind, *told = self._answers.get()
            except (EOFError, OSError):  # it was ended in the middle of a word
                return
            if kind == "standing":
                is_ringing, is_silent = told
                self.standing = Standing(True, is_ringing, is_silent, self.standing.told)
            elif kind == "voices":
                (self.voices,) = told
            else:
                self._keep(*told)

    def _keep(self, csv: str, notes: tuple[str, ...], problem: str) -> None:
        try:
            with self._store.write() as session:
                add_stand(session, self.contest_id, row=self.row, csv=csv, notes=notes, problem=problem, who=_EAR)
        except Exception:  # a full disk must not end the evening
            log.exception("A stand of practice night %d could not be kept", self.contest_id)
        self.standing = replace(self.standing, told=self.standing.told + 1)


class Listenings:
    """The microphones that are listened to; a context manager that ends them all.

    Parameters
    ----------
    store : Store
        Open for as long.
    """

    def __init__(self, store: Store) -> None:
        self._store = store
        self._lock = threading.Lock()
        self._of: dict[int, Listening] = {}

    def __enter__(self) -> Self:
        """Begin with none."""
        return self

    def __exit__(self, *_: object) -> None:
        """End all."""
        with self._lock:
            for listening in self._of.values():
                listening.stop()
            self._of.clear()

    def begin(self, contest_id: int, row: str, rate_hz: int) -> Listening:
        """Begin to listen for a practice night, instead of what was listened to for it before.

        Raises
        ------
        RuleError
            Too many microphones are listened to.
        """
        with self._lock:
            before = self._of.pop(contest_id, None)
            for gone in [key for key, one in self._of.items() if one.is_idle or not one.is_alive]:
                self._of.pop(gone).stop()
            if before is not None:
                before.stop()
            if len(self._of) >= MOST_AT_ONCE:
                raise RuleError(
                    f"{MOST_AT_ONCE} practice nights are being listened to already; stop one of them first."
                )
            voices = before.voices if before is not None and before.row == row else b""
            listening = self._of[contest_id] = Listening(self._store, contest_id, row, rate_hz, voices=voices)
            return listening

    def of(self, contest_id: int, stream: str) -> Listening | None:
        """Return what is listened to under a stream's name, if it still is."""
        with self._lock:
            listening = self._of.get(contest_id)
            return listening if listening is not None and listening.stream == stream and listening.is_alive else None

    def stop(self, contest_id: int) -> None:
        """End listening for a practice night; its bells' voices are forgotten."""
        with self._lock:
            listening = self._of.pop(contest_id, None)
        if listening is not None:
            listening.stop()


def _listen(row: str, rate_hz: int, voices: bytes, blocks: Any, answers: Any, memory_bytes: int) -> None:  # noqa: ANN401 queues of multiprocessing
    """Hear blocks in a worker process until none come for a while."""
    import numpy as np  # noqa: PLC0415 only a worker loads what hears

    from judging.ear import voices_from_bytes, voices_to_bytes  # noqa: PLC0415
    from judging.jobs.pull_offs_live import PullOffsLive  # noqa: PLC0415
    from judging.piece import read_row  # noqa: PLC0415
    from judging.striking import write_log  # noqa: PLC0415

    kept = voices_from_bytes(voices, "the voices of this evening") if voices else None
    live = PullOffsLive(read_row(row, where="row"), rate_hz, voices=kept)
    known = live.ear.voices
    with limited(Limits(memory_bytes, _LONGEST_S)):
        while True:
            try:
                lost, block = blocks.get(timeout=IDLE_S)
            except queue.Empty:
                return
            told = live.lose() if lost else []
            samples = np.frombuffer(block, "<i2").astype(np.float32) / np.float32(32_768)
            told += live.feed(samples)
            answers.put(("standing", live.ear.is_ringing, live.ear.is_silent))
            for one in told:
                answers.put(("told", "" if one.log is None else write_log(one.log), one.notes, one.problem))
            if live.ear.voices is not known and live.ear.voices is not None:
                known = live.ear.voices
                answers.put(("voices", voices_to_bytes(known)))
