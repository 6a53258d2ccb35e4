"""Are bells being raised or lowered: how the gap between blows goes, over the whole of a stretch of ringing.

A band keeps its gap, from one row to the next and from one minute to the next. Bells that are raised begin with blows
a tenth of a second apart and end at full gaps; bells that are lowered go the other way. Which bell is which does not
matter, and at the bottom nobody could tell.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from judging.ear.features import FRAME_S, RATE_HZ, onsets

#: The gap is looked for in eight seconds at a time, every four.
_WINDOW, _EVERY = 8 * RATE_HZ, 4 * RATE_HZ
#: Gaps looked for, 2 % apart: bells at the bottom, to three at a slow pace.
_GAPS_S = np.exp(np.arange(np.log(0.09), np.log(0.8), 0.02))
#: From one look to the next it changes by no more than so many of these, and each costs a little.
_MOST, _COST = 6, 0.01
#: Nothing is said of fewer looks than these (24 s), and looks after so many (three minutes) are not kept.
_FEWEST, _KEPT = 5, 45


class Gaps:
    """How the gap between blows goes, as the sound comes in."""

    def __init__(self) -> None:
        self._sound = np.zeros(0, np.float32)
        self._fits: list[NDArray[np.float64]] = []

    def feed(self, sound: NDArray[np.float32]) -> None:
        """Take in the next piece of the sound, mono, at the ear's rate."""
        self._sound = np.concatenate([self._sound, sound])
        while len(self._sound) >= _WINDOW and len(self._fits) < _KEPT:
            self._fits.append(_fits(self._sound[:_WINDOW]))
            self._sound = self._sound[_EVERY:]
        self._sound = self._sound[-_WINDOW:]

    def change(self, until_s: float = np.inf) -> float:
        """By how much the gap grew from the beginning to the end.

        Parameters
        ----------
        until_s : float
            How much of what came in is ringing.

        Returns
        -------
        float
            The logarithm of the share: 0.7 where it doubled, −0.7 where it halved; 0 where too little was rung to
            say. Of the straight line through the likeliest course.
        """
        looks = int(min(len(self._fits), max(0.0, (until_s * RATE_HZ - _WINDOW) // _EVERY + 1)))
        if looks < _FEWEST:
            return 0.0
        course = np.log(_GAPS_S[_course(self._fits[:looks])])
        return float(np.polyfit(np.arange(looks), course, 1)[0] * (looks - 1))


def _fits(sound: NDArray[np.float32]) -> NDArray[np.float64]:
    """How far onsets repeat after one, two and three gaps, and not halfway between; for each gap looked for."""
    rises = onsets(sound).astype(np.float64)
    count, usual = len(rises), float(np.median(rises)) or 1.0
    clear = gaussian_filter1d(np.log1p(rises / usual), 1.0)
    clear -= gaussian_filter1d(clear, 60)
    power = float((clear**2).sum())
    if not power:
        return np.zeros(len(_GAPS_S))
    repeats = np.fft.irfft(np.abs(np.fft.rfft(clear, 2 * count)) ** 2)[:count] / power

    def at(lag_s: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.interp(lag_s / FRAME_S, np.arange(count), repeats)

    fits: NDArray[np.float64] = sum(at(times * _GAPS_S) for times in (1, 2, 3)) - at(_GAPS_S / 2) - at(1.5 * _GAPS_S)
    return fits


def _course(fits: list[NDArray[np.float64]]) -> NDArray[np.intp]:
    """Likeliest way of the gap from look to look (Viterbi); as indices of the gaps looked for."""
    steps = np.arange(-_MOST, _MOST + 1)
    best, came_from = fits[0], []
    for fit in fits[1:]:
        padded = np.pad(best, _MOST, constant_values=-np.inf)
        ways = np.stack([padded[_MOST + step :][: len(best)] - _COST * abs(step) for step in steps])
        chosen = ways.argmax(axis=0)
        came_from.append(np.arange(len(best)) + steps[chosen])
        best = ways.max(axis=0) + fit
    course = [int(best.argmax())]
    for came in reversed(came_from):
        course.append(int(came[course[-1]]))
    return np.array(course[::-1])
