"""What the worker of a practice night does: blocks of sound in, what is to be told out.

It is told of a stream (`Stream`), then given its blocks, until it is told of another. Answers are plain tuples: their
kind, the name of their stream, and the rest.
"""

import logging
import queue
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

import numpy as np

from judging.ear import voices_from_bytes, voices_to_bytes
from judging.errors import InputError
from judging.jobs.limits import Limits, limited
from judging.jobs.pull_offs_live import PullOffsLive, Told
from judging.piece import read_row
from judging.striking import write_log

log = logging.getLogger(__name__)

#: A worker that is fed nothing for so long is ended; its page was closed.
IDLE_S = 120.0
#: A working day, after which the worker is replaced in any case.
_LONGEST_S = 12 * 3600.0


@dataclass(frozen=True, slots=True)
class Stream:
    """What a worker is told of the blocks that follow.

    Parameters
    ----------
    name : str
        Nobody can guess it.
    row : str
        What is pulled off in.
    rate_hz, channels : int
        Of the blocks.
    voices : bytes
        Of the bells; empty for none.
    """

    name: str
    row: str
    rate_hz: int
    channels: int
    voices: bytes


def listen_to_streams(blocks: Any, answers: Any, memory_bytes: int) -> None:  # noqa: ANN401 queues of multiprocessing
    """Hear streams until nothing comes for a while.

    Parameters
    ----------
    blocks : queue
        A `Stream`; then, for each block, whether some were lost before it, and its bytes; None where nothing is to be
        heard, but somebody is there.
    answers : queue
        Gets ``("standing", name, is_ringing, is_silent)`` after each block, ``("voices", name, bytes)``, and
        ``("told", name, row, csv, notes, problem)`` for each stand.
    memory_bytes : int
        How much may be taken.
    """
    hearing: _Hearing | None = None
    with limited(Limits(memory_bytes, _LONGEST_S)):
        while True:
            try:
                came = blocks.get(timeout=IDLE_S)
            except queue.Empty:
                return
            if isinstance(came, Stream):
                hearing = _Hearing(came, answers)
            elif came is not None and hearing is not None:
                hearing.take(*came)


class _Hearing:
    """A stream that is heard."""

    def __init__(self, stream: Stream, answers: Any) -> None:  # noqa: ANN401 a queue of multiprocessing
        self._stream, self._answers = stream, answers
        voices = None
        if stream.voices:
            with suppress(InputError):  # kept by another version of the ear: they are learnt anew
                voices = voices_from_bytes(stream.voices, "the voices kept before")
        row = read_row(stream.row, where="row")
        self._live = PullOffsLive(row, stream.rate_hz, channels=stream.channels, voices=voices)
        self._known = self._live.ear.voices

    def take(self, is_after_a_loss: bool, block: bytes) -> None:  # noqa: FBT001 as it comes from the queue
        """Hear a block, and answer."""
        if is_after_a_loss:
            self._live.lose()
        ear = self._live.ear
        try:
            samples = np.frombuffer(block, "<i2").reshape(-1, self._stream.channels)
            told = self._live.feed(samples.astype(np.float32) / np.float32(32_768))
        except Exception:  # an ear that fails on one stand must not end the evening
            log.exception("A stand could not be heard")
            told = [Told(None, problem="The ear failed on this, by a mistake of its own; pull off again.")]
        self._answer("standing", ear.is_ringing, ear.is_silent)
        for one in told:
            csv = "" if one.log is None else write_log(one.log)
            self._answer("told", self._stream.row, csv, one.notes, one.problem)
        if ear.voices is not self._known and ear.voices is not None:
            self._known = ear.voices
            self._answer("voices", voices_to_bytes(self._known))

    def _answer(self, kind: str, *rest: object) -> None:
        self._answers.put((kind, self._stream.name, *rest))
