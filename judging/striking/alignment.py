"""Which blow of a log fills which place of the rows: where they agree for certain, then all that lies between.

First the runs of rows found whole (`seeding`) are laid. What lies between two runs is laid at once where the blows are
just as many as the places, and by the cheapest way (`cheapest`) elsewhere, whole rows too many or too few having been
taken out. From what is laid it is then known when each row was due, and every stretch that is not right is laid once
more, with the times beside the bells.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from judging.striking.cheapest import Stretch, cheapest
from judging.striking.seeding import Run, chain_of_runs, straight_run

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

#: Share of places filled by their own bell below which another way is looked for.
POOR = 0.7

#: How many rows away a row that is right throughout still tells the time better than one nearer that is not.
NEAR = 6

#: How often stretches that are not right are laid again with better times.
AGAIN = 2


def align(bells: Ints, times: Floats, rows: Ints, hand: NDArray[np.bool_]) -> Ints:
    """Blow that fills each place.

    Parameters
    ----------
    bells : ndarray, shape (N,)
        Bell of each blow; 0 = unknown.
    times : ndarray, shape (N,)
        Seconds, ascending.
    rows : ndarray, shape (R, n)
        Rows of the piece.
    hand : ndarray of bool, shape (R,)
        Handstroke rows.

    Returns
    -------
    ndarray of int64, shape (R, n)
        Index of the blow, ascending from place to place; -1 where there is none.
    """
    answer = np.full(rows.shape, -1, dtype=np.int64)
    heard = np.isin(rows, heard_bells(bells, rows[0]))
    width = int(heard[0].sum())
    sounding = rows[heard].reshape(-1, width)
    if len(bells) == sounding.size and (bells == sounding.ravel()).all():
        answer[heard] = np.arange(len(bells))
        return answer
    laid = _first_laid(bells, times, sounding, chain_of_runs(bells, sounding))
    if _right(bells, sounding, laid).mean() < POOR and (straight := straight_run(bells, sounding)) is not None:
        other = _first_laid(bells, times, sounding, [straight])
        laid = max(laid, other, key=lambda one: int(_right(bells, sounding, one).sum()))
    place = np.nonzero(heard)[1].reshape(-1, width)
    for _ in range(AGAIN):
        laid = _laid_again(bells, times, sounding, place, hand, laid)
    answer[heard] = laid.ravel()
    return answer


def heard_bells(bells: Ints, row: Ints) -> Ints:
    """Bells that were rung, as against one that is silent but for a few blows taken for it.

    Parameters
    ----------
    bells : ndarray, shape (N,)
        Bell of each blow; 0 = unknown.
    row : ndarray, shape (n,)
        Bells of the piece.

    Returns
    -------
    ndarray of int64
        Those whose blows, with all the unknown ones, are at least a tenth of what a bell usually has.
    """
    blows = np.bincount(bells, minlength=int(row.max()) + 1)
    return np.sort(row[10 * (blows[row] + blows[0]) >= np.median(blows[row])])


def _right(bells: Ints, rows: Ints, laid: Ints) -> NDArray[np.bool_]:
    """Places filled by their own bell."""
    right: NDArray[np.bool_] = (laid >= 0) & (bells[laid] == rows)
    return right


def _first_laid(bells: Ints, times: Floats, rows: Ints, chain: list[Run]) -> Ints:
    """Runs, and what lies between them, by the bells."""
    width = rows.shape[1]
    laid = np.full(rows.shape, -1, dtype=np.int64)
    for run in chain:
        blow, row = run.after(width)
        laid[run.row : row] = np.arange(run.blow, blow).reshape(-1, width)
    begins = [(0, 0), *(run.after(width) for run in chain)]
    ends = [*((run.blow, run.row) for run in chain), (len(bells), len(rows))]
    for index, ((blow, row), (to_blow, to_row)) in enumerate(zip(begins, ends, strict=True)):
        between = _Between(blow, to_blow, row, to_row, open_left=index == 0, open_right=index == len(chain))
        between.fill(laid, bells, times, rows)
    return laid


@dataclass(frozen=True, slots=True)
class _Between:
    """Blows and rows between two runs, or before the first, or after the last."""

    blow: int
    to_blow: int
    row: int
    to_row: int
    open_left: bool
    open_right: bool

    def fill(self, laid: Ints, bells: Ints, times: Floats, rows: Ints) -> None:
        """Give the blows to the places, in `laid`."""
        width = rows.shape[1]
        blow, to_blow, row, to_row = self.blow, self.to_blow, self.row, self.to_row
        if self.open_left and not self.open_right:  # before the first run: only the latest of what can belong
            blow, row = (
                max(blow, to_blow - _roughly(to_row - row) * width),
                max(row, to_row - _roughly((to_blow - blow) // width)),
            )
        elif self.open_right and not self.open_left:
            to_blow, to_row = (
                min(to_blow, blow + _roughly(to_row - row) * width),
                min(to_row, row + _roughly((to_blow - blow) // width)),
            )
        if to_blow <= blow or to_row <= row:
            return
        blows, places = np.arange(blow, to_blow), np.arange(row * width, to_row * width)
        enclosed = not (self.open_left or self.open_right)
        if enclosed and len(blows) == len(places) and _each_once(bells[blows].reshape(-1, width), rows[row]):
            laid[row:to_row] = blows.reshape(-1, width)
            return
        if enclosed:
            over = _whole_rows_over(blows, to_row - row, times, laid)
            blows, places = _without_whole_rows(blows, places, bells, rows, over)
        stretch = Stretch(
            bells[blows], rows.ravel()[places], None, None, width, open_left=self.open_left, open_right=self.open_right
        )
        _put(laid, blows, places, cheapest(stretch))


def _roughly(rows: int) -> int:
    """So many rows and some more, for blows may be missing or extra."""
    return rows + rows // 3 + 1


def _whole_rows_over(blows: Ints, rows: int, times: Floats, laid: Ints) -> int:
    """Whole rows rung beyond those of the piece (less than 0: left out), as blows and time agree.

    Missing blows take no time away, and a stop adds no blows.
    """
    width = laid.shape[1]
    by_blows: int = round(len(blows) / width - rows)
    whole = laid[(laid >= 0).all(axis=1), 0]  # by whole pulls, for a row into handstroke is longer
    row_s = float(np.median(times[whole[2:]] - times[whole[:-2]])) / 2 if len(whole) > 2 else 0.0
    if by_blows == 0 or row_s <= 0:
        return by_blows
    elapsed_s = float(times[blows[-1] + 1] - times[blows[0]])
    by_time = round(elapsed_s / row_s - rows)
    if by_time * by_blows <= 0:
        return 0
    return by_blows if abs(by_blows) < abs(by_time) else by_time


def _put(laid: Ints, blows: Ints, places: Ints, filled: Ints) -> None:
    """Write what was found into `laid`."""
    np.put(laid, places, np.where(filled >= 0, blows[filled], -1))


def _each_once(heard: Ints, row: Ints) -> bool:
    """Whether the blows, cut into rows, hold each bell once in each row."""
    return bool((np.sort(heard, axis=1) == np.sort(row)).all())


def _without_whole_rows(blows: Ints, places: Ints, bells: Ints, rows: Ints, over: int) -> tuple[Ints, Ints]:
    """Blows and places less whole rows rung beyond the piece or left out of it, where the bells agree best."""
    width = rows.shape[1]
    if over == 0:
        return blows, places
    heard, expected = bells[blows], rows.ravel()[places]
    fewer = min(len(blows), len(places))
    left = np.concatenate([[0], np.cumsum(heard[:fewer] == expected[:fewer])])
    right = np.concatenate([[0], np.cumsum(heard[::-1][:fewer] == expected[::-1][:fewer])])
    cuts = np.arange(0, fewer // width + 1) * width
    cut = int(cuts[np.argmax(left[cuts] + right[fewer - cuts])])
    drop = slice(cut, cut + abs(over) * width)
    return (np.delete(blows, drop), places) if over > 0 else (blows, np.delete(places, drop))


def _laid_again(bells: Ints, times: Floats, rows: Ints, place: Ints, hand: NDArray[np.bool_], laid: Ints) -> Ints:
    """Lay every stretch of rows that is not right once more, now that it is known when each place was due."""
    width = rows.shape[1]
    right = _right(bells, rows, laid)
    rung: NDArray[np.bool_] = np.any(laid >= 0, axis=1)
    timed = _due(times, place, hand, laid, right)
    if timed is None:
        return laid
    due, gap = timed
    laid = laid.copy()
    index = np.flatnonzero(rung)
    last = np.maximum.accumulate(laid[index].max(axis=1))
    beside = np.diff(laid[index].min(axis=1, initial=len(bells), where=laid[index] >= 0), append=last[-1] + 1) != width
    wrong = ~right[index].all(axis=1) | beside
    spread = np.convolve(np.concatenate([[0], wrong, [0]]), np.ones(3), "same")[1:-1] > 0  # a row to either side
    cuts = np.flatnonzero(np.diff(np.concatenate([[0], spread, [0]])))
    for first, end in cuts.reshape(-1, 2).tolist():
        before, after = index[:first], index[end:]
        begin = int(laid[before[-1]].max()) + 1 if len(before) else max(0, int(laid[laid >= 0].min()) - width // 2)
        finish = int(laid[after[0]][laid[after[0]] >= 0].min()) if len(after) else int(laid.max()) + 1 + width // 2
        blows = np.arange(begin, min(finish, len(bells)))
        places = (index[first:end, None] * width + np.arange(width)).ravel()
        stretch = Stretch(
            bells[blows], rows.ravel()[places], times[blows] / gap, due.reshape(len(due), -1)[:, places] / gap, width
        )
        _put(laid, blows, places, cheapest(stretch))
    return laid


def _due(
    times: Floats, place: Ints, hand: NDArray[np.bool_], laid: Ints, right: NDArray[np.bool_]
) -> tuple[Floats, float] | None:
    """When each place was due, shape (3, R, n), and the usual gap, by the rows that are right for the most part.

    Reckoned from the nearest such rows on both sides, and, where the ringing stopped between them or rows were left out
    or too many, from the one before and from the one after as well.
    """
    # Rows right for the most part may be so by chance: they serve where no whole one is near.
    whole: NDArray[np.bool_] = np.all(right, axis=1)
    near_whole = np.convolve(whole, np.ones(2 * NEAR + 1))[NEAR : NEAR + len(whole)] > 0
    good = np.flatnonzero(whole | (~near_whole & (right.sum(axis=1) * 2 >= laid.shape[1])))
    beside = right[:, 1:] & right[:, :-1]
    if len(good) < 3 or not beside.any():
        return None
    struck = np.where(right, times[laid], np.nan)
    gap = float(np.median((np.diff(struck, axis=1) / np.diff(place, axis=1))[beside]))
    if gap <= 0:
        return None
    middle = place.max() / 2
    middles = np.nanmedian(struck[good] - (place[good] - middle) * gap, axis=1)
    steps = np.diff(middles)
    next_rows = np.diff(good) == 1
    usual = float(np.median(steps[next_rows])) if next_rows.any() else gap * laid.shape[1]
    lengths = np.full(len(laid) - 1, usual)
    for stroke in (True, False):
        same = next_rows & (hand[good[1:]] == stroke)
        if same.any():
            lengths[hand[1:] == stroke] = np.median(steps[same])
    clock = np.concatenate([[0.0], np.cumsum(lengths)])
    offset, index = middles - clock[good], np.arange(len(laid))
    before = offset[np.maximum(np.searchsorted(good, index, side="right") - 1, 0)]
    after = offset[np.minimum(np.searchsorted(good, index), len(good) - 1)]
    between = np.interp(index, good, offset)
    stopped = np.abs(after - before) > gap * laid.shape[1] / 2
    at = clock + np.array([between, np.where(stopped, before, between), np.where(stopped, after, between)])
    pace = np.diff(at[0]) / np.diff(clock)
    pace = np.where(np.abs(pace - 1) < 0.3, pace, 1.0)  # a step that is no pace is a stop, or rows left out
    pace = (np.append(pace, 1.0) + np.append(1.0, pace)) / 2
    return at[:, :, None] + (place - middle) * gap * pace[:, None], gap
