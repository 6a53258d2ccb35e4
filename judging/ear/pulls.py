"""Where each whole pull begins: one best path over all places where they could begin, from end to end.

A whole pull fits where something is struck at each of its blows and less halfway between; the next begins a pull later,
a little sooner or later, at nearly the same pace. Two pulls in which nothing fits end the ringing.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, maximum_filter1d, uniform_filter1d

from judging.ear.features import FRAME_S as PICTURE_FRAME_S
from judging.ear.rows import Pace, Rows
from judging.ear.tables import let_go

#: Pulls begin on a grid of every second frame (10 ms), which is fine enough and half the work.
_GRID = 2
FRAME_S = _GRID * PICTURE_FRAME_S
#: Paces of single whole pulls against the mean; the next may be one step faster or slower, at this cost for each bell.
_FACTORS = np.exp(np.linspace(-0.09, 0.09, 13))
_OTHER_PACE = 0.15
#: How late or early a whole pull may begin, in steps of the grid, and what that costs for each bell.
_SLACK = np.arange(-6, 7)
_LATE = 0.02 * (_SLACK / 3) ** 2
#: How far a blow strays, in gaps; and what is struck halfway between blows counts against them by this share.
_STRAY, _BETWEEN = 0.12, 0.7
#: What a bell found in its row is worth beside a blow found in its place.
_WHOLE_ROW = 2.0
#: A row may lack this many bells of what is usual, and blows be this share of the best, and still count for itself:
#: were more allowed, short rows would pay, being more.
_SPARE, _HALF = 1.0, 0.4
#: Worth of the whole pull that the ringing was found by, so that no other touch of the recording is followed instead.
_MUST = 1e4
#: So many frames say what the best whole pulls are worth: half an hour of them.
_ASKED = 180_000
#: A whole pull that fits less well than this share of the best is weak.
_WEAK = 0.15
#: A row in which less than this share of the usual is struck is a pause.
_PAUSE = 0.2
#: At most so many touches are told apart, down to this share of the longest; at their ends pulls fit at least so well.
_MOST_TOUCHES, _SHORTEST_TOUCH, _RUNG = 3, 0.15, 0.2


def follow_touches(rises: NDArray[np.float32], bells: int, pace: Pace) -> list[Rows]:
    """Whole pulls of each stretch of ringing, from end to end.

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
    list of Rows
        The longest stretch first; one entry a whole pull: its first blow and its gap. Empty where nothing recurs at
        that pace.
    """
    score = _pull_scores(rises, bells, pace.gap_s)
    strong = _strong(score, rises, bells, pace)
    touches: list[Rows] = []
    longest = 0.0
    for _ in range(_MOST_TOUCHES):
        pulls, worth = _best_pulls(score, strong, bells, pace)
        longest = longest or worth
        if worth < _SHORTEST_TOUCH * longest or len(pulls) == 0:
            break
        touches.append(pulls)
        first = int((pulls.starts_s[0] - pulls.pull_s) / FRAME_S)
        score[:, max(0, first) : int((pulls.starts_s[-1] + pulls.pull_s) / FRAME_S)] = -1.0
    return touches


def follow_whole_rows(answers: NDArray[np.float32], bells: int, paces: list[Pace], first_s: float) -> Rows:
    """Whole pulls once more, when the bells' voices are known: from end to end, and row by row.

    Blows alone tell where a row begins only by the handstroke gap, so that following them may slip by a blow where
    ringing is poor. But a row holds every bell once: as soon as the order changes, a window of a row's length that
    slips by a blow misses the bell that leads.

    Parameters
    ----------
    answers : ndarray of float32, shape (frames, bells)
        Of each bell's detector, a usual answer being 1.
    bells : int
        Number of bells.
    paces : list of Pace
        Guesses at the pace, of which the one that fits best is followed.
    first_s : float
        Where the first whole pull begins.

    Returns
    -------
    Rows
        One entry a whole pull.
    """
    best, best_total = Rows(np.zeros(0), np.zeros(0), 0.0), -np.inf
    for pace in paces:
        pulls, total = _best_pulls(*_whole_row_scores(answers, bells, pace, first_s), bells, pace)
        if total > best_total:
            best, best_total = pulls, total
    return best


def comb_fit(rises: NDArray[np.float32], bells: int, pace: Pace) -> float:
    """How well onsets fit whole pulls at a pace: the sum over the best path, so that no blow is left unexplained."""
    score = _pull_scores(rises, bells, pace.gap_s)
    return float(_follow(score, _strong(score, rises, bells, pace), bells, pace)[0].max())


def _whole_row_scores(
    answers: NDArray[np.float32], bells: int, pace: Pace, first_s: float
) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
    """How well a whole pull from each frame fits, by its blows and by its bells; and where it fits at all."""
    window = round(bells * pace.gap_s / FRAME_S)
    half_gap = round(0.5 * pace.gap_s / FRAME_S)
    found = _bells_found(answers, window)
    any_bell = np.clip(answers.max(axis=1), 0.0, 1.0)
    let_go(answers)
    score = _pull_scores(any_bell, bells, pace.gap_s)
    strong = _strong(score, any_bell, bells, pace)
    score -= np.float32(_HALF * _best_of(score))
    pull = round((2 * bells + pace.handstroke_gap) * pace.gap_s / FRAME_S)
    first, last = round(first_s / FRAME_S), len(found)
    while first < half_gap:
        first += pull
    found -= np.percentile(found[min(first, last - 1) :], 75) - _SPARE  # a scrap may end before its first whole pull
    for row, factor in zip(score, _FACTORS, strict=True):
        for begin in (0, round(bells * pace.gap_s * factor / FRAME_S)):
            shift = begin - half_gap
            here = slice(max(0, -shift), max(0, last - max(0, shift)))
            if here.start >= here.stop:
                continue
            row[here] += np.float32(_WHOLE_ROW) * found[here.start + shift : here.stop + shift]
    score[:, max(0, first - pull) : max(0, first - half_gap)] = -np.inf
    score[:, first + half_gap : first + pull - half_gap] = -np.inf
    score[:, max(0, first - half_gap) : first + half_gap] += np.float32(_MUST)
    return score, strong


def _bells_found(answers: NDArray[np.float32], window: int) -> NDArray[np.float32]:
    """How many bells are heard in a window that begins at each frame; shape (frames,)."""
    later = np.concatenate([answers[1::_GRID], answers[-1:]])[: len(answers[::_GRID])]
    bell_by_bell = np.clip(np.maximum(answers[::_GRID], later), 0.0, 1.0)
    del later
    maximum_filter1d(bell_by_bell, window, axis=0, origin=-(window // 2), output=bell_by_bell)
    found: NDArray[np.float32] = bell_by_bell.sum(axis=1)
    return found


def _best_of(score: NDArray[np.float32]) -> float:
    """How well a whole pull fits that is hardly bettered by any; of a long recording, an even share is asked."""
    return float(np.percentile(score[:, :: 1 + score.shape[1] // _ASKED], 99.9))


def _pull_scores(rises: NDArray[np.float32], bells: int, gap_s: float) -> NDArray[np.float32]:
    """How much better onsets fit a whole pull beginning at each frame than one half a gap off; (factors, frames)."""
    width = _STRAY * gap_s / PICTURE_FRAME_S
    smooth = (gaussian_filter1d(rises, width) * np.float32(2.5 * width))[::_GRID]
    score = np.zeros((len(_FACTORS), len(smooth)), np.float32)
    for row, factor in zip(score, _FACTORS, strict=True):
        for place in range(2 * bells):
            for half, weight in ((0.0, 1.0), (0.5, -_BETWEEN)):
                shift = round((place + half) * gap_s * factor / FRAME_S)
                if shift < len(row):  # a whole pull may be longer than all there is
                    row[: len(row) - shift] += np.float32(weight) * smooth[shift:]
    return score


def _strong(score: NDArray[np.float32], rises: NDArray[np.float32], bells: int, pace: Pace) -> NDArray[np.bool_]:
    """Where a whole pull fits at all, and holds no pause; after two that do not, ringing has stopped."""
    pull = round((2 * bells + pace.handstroke_gap) * pace.gap_s / FRAME_S)
    row = round(bells * pace.gap_s / FRAME_S)
    busy = uniform_filter1d(rises[::_GRID], row)
    pause = busy < _PAUSE * np.percentile(busy, 75)
    paused = np.concatenate([np.cumsum(pause), np.full(pull, pause.sum())])
    strong: NDArray[np.bool_] = score > _WEAK * _best_of(score)
    strong &= paused[pull : pull + len(pause)] == paused[: len(pause)]
    return strong


def _follow(
    score: NDArray[np.float32], strong: NDArray[np.bool_], bells: int, pace: Pace
) -> tuple[NDArray[np.float32], NDArray[np.int8]]:
    """Best totals of paths that end at each pace and frame; and the step that led there.

    Returns
    -------
    total : ndarray of float32, shape (factors, frames)
    steps : ndarray of int8, shape (2, factors, frames)
        Pace of the pull before, -1 where there is none; and how late after it this one begins, as an index.
    """
    total = score.copy()
    steps = np.full((2, *score.shape), -1, np.int8)
    pulls = _pull_frames(bells, pace)
    cost = (bells * _LATE).astype(np.float32)
    length = int(pulls[0]) - int(_SLACK[-1]) - 1
    for first in range(0, score.shape[1], length):
        here = np.arange(first, min(score.shape[1], first + length))
        source = here - pulls[:, None, None] - _SLACK[:, None]
        earlier = np.take_along_axis(total[:, None, :], np.maximum(source, 0), axis=2)
        value = np.where(source >= 0, earlier, -np.inf) - cost[:, None]
        late = value.argmax(axis=1)[:, None]
        value = np.take_along_axis(value, late, axis=1)[:, 0]
        source = np.take_along_axis(source, late, axis=1)[:, 0]
        after_weak = ~np.take_along_axis(strong, np.maximum(source, 0), axis=1)
        for now in range(len(_FACTORS)):
            best = np.zeros(len(here), np.float32)
            for then in range(max(0, now - 1), min(len(_FACTORS), now + 2)):
                reached = value[then] - np.float32(bells * _OTHER_PACE * (then != now))
                better = (reached > best) & (strong[now, here] | ~after_weak[then])
                best[better] = reached[better]
                steps[0, now, here[better]] = then
                steps[1, now, here[better]] = late[then, 0, better]
            total[now, here] += best
    return total, steps


def _best_pulls(score: NDArray[np.float32], strong: NDArray[np.bool_], bells: int, pace: Pace) -> tuple[Rows, float]:
    """Whole pulls of the best path, and its total; of a long recording what it is found by is large, and let go."""
    total, steps = _follow(score, strong, bells, pace)
    return _walk_back(total, steps, score, bells, pace), float(total.max())


def _pull_frames(bells: int, pace: Pace) -> NDArray[np.int64]:
    """How many frames a whole pull lasts at each pace."""
    return np.round((2 * bells + pace.handstroke_gap) * pace.gap_s * _FACTORS / FRAME_S).astype(np.int64)


def _walk_back(
    total: NDArray[np.float32], steps: NDArray[np.int8], score: NDArray[np.float32], bells: int, pace: Pace
) -> Rows:
    pulls = _pull_frames(bells, pace)
    starts, gaps, fits = [], [], []
    factor, frame = (int(index) for index in np.unravel_index(int(total.argmax()), total.shape))
    while factor >= 0:
        starts.append(frame * FRAME_S)
        gaps.append(pace.gap_s * _FACTORS[factor])
        fits.append(score[factor, frame])
        before, late = (int(step) for step in steps[:, factor, frame])
        frame -= int(pulls[before] + _SLACK[late])
        factor = before
    fit = np.array(fits[::-1])
    rung = np.flatnonzero(fit > _RUNG * np.median(fit))
    kept = slice(rung[0], rung[-1] + 1) if len(rung) else slice(0, 0)
    pull_s = (2 * bells + pace.handstroke_gap) * pace.gap_s
    return Rows(np.array(starts[::-1])[kept], np.array(gaps[::-1])[kept], pull_s)
