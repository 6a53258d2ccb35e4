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
from judging.ear.tables import let_go

#: 11.6 ms looked at every 0.5 ms, from 40 ms before to 40 ms after.
_WINDOW, _HOP, _HALF_S = 256, 11, 0.040
STEP_S = _HOP / RATE_HZ
_LOW_HZ, _HIGH_HZ = 600, 10_000
#: A rise is measured over 3 ms.
_LAG = 6
#: The onset reaches from 6 ms before to 10 ms after, and is looked for within 20 ms.
_BEFORE, _AFTER, _SEARCH = 12, 20, 40
_SPAN = np.arange(-_BEFORE, _AFTER)
_LAGS = np.arange(-_SEARCH, _SEARCH + 1)
#: What it costs a blow to be a step further from its bell's usual lag: in likeness, 0.01 at 4 ms.
_USUAL = 0.01 * (STEP_S / 0.004) ** 2
#: Bins that never rise to this share of the strongest are not brought up to it (nothing but hiss is in them).
_LEAST_BIN = 0.05
_ROUNDS, _FREE_ROUNDS = 5, 3
#: The leading edge: where the onset first reaches this share of its largest rise.
_EDGE = 0.3
#: The shares between which a rise is timed.
_LOW, _HIGH = 0.1, 0.7
#: What the same rule gives for a single click, whose time is exact: the window sees it coming.
_CLICK_S = -0.0044
#: Blows that an onset is learnt from, at most, and that are handled at once.
_LEARNT = 250


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
    learnt = centre[:: 1 + len(centre) // _LEARNT]
    rises = _rises(samples, learnt)
    usual = np.percentile(rises.max(axis=1), 60, axis=0)
    weight = 1 / (usual + _LEAST_BIN * usual.max() + np.float32(1e-12))
    rises *= weight
    onset, usual_lag = _average_onset(rises)
    edge = onset.sum(axis=1)
    offset_s = _reaches(edge, _EDGE) * STEP_S - _CLICK_S
    times, likeness = np.empty(len(centre)), np.empty((len(centre), len(_LAGS)))
    for begin in range(0, len(centre), _LEARNT):
        batch = slice(begin, begin + _LEARNT)
        fits = _likeness(_rises(samples, centre[batch]) * weight, onset)
        expected = fits - _USUAL * (_LAGS - usual_lag) ** 2
        top = np.clip(expected.argmax(axis=1), 1, len(_LAGS) - 2)[:, None]
        left, peak, right = (np.take_along_axis(expected, top + step, axis=1)[:, 0] for step in (-1, 0, 1))
        shift = np.clip(0.5 * (left - right) / (left - 2 * peak + right - 1e-12), -0.5, 0.5)
        times[batch] = centre[batch] / RATE_HZ + (_LAGS[top[:, 0]] + shift) * STEP_S + offset_s
        likeness[batch] = fits
    return Fit(times, likeness, 1e3 * STEP_S * (_reaches(edge, _HIGH) - _reaches(edge, _LOW)))


def _average_onset(rises: NDArray[np.float32]) -> tuple[NDArray[np.float32], float]:
    """Lay blows over one another until they match best; return their median, of unit size, and the usual lag."""
    middle = rises.shape[1] // 2
    loudest = gaussian_filter1d(rises.sum(axis=2), 2, axis=1)[:, middle + _LAGS].argmax(axis=1)
    size = _sizes(rises)
    every = np.arange(len(rises))
    usual_lag = 0.0
    for turn in range(_ROUNDS):
        aligned = rises[every[:, None], middle + _LAGS[loudest][:, None] + _SPAN]
        onset = np.median(aligned / size[every, loudest].astype(np.float32)[:, None, None], axis=0)
        onset /= np.sqrt((onset**2).sum()) + np.float32(1e-12)
        expected = _likeness(rises, onset)
        if turn >= _FREE_ROUNDS:
            usual_lag = float(np.median(_LAGS[loudest]))
            expected = expected - _USUAL * (_LAGS - usual_lag) ** 2
        loudest = expected.argmax(axis=1)
    return onset, usual_lag


def _likeness(rises: NDArray[np.float32], onset: NDArray[np.float32]) -> NDArray[np.float64]:
    """How like an onset of unit size each blow is at each lag, 0 to 1; shape (blows, lags)."""
    first = rises.shape[1] // 2 + _LAGS[0] + _SPAN[0]
    blows, frames, bins = rises.shape
    products = (rises.reshape(-1, bins) @ onset.T).reshape(blows, frames, -1)
    likeness = np.zeros((blows, len(_LAGS)))
    for step in range(len(_SPAN)):
        likeness += products[:, first + step : first + step + len(_LAGS), step]
    return likeness / _sizes(rises)


def _sizes(rises: NDArray[np.float32]) -> NDArray[np.float64]:
    """Size of each blow's rises within the onset's span, at each lag; shape (blows, lags)."""
    first = rises.shape[1] // 2 + _LAGS[0] + _SPAN[0]
    power = np.einsum("bft,bft->bf", rises, rises)
    total = np.cumsum(np.pad(power, ((0, 0), (1, 0))), axis=1, dtype=np.float64)
    here = first + np.arange(len(_LAGS))
    sizes: NDArray[np.float64] = np.sqrt(np.maximum(0.0, total[:, here + len(_SPAN)] - total[:, here]) + 1e-12)
    return sizes


def _rises(samples: NDArray[np.float32], centre: NDArray[np.int64]) -> NDArray[np.float32]:
    """Rise of the root of each bin's magnitude over 3 ms, around each blow; shape (blows, frames, bins)."""
    frames = 2 * int(_HALF_S / STEP_S) + 1
    span = (frames - 1) * _HOP + _WINDOW
    begin = centre - (frames // 2) * _HOP - _WINDOW // 2
    taken = samples[np.clip(begin[:, None] + np.arange(span), 0, len(samples) - 1)]
    let_go(samples)
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
