"""After what time the same bells sound again, blow by blow: how long a row is, and so how many bells there are.

Every onset's rising spectrum is held against every later one's. Whatever is thought of the bells, in rounds a blow is
like the one a row later and like hardly any other; one whole pull is enough to see it.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, maximum_filter1d

from judging.ear.features import FRAME_S
from judging.ear.pitch import rises_at

#: Onsets at least this strong and, in frames, so far apart.
_ONSET, _APART = 0.15, 7
#: Pairs count for a lag that they are near (standard deviation: seconds, and gaps); a lag needs some pairs.
_NEAR_S, _NEAR_GAPS, _PAIRS = 0.04, 0.2, 2.0
#: Row lengths are looked for in steps of so many seconds, and believed from this likeness on: whole pulls in chambers
#: and churches have 0.4 to 0.7 at the true length, and 0.1 at most elsewhere.
_STEP_S, _ALIKE = 0.01, 0.25
#: How far a blow strays, in gaps; how much what is struck halfway between blows counts against them; and how many times
#: longer or shorter a row may be than was heard.
_STRAY, _BETWEEN = 0.12, 0.7
_FACTORS = (0.94, 0.96, 0.98, 1.0, 1.02, 1.04, 1.06)

Floats = NDArray[np.float64]


def row_length_s(
    loud: NDArray[np.float32], rises: NDArray[np.float32], shortest_s: float, longest_s: float
) -> float | None:
    """How long a row lasts, from the same bells sounding again.

    Parameters
    ----------
    loud : ndarray of float32, shape (frames, bands)
        Some tens of seconds of ringing, best of all rounds.
    rises : ndarray of float32, shape (frames,)
        Sign of onsets of the same stretch.
    shortest_s, longest_s : float
        Where it is looked for.

    Returns
    -------
    float or None
        None where nothing plainly sounds again.
    """
    lags: Floats = np.arange(shortest_s, longest_s, _STEP_S, dtype=np.float64)
    alike = _alike_after(*_pairs(loud, rises), lags, _NEAR_S)
    best = int(alike.argmax())
    return float(lags[best]) if alike[best] > _ALIKE else None


def alike_after_blows(loud: NDArray[np.float32], rises: NDArray[np.float32], gap_s: float, most: int) -> Floats:
    """How alike blows are that are so many gaps apart.

    Parameters
    ----------
    loud, rises
        The picture and the sign of onsets, of the stretch that it is asked of.
    gap_s : float
        Time between blows.
    most : int
        The largest number of gaps.

    Returns
    -------
    ndarray of float64, shape (most + 1,)
        For 0 to ``most`` gaps; about 0 where different bells strike, and where hardly two blows are so far apart.
    """
    return _alike_after(*_pairs(loud, rises), np.arange(most + 1, dtype=np.float64) * gap_s, _NEAR_GAPS * gap_s)


def _pairs(loud: NDArray[np.float32], rises: NDArray[np.float32]) -> tuple[Floats, Floats]:
    """Lag of every pair of onsets, in seconds, and how alike their spectra rise, at most 1."""
    peak = np.flatnonzero((rises == maximum_filter1d(rises, 2 * _APART + 1)) & (rises > _ONSET))
    if len(peak) < 2:
        return np.zeros(0), np.zeros(0)
    spectra = rises_at(loud, peak)
    spectra -= spectra.mean(axis=0)
    spectra -= spectra.mean(axis=1, keepdims=True)
    spectra /= np.sqrt(np.square(spectra).sum(axis=1, keepdims=True)) + 1e-9
    earlier, later = np.triu_indices(len(peak), 1)
    alike: Floats = (spectra @ spectra.T)[earlier, later]
    lag_s: Floats = (peak[later] - peak[earlier]).astype(np.float64) * FRAME_S
    return lag_s, alike


def _alike_after(lag_s: Floats, alike: Floats, wanted_s: Floats, near_s: float) -> Floats:
    total = np.zeros(len(wanted_s))
    weight = np.zeros(len(wanted_s))
    for index, wanted in enumerate(wanted_s):
        near = np.abs(lag_s - wanted) < 3 * near_s
        share = np.exp(-0.5 * ((lag_s[near] - wanted) / near_s) ** 2)
        total[index], weight[index] = share @ alike[near], share.sum()
    return total / (weight + _PAIRS)


def even_blows(rises: NDArray[np.float32], row_s: float, counts: NDArray[np.int64]) -> Floats:
    """How well onsets fit two rows of so many even blows each, wherever they begin.

    Parameters
    ----------
    rises : ndarray of float32, shape (frames,)
        Sign of onsets of a whole pull and little more.
    row_s : float
        How long a row lasts, nearly.
    counts : ndarray of int64, shape (counts,)
        Numbers of blows in a row.

    Returns
    -------
    ndarray of float64, shape (counts,)
        About twice as much for the true number as for any other.
    """
    fits = np.zeros(len(counts))
    for index, count in enumerate(counts):
        for factor in _FACTORS:
            gap = row_s * factor / count / FRAME_S
            width = _STRAY * gap
            smooth = gaussian_filter1d(rises, width) * np.float32(2.5 * width)
            halves = np.arange(4 * count)
            at = np.round(halves * gap / 2).astype(np.int64)
            weight = np.where(halves % 2, -_BETWEEN, 1.0)
            padded = np.pad(smooth, (0, int(at[-1]) + 1))
            fit = sum(w * padded[a : a + len(smooth)] for a, w in zip(at, weight, strict=True))
            fits[index] = max(fits[index], float(np.max(fit)))
    return fits
