"""The strike log: every blow as a time, a bell and how sure the time is, and nothing else.

A log comes from the ear, from a sensor, or from a person. Readers parse text or bytes, never paths.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class StrikeLog:
    """Blows in order of time.

    Parameters
    ----------
    times_s : ndarray of float64, shape (N,)
        When each blow was heard, in seconds from an arbitrary zero, ascending; read-only.
    bells : ndarray of int8, shape (N,)
        Which bell, 1 = treble; 0 where it is not known; read-only.
    spread_ms : ndarray of float64, shape (N,)
        One standard error of each time, in milliseconds; read-only.
    source : str
        What made the log, in words (``"ear 0.1.0"``, a file's name, ``"by hand"``).
    kept : mapping of str to tuple of str
        Further columns of a file, by header, one text a blow, kept as they came.
    """

    times_s: NDArray[np.float64]
    bells: NDArray[np.int8]
    spread_ms: NDArray[np.float64]
    source: str = ""
    kept: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Make the arrays read-only."""
        for array in (self.times_s, self.bells, self.spread_ms):
            array.setflags(write=False)

    def __len__(self) -> int:
        """Return the number of blows."""
        return len(self.times_s)

    def between(self, begin_s: float, end_s: float) -> "StrikeLog":
        """Return the blows from one time to another, with all that is kept of them."""
        inside = (self.times_s >= begin_s) & (self.times_s <= end_s)
        kept = {
            header: tuple(text for text, is_in in zip(texts, inside, strict=True) if is_in)
            for header, texts in self.kept.items()
        }
        return StrikeLog(self.times_s[inside], self.bells[inside], self.spread_ms[inside], self.source, kept)
