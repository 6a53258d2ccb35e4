"""How fast the ringing goes: blind to which bell is which.

The pace comes from the spectrum repeating itself after a row, a row with the handstroke gap, and a whole pull.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, maximum_filter1d

from judging.ear.features import FRAME_S
from judging.ear.pulls import comb_fit
from judging.ear.repeats import row_length_s
from judging.ear.rows import Pace

#: Rows of peals from under two and a half to over four hours.
SHORTEST_ROW_S, LONGEST_ROW_S = 1.4, 3.0
HANDSTROKE_GAPS = (0.0, 0.25, 0.5, 0.75, 1.0, 1.25, 1.5)
#: Paces nearer than this share are one; at most so many are tried.
_DISTINCT, _MOST_TRIED = 0.04, 5
#: Onsets hardly tell paces a few hundredths apart, but do tell those that are plainly wrong.
_NEARLY_AS_WELL = 0.85


def find_paces(loud: NDArray[np.float32], rises: NDArray[np.float32], bells: int) -> list[Pace]:
    """Possible paces of the ringing, the likeliest first.

    Rounds repeat their spectrum after a row and after a whole pull; that is best. But a whole pull and a half does
    nearly as well, so only paces are kept at which onsets fit nearly as well as at the best. One whole pull is too
    short for that, but shows after what time the same bells sound again; and where no rounds are rung nothing repeats,
    so the pace of bare onsets is tried too.

    Parameters
    ----------
    loud : ndarray of float32, shape (frames, bands)
        Some tens of seconds of ringing, best of all the opening rounds.
    rises : ndarray of float32, shape (frames,)
        Sign of onsets of the same stretch, from `steady_out`.
    bells : int
        Number of bells.
    """
    repeats = _self_likeness(_innovation(loud), 2 * (2 * bells + 2) * LONGEST_ROW_S / bells)

    def at(lag_s: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.interp(lag_s / FRAME_S, np.arange(len(repeats)), repeats, right=0.0)

    paces: list[Pace] = []
    for extra in HANDSTROKE_GAPS:
        row = bells + extra / 2
        gap = np.exp(np.arange(np.log(SHORTEST_ROW_S / row), np.log(LONGEST_ROW_S / row), 0.004))
        pull = (2 * bells + extra) * gap
        likeness = at(bells * gap) + at((bells + extra) * gap) + 2 * at(pull) + at(2 * pull)
        likeness -= 1.5 * (at(pull + gap) + at(pull - gap))
        tops = np.flatnonzero((likeness == maximum_filter1d(likeness, 9)) & (likeness > 0))
        paces += [Pace(float(gap[top]), extra, float(likeness[top])) for top in tops]
    distinct: list[Pace] = []
    for pace in sorted(paces, key=lambda pace: -pace.likeness):
        if all(abs(np.log(pace.gap_s / other.gap_s)) > _DISTINCT for other in distinct):
            distinct.append(pace)
    tried = distinct[:_MOST_TRIED]
    gap_s = _onset_gap(rises, SHORTEST_ROW_S / (bells + 0.5), LONGEST_ROW_S / (bells + 0.5))
    tried += [Pace(gap_s, extra, 0.0) for extra in (1.0, 0.0)]
    row_s = row_length_s(loud, rises, SHORTEST_ROW_S, LONGEST_ROW_S)
    if row_s is not None:
        tried.append(Pace(row_s / bells, 1.0, 0.0))
    fits = np.array([comb_fit(rises, bells, pace) for pace in tried])
    return [pace for pace, fit in zip(tried, fits, strict=True) if fit >= _NEARLY_AS_WELL * fits.max()]


def _onset_gap(rises: NDArray[np.float32], shortest_s: float, longest_s: float) -> float:
    """Time after which onsets most often follow one another; the middle of the range where none stands out."""
    smooth = gaussian_filter1d(rises.astype(np.float64), 3)
    smooth -= gaussian_filter1d(smooth, 60)
    size = 1 << int(np.ceil(np.log2(2 * len(smooth))))
    repeats = np.fft.irfft(np.abs(np.fft.rfft(smooth, size)) ** 2, size)
    lags = np.arange(int(shortest_s / FRAME_S), int(longest_s / FRAME_S) + 1)
    tops = lags[(repeats[lags] > repeats[lags - 1]) & (repeats[lags] >= repeats[lags + 1])]
    return float(tops[repeats[tops].argmax()] * FRAME_S) if len(tops) else float(np.sqrt(shortest_s * longest_s))


def _innovation(loud: NDArray[np.float32]) -> NDArray[np.float64]:
    """Rise of each band over 40 ms, smoothed and brought to one scale; a band's own wobble to its neighbour is none.

    What all bands share is taken out: every blow has it, so that in very even ringing it repeats after any number of
    blows and tells nothing of rows.
    """
    lag = 4
    before = maximum_filter1d(loud, 3, axis=1)
    rise = np.zeros(loud.shape)
    rise[lag:-lag] = np.maximum(0.0, loud[2 * lag :] - before[: -2 * lag])
    rise = gaussian_filter1d(rise, 4, axis=0)
    scaled: NDArray[np.float64] = (rise - rise.mean(axis=0)) / (rise.std(axis=0) + 1e-9)
    scaled -= scaled.mean(axis=1, keepdims=True)
    return scaled


def _self_likeness(rise: NDArray[np.float64], longest_s: float) -> NDArray[np.float64]:
    """Autocorrelation summed over the bands, 1 at no lag; shape (lags,)."""
    count = len(rise)
    lags = min(int(longest_s / FRAME_S), count - 10)
    size = 1 << int(np.ceil(np.log2(count + lags)))
    spectrum = np.fft.rfft(rise, size, axis=0)
    total = np.fft.irfft((spectrum.real**2 + spectrum.imag**2).sum(axis=1), size)[:lags]
    likeness: NDArray[np.float64] = total / (count - np.arange(lags)) / (total[0] / count)
    return likeness
