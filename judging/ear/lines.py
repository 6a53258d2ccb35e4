"""Is anything being struck that rings on: bells told from talk, chairs and wind, as the sound comes in.

A blow of a bell makes narrow lines of the spectrum rise and stay where they are. Talk has lines too, but they glide and
end within half a second; a chair or a door has none; wind rises slowly and evenly; and a bell that only hums on has
lines that fall. So lines are counted that are new and still there half a second later, two dozen times a second.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d, minimum_filter1d, uniform_filter1d

from judging.ear.features import RATE_HZ

#: 186 ms tell lines apart that are 11 Hz apart; looked at every 46 ms.
_WINDOW, _HOP = 4096, 1024
FRAME_S = _HOP / RATE_HZ
_LOW, _HIGH = int(300 * _WINDOW / RATE_HZ), int(6_000 * _WINDOW / RATE_HZ)
#: A line stands so far above what is around it (215 Hz to either side), and has risen so far, in dB.
_ABOVE, _AROUND, _RISEN = 12.0, 81, 3.0
#: It stays, but for one look, from two to eleven looks later (93 to 510 ms); what was there five to three looks before
#: is not new.
_FROM, _TO, _BEFORE = 2, 11, 5
_STAYS = _TO - _FROM + 1

Floats = NDArray[np.float32]


class NewLines:
    """Counts new lines of a sound that comes in piece by piece; it remembers three quarters of a second."""

    def __init__(self) -> None:
        self._sound = np.zeros(_WINDOW // 2, np.float32)
        self._level = np.zeros((0, _HIGH - _LOW), np.float32)
        self._looked = 0

    @property
    def time_s(self) -> float:
        """How far lines have been counted, in seconds from the beginning of the sound."""
        return self._looked * FRAME_S

    def feed(self, sound: Floats) -> NDArray[np.int64]:
        """Take in the next piece of a sound.

        Parameters
        ----------
        sound : ndarray of float32
            Mono, at the ear's rate, of any length.

        Returns
        -------
        ndarray of int64, shape (looks,)
            How many lines began at each look that can be told now: each ``FRAME_S`` after the one before, the last
            about 0.6 s ago.
        """
        self._sound = np.concatenate([self._sound, sound])
        count = max(0, (len(self._sound) - _WINDOW) // _HOP + 1)
        if count:
            frames = np.lib.stride_tricks.sliding_window_view(self._sound, _WINDOW)[: count * _HOP : _HOP]
            power = np.abs(np.fft.rfft(frames * np.hanning(_WINDOW), axis=1)[:, _LOW:_HIGH]) ** 2
            self._level = np.concatenate([self._level, (10 * np.log10(power + 1e-12)).astype(np.float32)])
            self._sound = self._sound[count * _HOP :]
        if self._looked == 0 and len(self._level):  # nothing is new at the very beginning
            self._level = np.concatenate([np.repeat(self._level[:1], _BEFORE, axis=0), self._level])
        told = max(0, len(self._level) - _BEFORE - _TO)
        lines = _new_lines(self._level)[_BEFORE : _BEFORE + told]
        self._level = self._level[told:]
        self._looked += told
        return lines


class NewLinesOfAny:
    """Counts new lines in the plainest of several channels, and of their mean: whichever it is that bells are heard in.

    Bells of one channel are then not missed for the wind, or the opposite sign, of another.

    Parameters
    ----------
    channels : int
        Of the sound.
    """

    def __init__(self, channels: int) -> None:
        self._mean = NewLines()
        self._single = [NewLines() for _ in range(channels if channels > 1 else 0)]

    @property
    def time_s(self) -> float:
        """How far lines have been counted, in seconds from the beginning of the sound."""
        return self._mean.time_s

    def feed(self, sound: Floats, heard: Sequence[int]) -> NDArray[np.int64]:
        """Take in the next piece of a sound.

        Parameters
        ----------
        sound : ndarray of float32, shape (samples, channels)
            At the ear's rate, of any length.
        heard : sequence of int
            Those that count.

        Returns
        -------
        ndarray of int64, shape (looks,)
            As `NewLines.feed`.
        """
        most = self._mean.feed(sound[:, list(heard)].mean(axis=1))
        for at, lines in enumerate(self._single):
            if at in heard:
                most = np.maximum(most, lines.feed(sound[:, at]))
        return most


def _new_lines(level: Floats) -> NDArray[np.int64]:
    """How many lines are new at each look; true only where there are looks enough before and after."""
    if len(level) <= _BEFORE + _TO:
        return np.zeros(0, np.int64)
    peak = (level >= maximum_filter1d(level, 5, axis=1)) & (level > uniform_filter1d(level, _AROUND, axis=1) + _ABOVE)
    near = maximum_filter1d(peak.astype(np.float32), 3, axis=1)
    middle = (_FROM + _TO) // 2
    later = np.arange(len(level) - middle) + middle
    # Half a filter's width to the left, so that of an even number of looks the earlier half begins at _FROM.
    stays = uniform_filter1d(near, _STAYS, axis=0, origin=-1)[later - 1] > (_STAYS - 1.5) / _STAYS
    after = minimum_filter1d(maximum_filter1d(level, 3, axis=1), _STAYS, axis=0, origin=-1)[later - 1]
    wide = maximum_filter1d(maximum_filter1d(level, 5, axis=1), 3, axis=0)
    before = wide[np.maximum(np.arange(len(later)) - (_BEFORE - 1), 0)]
    new = stays & peak[later] & (after > before + _RISEN)
    counted: NDArray[np.int64] = new.sum(axis=1)
    return counted
