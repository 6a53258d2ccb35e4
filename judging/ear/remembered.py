"""What a live ear remembers of a stream: the sound at the ear's rate, from some sample on, and how loud it came in."""

from collections import deque

import numpy as np
from numpy.typing import NDArray

from judging.ear.decode import Sound
from judging.ear.features import RATE_HZ

_FULL_SCALE = 0.999

Block = NDArray[np.float32]


class Remembered:
    """Sound at the ear's rate, from some sample on; what has to be known of the stream's own samples beside it."""

    def __init__(self) -> None:
        self.first = 0
        self._blocks: deque[Block] = deque()
        self._length = 0
        self._skipped = 0
        self._samples = self._clipped = self._broken = 0
        self._peak = 0.0

    @property
    def seconds(self) -> float:
        """How much is kept."""
        return self._length / RATE_HZ

    def note(self, block: Block) -> None:
        """Note what the stream's own samples are like: resampled, they would not show where they were cut off."""
        level = np.abs(np.nan_to_num(block))
        self._samples += len(block)
        self._clipped += int((level >= _FULL_SCALE).sum())
        self._broken += int((~np.isfinite(block)).sum())
        self._peak = max(self._peak, float(level.max(initial=0.0)))

    def since(self, time_s: float | None) -> int:
        """How many samples are kept from a time on."""
        return self.first + self._length - int((time_s or 0.0) * RATE_HZ)

    def add(self, sound: Block) -> None:
        """Keep what came in."""
        self._blocks.append(sound)
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
        self._samples = self._clipped = self._broken = 0
        self._peak = 0.0

    def sound(self, begin: int, most: int) -> Sound:
        """Return what is kept from a sample on."""
        whole = np.concatenate([*self._blocks, np.zeros(0, np.float32)])
        taken = whole[max(0, begin - self.first) :][:most].copy()
        values = max(1, self._samples)
        return Sound(taken, "what was rung", RATE_HZ, 1, self._peak, self._clipped / values, self._broken / values)
