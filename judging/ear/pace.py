"""How fast the ringing goes, and where each whole pull begins: blind to which bell is which.

The pace comes from the spectrum repeating itself after a row, a row with the handstroke gap, and a whole pull.
Whole pulls are then followed from end to end by one best path over all places where they could begin.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, maximum_filter1d, median_filter

from judging.ear.features import FRAME_S

#: Rows of peals from under two and a half to over four hours.
SHORTEST_ROW_S, LONGEST_ROW_S = 1.4, 3.0
HANDSTROKE_GAPS = (0.0, 0.25, 0.5, 0.75, 1.0, 1.25, 1.5)
#: Paces nearer than this share are one; at most so many are tried.
_DISTINCT, _MOST_TRIED = 0.04, 5
#: Paces of single whole pulls against the mean, and how far the next may differ.
_FACTORS = np.exp(np.linspace(-0.09, 0.09, 13))


@dataclass(frozen=True, slots=True)
class Pace:
    """A guess at the ringing's pace.

    Parameters
    ----------
    gap_s : float
        Time between successive blows.
    handstroke_gap : float
        Extra space before a handstroke lead, in gaps.
    likeness : float
        How well the recording repeats itself at that pace (0 for noise, over 1 for the cleanest).
    """

    gap_s: float
    handstroke_gap: float
    likeness: float


@dataclass(frozen=True, slots=True)
class Rows:
    """When rows begin, and the gap between the blows of each.

    Parameters
    ----------
    starts_s, gaps_s : ndarray of float64, shape (rows,)
        Ideal time of the first place, and time between places.
    """

    starts_s: NDArray[np.float64]
    gaps_s: NDArray[np.float64]

    def __len__(self) -> int:
        """Return the number of rows."""
        return len(self.starts_s)

    def cut(self, rows: slice) -> "Rows":
        """Return some of the rows."""
        return Rows(self.starts_s[rows], self.gaps_s[rows])


def steady_out(rises: NDArray[np.float32]) -> NDArray[np.float32]:
    """Take the steady part of noise out of the sign of onsets, and keep single knocks from outweighing bells."""
    level = median_filter(rises, 201)
    spread = median_filter(np.abs(rises - level), 201)
    clean = np.maximum(0.0, rises - level - 1.5 * spread)
    loud = float(np.percentile(clean[clean > 0], 95)) if (clean > 0).any() else 1.0
    return np.minimum(clean / loud, 1.0).astype(np.float32)


def find_paces(loud: NDArray[np.float32], rises: NDArray[np.float32], bells: int) -> list[Pace]:
    """Possible paces of the ringing, the likeliest first.

    Found by how the spectrum repeats itself, which whole pulls and a half do nearly as well as one; so they are put in
    order by how well onsets fit.

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
    return sorted(tried, key=lambda pace: -_comb_fit(rises, bells, pace))


def _comb_fit(rises: NDArray[np.float32], bells: int, pace: Pace) -> float:
    """How well onsets fit whole pulls at a pace: the sum over the best path, so that no blow is left unexplained."""
    return float(_follow(rises, bells, pace)[0].max())


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


def follow_pulls(rises: NDArray[np.float32], bells: int, pace: Pace) -> Rows:
    """Whole pulls of the longest stretch of ringing, from end to end.

    Parameters
    ----------
    rises : ndarray of float32, shape (frames,)
        Sign of onsets, from `steady_out`.
    bells : int
        Number of bells.
    pace : Pace
        The mean pace.

    Returns
    -------
    Rows
        One entry a whole pull: its first blow and its gap. Empty where nothing recurs at that pace.
    """
    total, came_from, score = _follow(rises, bells, pace)
    return _walk_back(total, came_from, score, pace.gap_s)


def _follow(
    rises: NDArray[np.float32], bells: int, pace: Pace
) -> tuple[NDArray[np.float64], NDArray[np.int32], NDArray[np.float64]]:
    """Best totals of paths that end at each pace and frame, where each came from, and the scores of single pulls."""
    gap, extra = pace.gap_s, pace.handstroke_gap
    score = _pull_scores(rises, bells, gap)
    total = score.copy()
    came_from = np.full((2, *score.shape), -1, np.int32)
    pulls = (2 * bells + extra) * gap * _FACTORS / FRAME_S
    slack = np.arange(-12, 13, 2)
    step = int(pulls[0] * 0.95) - 13
    for first in range(0, score.shape[1], step):
        here = np.arange(first, min(score.shape[1], first + step))
        for now in range(len(_FACTORS)):
            best = np.zeros(len(here))
            for then in range(max(0, now - 1), min(len(_FACTORS), now + 2)):
                for late in slack:
                    source = here - round(pulls[then]) - late
                    cost = bells * (0.15 * (then != now) + 0.02 * (late / 6) ** 2)
                    value = np.where(source >= 0, total[then, np.maximum(source, 0)] - cost, 0.0)
                    better = value > best
                    best[better] = value[better]
                    came_from[0, now, here[better]] = then
                    came_from[1, now, here[better]] = source[better]
            total[now, here] += best
    return total, came_from, score


def _pull_scores(rises: NDArray[np.float32], bells: int, gap_s: float) -> NDArray[np.float64]:
    """How much better onsets fit a whole pull beginning at each frame than one half a gap off; (factors, frames)."""
    width = 0.12 * gap_s / FRAME_S
    smooth = gaussian_filter1d(rises.astype(np.float64), width) * width * 2.5
    score = np.zeros((len(_FACTORS), len(smooth)))
    for row, factor in zip(score, _FACTORS, strict=True):
        for place in range(2 * bells):
            for half, weight in ((0.0, 1.0), (0.5, -0.7)):
                shift = round((place + half) * gap_s * factor / FRAME_S)
                row[: len(row) - shift] += weight * smooth[shift:]
    return score


def _walk_back(
    total: NDArray[np.float64], came_from: NDArray[np.int32], score: NDArray[np.float64], gap_s: float
) -> Rows:
    starts, gaps, fits = [], [], []
    factor, frame = (int(index) for index in np.unravel_index(int(total.argmax()), total.shape))
    while frame >= 0:
        starts.append(frame * FRAME_S)
        gaps.append(gap_s * _FACTORS[factor])
        fits.append(score[factor, frame])
        factor, frame = int(came_from[0, factor, frame]), int(came_from[1, factor, frame])
    fit = np.array(fits[::-1])
    rung = np.flatnonzero(fit > 0.2 * np.median(fit))
    kept = slice(rung[0], rung[-1] + 1) if len(rung) else slice(0, 0)
    return Rows(np.array(starts[::-1])[kept], np.array(gaps[::-1])[kept])
