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
#: Onsets hardly tell paces a few hundredths apart, but do tell those that are plainly wrong.
_NEARLY_AS_WELL = 0.85
#: Paces of single whole pulls against the mean, and how far the next may differ.
_FACTORS = np.exp(np.linspace(-0.09, 0.09, 13))
#: What a bell found in its row is worth beside a blow found in its place.
_WHOLE_ROW = 2.0
#: A row may lack this many bells of what is usual, and blows be this share of the best, and still count for itself:
#: were more allowed, short rows would pay, being more.
_SPARE, _HALF = 1.0, 0.4
#: How late or early a whole pull may begin, in frames.
_SLACK = np.arange(-12, 13, 2)


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
    pull_s : float
        How long a whole pull lasts on average.
    """

    starts_s: NDArray[np.float64]
    gaps_s: NDArray[np.float64]
    pull_s: float

    def __len__(self) -> int:
        """Return the number of rows."""
        return len(self.starts_s)

    def one_more_each_end(self) -> "Rows":
        """Return the rows with one more before and one after, where single blows may lie."""
        steps = np.diff(self.starts_s) if len(self) > 1 else np.array([self.pull_s])
        starts = np.r_[self.starts_s[0] - steps[0], self.starts_s, self.starts_s[-1] + steps[-1]]
        return Rows(starts, np.r_[self.gaps_s[0], self.gaps_s, self.gaps_s[-1]], self.pull_s)

    def cut(self, rows: slice) -> "Rows":
        """Return some of the rows."""
        return Rows(self.starts_s[rows], self.gaps_s[rows], self.pull_s)


def steady_out(rises: NDArray[np.float32]) -> NDArray[np.float32]:
    """Take the steady part of noise out of the sign of onsets, and keep single knocks from outweighing bells."""
    level = median_filter(rises, 201)
    spread = median_filter(np.abs(rises - level), 201)
    clean = np.maximum(0.0, rises - level - 1.5 * spread)
    loud = float(np.percentile(clean[clean > 0], 95)) if (clean > 0).any() else 1.0
    return np.minimum(clean / loud, 1.0).astype(np.float32)


def find_paces(loud: NDArray[np.float32], rises: NDArray[np.float32], bells: int) -> list[Pace]:
    """Possible paces of the ringing, the likeliest first.

    Rounds repeat their spectrum after a row and after a whole pull; that is best. But a whole pull and a half does
    nearly as well, so only paces are kept at which onsets fit nearly as well as at the best; and where no rounds are
    rung nothing repeats, so the pace of bare onsets is tried last.

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
    fits = np.array([_comb_fit(rises, bells, pace) for pace in tried])
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


def _comb_fit(rises: NDArray[np.float32], bells: int, pace: Pace) -> float:
    """How well onsets fit whole pulls at a pace: the sum over the best path, so that no blow is left unexplained."""
    return float(_follow(_pull_scores(rises, bells, pace.gap_s), bells, pace)[0].max())


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
    score = _pull_scores(rises, bells, pace.gap_s)
    total, came_from = _follow(score, bells, pace)
    return _walk_back(total, came_from, score, bells, pace)


def follow_whole_rows(answers: NDArray[np.float32], bells: int, pace: Pace, first_s: float) -> Rows:
    """Whole pulls once more, when the bells' voices are known: from end to end, and row by row.

    Blows alone tell where a row begins only by the handstroke gap, so that following them may slip by a blow where
    ringing is poor. But a row holds every bell once: as soon as the order changes, a window of a row's length that
    slips by a blow misses the bell that leads.

    Parameters
    ----------
    answers : ndarray of float32, shape (frames, bells)
        Of each bell's detector, a usual answer being 1.
    bells, pace
        As in `follow_pulls`.
    first_s : float
        Where the first whole pull begins.

    Returns
    -------
    Rows
        One entry a whole pull.
    """
    heard = np.clip(answers, 0.0, 1.0)
    score = _pull_scores(heard.max(axis=1), bells, pace.gap_s)
    score -= _HALF * np.percentile(score, 99.9)
    window = round(bells * pace.gap_s / FRAME_S)
    half_gap = round(0.5 * pace.gap_s / FRAME_S)
    found = maximum_filter1d(heard, window, axis=0, origin=-(window // 2)).sum(axis=1, dtype=np.float64)
    first, last = round(first_s / FRAME_S), len(found)
    found -= np.percentile(found[first:], 75) - _SPARE
    for row, factor in zip(score, _FACTORS, strict=True):
        for begin in (0, round(bells * pace.gap_s * factor / FRAME_S)):
            shift = begin - half_gap
            here = slice(max(0, -shift), last - max(0, shift))
            row[here] += _WHOLE_ROW * found[here.start + shift : here.stop + shift]
    pull = round((2 * bells + pace.handstroke_gap) * pace.gap_s / FRAME_S)
    score[:, max(0, first - pull) : max(0, first - half_gap)] = -np.inf
    score[:, first + half_gap : first + pull - half_gap] = -np.inf
    total, came_from = _follow(score, bells, pace)
    return _walk_back(total, came_from, score, bells, pace)


def _follow(score: NDArray[np.float64], bells: int, pace: Pace) -> tuple[NDArray[np.float64], NDArray[np.int32]]:
    """Best totals of paths that end at each pace and frame, and where each came from."""
    gap, extra = pace.gap_s, pace.handstroke_gap
    total = score.copy()
    came_from = np.full((2, *score.shape), -1, np.int32)
    pulls = np.round((2 * bells + extra) * gap * _FACTORS / FRAME_S).astype(np.int64)
    cost = bells * 0.02 * (_SLACK / 6) ** 2
    step = int(pulls[0]) - int(_SLACK[-1]) - 1
    for first in range(0, score.shape[1], step):
        here = np.arange(first, min(score.shape[1], first + step))
        source = here - pulls[:, None, None] - _SLACK[:, None]
        earlier = np.take_along_axis(total[:, None, :], np.maximum(source, 0), axis=2)
        value = np.where(source >= 0, earlier, -np.inf) - cost[:, None]
        late = value.argmax(axis=1)[:, None]
        value = np.take_along_axis(value, late, axis=1)[:, 0]
        source = np.take_along_axis(source, late, axis=1)[:, 0]
        for now in range(len(_FACTORS)):
            best = np.zeros(len(here))
            for then in range(max(0, now - 1), min(len(_FACTORS), now + 2)):
                reached = value[then] - bells * 0.15 * (then != now)
                better = reached > best
                best[better] = reached[better]
                came_from[0, now, here[better]] = then
                came_from[1, now, here[better]] = source[then, better]
            total[now, here] += best
    return total, came_from


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
    total: NDArray[np.float64], came_from: NDArray[np.int32], score: NDArray[np.float64], bells: int, pace: Pace
) -> Rows:
    starts, gaps, fits = [], [], []
    factor, frame = (int(index) for index in np.unravel_index(int(total.argmax()), total.shape))
    while frame >= 0:
        starts.append(frame * FRAME_S)
        gaps.append(pace.gap_s * _FACTORS[factor])
        fits.append(score[factor, frame])
        factor, frame = int(came_from[0, factor, frame]), int(came_from[1, factor, frame])
    fit = np.array(fits[::-1])
    rung = np.flatnonzero(fit > 0.2 * np.median(fit))
    kept = slice(rung[0], rung[-1] + 1) if len(rung) else slice(0, 0)
    pull_s = (2 * bells + pace.handstroke_gap) * pace.gap_s
    return Rows(np.array(starts[::-1])[kept], np.array(gaps[::-1])[kept], pull_s)
