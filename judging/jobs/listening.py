"""Listening to a microphone for an evening: a worker process for each practice night, fed block by block.

The server takes blocks in and hands them on; the ear is in the worker, so that a long evening, or a crash, costs the
pages nothing. A worker takes seconds to load what it hears with, so one is made ready while a page is still being read;
and one that has begun is begun with again when its page is loaded again. A worker that is not fed for a while ends
itself, and one that died is replaced: its next block is refused, and the page begins anew. What was heard is kept in
the store as soon as it is told. The sound itself is never written down.
"""

import logging
import multiprocessing
import queue
import secrets
import threading
import time
from contextlib import suppress
from dataclasses import dataclass, replace
from multiprocessing.context import SpawnProcess
from typing import Self

from judging.errors import RuleError
from judging.jobs.listening_worker import IDLE_S, Stream, listen_to_streams
from judging.store.engine import Store
from judging.store.evenings import add_stand

log = logging.getLogger(__name__)

#: Blocks that may wait for the worker (half a second each): while it hears a stand, nothing may be lost.
_MOST_WAITING = 60
#: How long a block may wait to be taken before the sender is told to send it again.
_PATIENCE_S = 5.0
#: Microphones listened to at once, which take a core each while bells ring.
MOST_AT_ONCE = 4
#: Largest block: half a second of two channels at the highest rate.
MOST_BLOCK_BYTES = 2 * 192_000
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
    """A worker that hears one microphone, or waits for one.

    Parameters
    ----------
    store : Store
        Where stands are kept.
    """

    def __init__(self, store: Store) -> None:
        self.stream = ""
        self.row = ""
        self.channels = 1
        self.voices = b""
        self.standing = Standing()
        self.next = 0
        self._contest_id = 0
        self._store = store
        self._lock = threading.Lock()
        self._fed_at = time.monotonic()
        spawn = multiprocessing.get_context("spawn")
        self._blocks = spawn.Queue(_MOST_WAITING)
        self._answers = spawn.SimpleQueue()
        self._worker: SpawnProcess = spawn.Process(
            target=listen_to_streams,
            args=(self._blocks, self._answers, store.settings.worker_memory_bytes),
            daemon=True,
        )
        self._worker.start()
        self._reader = threading.Thread(target=self._read, name="listening", daemon=True)
        self._reader.start()

    @property
    def is_alive(self) -> bool:
        """Whether it can take blocks."""
        return self._worker.is_alive()

    @property
    def is_idle(self) -> bool:
        """Whether it has not been fed for so long that nobody can be there."""
        return time.monotonic() - self._fed_at > IDLE_S

    def wait(self) -> None:
        """Take in that a page is there, which may begin."""
        self._fed_at = time.monotonic()
        with suppress(queue.Full):
            self._blocks.put_nowait(None)

    def begin(self, contest_id: int, row: str, rate_hz: int, *, channels: int = 1, voices: bytes = b"") -> bool:
        """Begin a stream; what was being rung in the one before is not heard.

        Parameters
        ----------
        contest_id : int
            The practice night.
        row : str
            What is pulled off in.
        rate_hz, channels : int
            Of the blocks.
        voices : bytes
            Of the bells, from before; empty for none.

        Returns
        -------
        bool
            False where the worker cannot take it.
        """
        with self._lock:
            self._fed_at = time.monotonic()
            stream = secrets.token_urlsafe(9)
            try:
                self._blocks.put(Stream(stream, row, rate_hz, channels, voices), timeout=_PATIENCE_S)
            except queue.Full:
                return False
            self.stream, self.row, self.channels, self.voices, self.next = stream, row, channels, voices, 0
            self.standing, self._contest_id = Standing(), contest_id
            return True

    def take(self, number: int, block: bytes) -> bool:
        """Take a block in.

        Parameters
        ----------
        number : int
            Its number, from 0. One that was had already is had; where numbers are left out, sound was lost.
        block : bytes
            Samples of 16 bits, little-endian, one of each channel in turn.

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
                kind, stream, *answer = self._answers.get()
            except (EOFError, OSError):  # it was ended in the middle of a word
                return
            if kind == "told":
                self._keep(*answer)
            elif stream != self.stream:
                continue  # of a page that has been loaded again since
            elif kind == "voices":
                (self.voices,) = answer
            else:
                is_ringing, is_silent = answer
                self.standing = Standing(True, is_ringing, is_silent, self.standing.told)

    def _keep(self, row: str, csv: str, notes: tuple[str, ...], problem: str) -> None:
        try:
            with self._store.write() as session:
                add_stand(session, self._contest_id, row=row, csv=csv, notes=notes, problem=problem, who=_EAR)
        except Exception:  # a full disk must not end the evening
            log.exception("A stand of practice night %d could not be kept", self._contest_id)
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
        self._ready: Listening | None = None

    def __enter__(self) -> Self:
        """Begin with none."""
        return self

    def __exit__(self, *_: object) -> None:
        """End all."""
        with self._lock:
            for listening in [*self._of.values(), *([self._ready] if self._ready else [])]:
                listening.stop()
            self._of.clear()
            self._ready = None

    def make_ready(self, contest_id: int) -> None:
        """Have a worker at hand for a practice night that may begin; one is kept for all that have none.

        It ends itself where nobody says so again, or begins, for `IDLE_S`.
        """
        with self._lock:
            own = self._of.get(contest_id)
            if own is not None and own.is_alive:
                own.wait()
                return
            if len(self._of) >= MOST_AT_ONCE:
                return
            if self._ready is not None and not self._ready.is_alive:
                self._ready.stop()
                self._ready = None
            if self._ready is None:
                self._ready = Listening(self._store)
            self._ready.wait()

    def begin(self, contest_id: int, row: str, rate_hz: int, *, channels: int = 1, voices: bytes = b"") -> Listening:
        """Begin to listen for a practice night, instead of what was listened to for it before.

        The bells' voices are those learnt earlier this evening, or where there are none those given, such as are kept
        with a tower.

        Raises
        ------
        RuleError
            Too many microphones are listened to.
        """
        with self._lock:
            before = self._of.pop(contest_id, None)
            for gone in [key for key, one in self._of.items() if one.is_idle or not one.is_alive]:
                self._of.pop(gone).stop()
            if before is None and len(self._of) >= MOST_AT_ONCE:
                raise RuleError(
                    f"{MOST_AT_ONCE} practice nights are being listened to already; stop one of them first."
                )
            if before is not None and before.row == row and before.voices:
                voices = before.voices
            if (
                before is not None
                and before.is_alive
                and before.begin(contest_id, row, rate_hz, channels=channels, voices=voices)
            ):
                self._of[contest_id] = before
                return before
            if before is not None:
                before.stop()
            listening, self._ready = self._ready, None
            if listening is not None and not listening.is_alive:
                listening.stop()
                listening = None
            listening = listening or Listening(self._store)
            listening.begin(contest_id, row, rate_hz, channels=channels, voices=voices)
            self._of[contest_id] = listening
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
