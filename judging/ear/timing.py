"""Each blow against its own bell's average onset → times to a fraction of a millisecond.

A decoded time is good to a frame. Around it the sound is looked at again every half millisecond; a bell's blows are
laid over one another until they match best, their median is the bell's own onset, and each blow's time is where that
onset fits. The onset itself is anchored on its leading edge, since the loudest moment comes later, by bell.
"""

from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from judging.ear.features import RATE_HZ

#: 11.6 ms looked at every 0.5 ms, from 40 ms before to 40 ms after.
_WINDOW, _HOP, _HALF_S = 256, 11, 0.040
STEP_S = _HOP / RATE_HZ
_LOW_HZ, _HIGH_HZ = 600, 10_000
#: A rise is measured over 3 ms.
_LAG = 6
#: The onset reaches from 6 ms before to 10 ms after, and is looked for within 20 ms.
_BEFORE, _AFTER, _SEARCH = 12, 20, 40
#: Bins that never rise to this share of the strongest are not brought up to it (nothing but hiss is in them).
_LEAST_BIN = 0.05
_ROUNDS, _FREE_ROUNDS = 5, 3
#: The leading edge: where the onset first reaches this share of its largest rise.
_EDGE = 0.3
#: The shares between which a rise is timed.
_LOW, _HIGH = 0.1, 0.7
#: What the same rule gives for a single click, whose time is exact: the window sees it coming.
_CLICK_S = -0.0044
#: Blows handled at once, which bounds memory.
_MOST = 2_000


@dataclass(frozen=True, slots=True)
class Fit:
    """Fine times of one bell's blows.

    Parameters
    ----------
    times_s : ndarray of float64, shape (blows,)
    likeness : ndarray of float64, shape (blows, lags)
        How well the bell's onset fits at each lag, 0 to 1; one lag is half a millisecond.
    rise_ms : float
        How long the bell's onset takes to rise; a dull bell's edge is vague for every blow alike.
    """

    times_s: NDArray[np.float64]
    likeness: NDArray[np.float64]
    rise_ms: float


def fine_times(samples: NDArray[np.float32], coarse_s: NDArray[np.float64]) -> Fit:
    """Time one bell's blows by its own average onset.

    Parameters
    ----------
    samples : ndarray of float32
        Mono, at the ear's rate.
    coarse_s : ndarray of float64, shape (blows,)
        Decoded times, right to about 20 ms.

    Returns
    -------
    Fit
    """
    centre = np.round(coarse_s * RATE_HZ).astype(np.int64)
    rises = _rises(samples, centre)
    blows, frames = rises.shape[0], rises.shape[1]
    middle = frames // 2
    lags = np.arange(-_SEARCH, _SEARCH + 1)
    usual = np.percentile(rises.max(axis=1), 60, axis=0)
    usual += _LEAST_BIN * usual.max() + 1e-12
    rises /= usual.astype(np.float32)
    loudest = gaussian_filter1d(rises.sum(axis=2), 2, axis=1)[:, middle + lags].argmax(axis=1)
    window = np.arange(-_BEFORE, _AFTER)
    size = np.sqrt(np.stack([(rises[:, middle + lag + window] ** 2).sum(axis=(1, 2)) for lag in lags], axis=1) + 1e-12)
    every = np.arange(blows)
    for turn in range(_ROUNDS):
        aligned = rises[every[:, None], middle + lags[loudest][:, None] + window]
        onset = np.median(aligned / size[every, loudest][:, None, None], axis=0)
        onset /= np.sqrt((onset**2).sum()) + 1e-12
        likeness = np.stack([(rises[:, middle + lag + window] * onset).sum(axis=(1, 2)) for lag in lags], axis=1) / size
        expected = likeness
        if turn >= _FREE_ROUNDS:
            usual_lag = float(np.median(lags[loudest]))
            expected = likeness - 0.01 * ((lags - usual_lag) * STEP_S / 0.004) ** 2
        loudest = expected.argmax(axis=1)
    inner = np.clip(loudest, 1, len(lags) - 2)
    left, top, right = expected[every, inner - 1], expected[every, inner], expected[every, inner + 1]
    shift = np.clip(0.5 * (left - right) / (left - 2 * top + right - 1e-12), -0.5, 0.5)
    rise = onset.sum(axis=1)
    times = centre / RATE_HZ + (lags[inner] + shift + _reaches(rise, _EDGE)) * STEP_S - _CLICK_S
    return Fit(times, likeness, 1e3 * STEP_S * (_reaches(rise, _HIGH) - _reaches(rise, _LOW)))


def _rises(samples: NDArray[np.float32], centre: NDArray[np.int64]) -> NDArray[np.float32]:
    """Rise of the root of each bin's magnitude over 3 ms, around each blow; shape (blows, frames, bins)."""
    frames = 2 * int(_HALF_S / STEP_S) + 1
    span = (frames - 1) * _HOP + _WINDOW
    begin = centre - (frames // 2) * _HOP - _WINDOW // 2
    taken = samples[np.clip(begin[:, None] + np.arange(span), 0, len(samples) - 1)]
    looks = sliding_window_view(taken, _WINDOW, axis=1)[:, ::_HOP]
    taper = np.hanning(_WINDOW + 1)[:-1].astype(np.float32)
    bins = slice(int(_LOW_HZ * _WINDOW / RATE_HZ), int(_HIGH_HZ * _WINDOW / RATE_HZ))
    level = np.stack([np.sqrt(np.abs(scipy.fft.rfft(look * taper, axis=1)[:, bins])) for look in looks])
    rises = np.zeros_like(level)
    rises[:, _LAG // 2 : -(_LAG // 2)] = np.maximum(0.0, level[:, _LAG:] - level[:, :-_LAG])
    return rises


def _reaches(rise: NDArray[np.float64], share: float) -> float:
    """Where a bell's onset first reaches a share of its largest rise, in steps from the middle of the window."""
    top = int(rise.argmax())
    level = share * rise[top]
    below = np.flatnonzero(rise[: top + 1] < level)
    if not len(below):
        return float(-_BEFORE)
    last = int(below[-1])
    return last + float((level - rise[last]) / (rise[last + 1] - rise[last])) - _BEFORE
