"""Expected blows → the onsets they most likely are, all together and in order."""

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d

from judging.ear.features import FRAME_S

#: Onsets nearer than 20 ms are one, and fainter than this are none.
_APART, _FAINT = 4, 0.08
#: Onsets looked at around each expected blow, within so many gaps; the expected time itself is always possible.
_NEAREST, _WITHIN = 6, 0.7
#: How far a blow strays from where it is expected, and from its distance to the blow before, in gaps.
_STRAY, _STRETCH = 0.35, 0.35
#: Strength of an expected time at which nothing was struck.
_NOTHING = 0.04
#: Two bells in order are at least this far apart, in gaps.
_CLOSEST = 0.15


def snap(rises: NDArray[np.float32], expected_s: NDArray[np.float64], gap_s: float) -> NDArray[np.float64]:
    """Find the onsets that a sequence of blows most likely is, under several readings at once.

    Parameters
    ----------
    rises : ndarray of float32, shape (frames,)
        Sign of onsets.
    expected_s : ndarray of float64, shape (blows, readings)
        When blows are expected, in order, under each reading.
    gap_s : float
        Time between blows.

    Returns
    -------
    ndarray of float64, shape (blows, readings)
        When they were struck.
    """
    peak = np.flatnonzero((rises == maximum_filter1d(rises, 2 * _APART + 1)) & (rises > _FAINT))
    if len(peak) < _NEAREST:
        return expected_s
    when = peak * FRAME_S
    first = np.clip(np.searchsorted(when, expected_s) - _NEAREST // 2, 0, len(peak) - _NEAREST)
    near = first[:, :, None] + np.arange(_NEAREST)
    times = np.concatenate([when[near], expected_s[:, :, None]], axis=2)
    strength = np.concatenate([rises[peak[near]], np.full((*expected_s.shape, 1), _NOTHING)], axis=2)
    off = (times - expected_s[:, :, None]) / gap_s
    worth = np.where(np.abs(off) < _WITHIN, np.log(strength) - 0.5 * (off / _STRAY) ** 2, -np.inf)
    best = worth[0]
    came_from = np.zeros(times.shape, np.int64)
    for blow in range(1, len(times)):
        step = (times[blow][:, None, :] - times[blow - 1][:, :, None]) / gap_s
        usual = (expected_s[blow] - expected_s[blow - 1])[:, None, None] / gap_s
        reached = best[:, :, None] - 0.5 * ((step - usual) / _STRETCH) ** 2
        reached = np.where(step < _CLOSEST, -np.inf, reached)
        came_from[blow] = reached.argmax(axis=1)
        best = reached.max(axis=1) + worth[blow]
    every = np.arange(expected_s.shape[1])
    chosen = best.argmax(axis=1)
    snapped = np.empty(expected_s.shape)
    for blow in range(len(times) - 1, -1, -1):
        snapped[blow] = times[blow][every, chosen]
        chosen = came_from[blow][every, chosen]
    return snapped
