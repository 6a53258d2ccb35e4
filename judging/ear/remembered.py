"""What a live ear remembers of a stream: the sound at the ear's rate, from some sample on, and how loud it came in.

All channels are kept until the first ringing has shown which of them are heard; from then on their mean alone is.
"""

from collections import deque
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from judging.ear.channels import FULL_SCALE, Taken, best_channels, excerpts_of
from judging.ear.decode import Sound, is_no_sound
from judging.ear.features import RATE_HZ

Block = NDArray[np.float32]


class Remembered:
    """Sound at the ear's rate, from some sample on; what has to be known of the stream's own samples beside it.

    Parameters
    ----------
    channels : int
        Of the stream.

    Attributes
    ----------
    first : int
        Number of the first sample that is kept.
    heard : list of int
        The channels that are heard, or may be.
    """

    def __init__(self, channels: int) -> None:
        self.first = 0
        self._channels = channels
        self.heard = list(range(channels))
        self._is_settled = channels == 1
        self._blocks: deque[Block] = deque()
        self._length = 0
        self._skipped = self._samples = 0
        self._clipped = self._broken = np.zeros(channels, np.int64)
        self._peak = np.zeros(channels, np.float32)

    @property
    def seconds(self) -> float:
        """How much is kept."""
        return self._length / RATE_HZ

    def note(self, block: Block) -> None:
        """Note what the stream's own samples are like: resampled, they would not show where they were cut off."""
        wrong = is_no_sound(block)
        level = np.abs(np.where(wrong, np.float32(0), block))
        self._samples += len(block)
        self._clipped = self._clipped + (level >= FULL_SCALE).sum(axis=0)
        self._broken = self._broken + wrong.sum(axis=0)
        self._peak = np.maximum(self._peak, level.max(axis=0, initial=0.0))

    def since(self, time_s: float | None) -> int:
        """How many samples are kept from a time on."""
        return self.first + self._length - int((time_s or 0.0) * RATE_HZ)

    def add(self, sound: Block) -> None:
        """Keep what came in; shape (samples, channels)."""
        self._blocks.append(_mean(sound, self.heard) if self._is_settled else sound)
        self._length += len(sound)

    def skip(self, sound: Block) -> None:
        """Let what came in go by."""
        self._skipped += len(sound)

    def forget_all_but(self, samples: int) -> None:
        """Forget the oldest blocks, as far as that many samples stay; what was skipped cannot be joined on to."""
        if self._skipped:
            samples = 0
        while self._blocks and self._length - len(self._blocks[0]) >= samples:
            gone = len(self._blocks.popleft())
            self._length -= gone
            self.first += gone
        self.first, self._skipped = self.first + self._skipped, 0
        self._samples = 0
        self._clipped = self._broken = np.zeros(self._channels, np.int64)
        self._peak = np.zeros(self._channels, np.float32)

    def best(self, begin: int, most: int) -> Taken:
        """Say which channels what is kept from a sample on is best heard from, unless that is settled."""
        if self._is_settled:
            return Taken(tuple(self.heard))
        return best_channels(excerpts_of(self._kept(begin, most)), self._clipped / max(1, self._samples))

    def settle(self, channels: Sequence[int]) -> None:
        """Keep nothing but the mean of these channels from now on."""
        if not self._is_settled:
            self.heard, self._is_settled = list(channels), True
            self._blocks = deque(_mean(block, self.heard) for block in self._blocks)

    def sound(self, begin: int, most: int, taken: Taken) -> Sound:
        """Return what is kept from a sample on, of some channels."""
        channels = list(taken.channels)
        kept = self._kept(begin, most)
        mono = kept[:, 0] if self._is_settled else _mean(kept, channels)[:, 0]
        values = max(1, self._samples)
        return Sound(
            np.ascontiguousarray(mono),
            "what was rung",
            RATE_HZ,
            self._channels,
            float(self._peak[channels].max()),
            float(self._clipped[channels].mean() / values),
            float(self._broken[channels].mean() / values),
            taken.note,
        )

    def _kept(self, begin: int, most: int) -> Block:
        whole = np.concatenate([*self._blocks, np.zeros((0, 1 if self._is_settled else self._channels), np.float32)])
        return whole[max(0, begin - self.first) :][:most].copy()


def _mean(block: Block, channels: list[int]) -> Block:
    mean: Block = block[:, channels].mean(axis=1, keepdims=True)
    return mean
