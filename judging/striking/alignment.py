"""Which blow of a log fills which place of the rows: seeds, chain, fill.

Two different rows that follow each other in the piece, and are found so in the log, are a *seed*. Seeds on one diagonal
(as many blows on as places on) form runs; the chain of runs that explains most of the log, both moving forward, is
kept. What lies between two runs is filled: at once where the blows are just as many as the places, else by the
cheapest way (dynamic programming) to give blows to places in order of time, a wrong bell, a missing blow, an extra blow
and a blow far from its time each having a price. A blow keeps its place in time, so two bells that struck the wrong way
round are two wrong bells in two right places.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

#: Prices of the fill. A wrong bell in its time costs less than a missing blow and an extra one together, so exchanged
#: bells stay in their places; beyond the end of the ringing blows and places are nearly free.
WRONG, UNKNOWN, MISSING, EXTRA, OUTSIDE = 1.0, 0.3, 1.1, 1.1, 0.2

#: Price of a blow a whole gap from its time, and the most that its time can cost.
LATE, LATE_MOST = 0.5, 1.0

#: A jump from one diagonal to another must bring in more seeds than this.
JUMP = 3.0

#: Most seeds looked at.
MEETINGS = 200_000

#: Most cells in one fill; a longer one looks only so far to either side of the straight way.
CELLS = 2_000_000


@dataclass(frozen=True, slots=True)
class Run:
    """Rows found whole, one after the other.

    Parameters
    ----------
    blow, row : int
        First blow and first row.
    rows : int
        How many rows.
    seeds : int
        How many of them were seeds.
    """

    blow: int
    row: int
    rows: int
    seeds: int

    def ends(self, bells: int) -> tuple[int, int]:
        """First blow and row after the run."""
        return self.blow + self.rows * bells, self.row + self.rows


def align(bells: Ints, times: Floats, rows: Ints, clock: Floats) -> Ints:
    """Blow that fills each place.

    Parameters
    ----------
    bells : ndarray, shape (N,)
        Bell of each blow; 0 = unknown.
    times : ndarray, shape (N,)
        Seconds, ascending.
    rows : ndarray, shape (R, n)
        Rows of the piece.
    clock : ndarray, shape (R, n)
        When each place is due, in gaps.

    Returns
    -------
    ndarray of int64, shape (R, n)
        Index of the blow; -1 where there is none.
    """
    heard = np.isin(rows[0], bells) | ~bells.all()  # with unknown bells in the log, none can be said to be silent
    if not heard.any():
        return np.full(rows.shape, -1, dtype=np.int64)
    sounding = np.isin(rows, rows[0][heard])
    answer = np.full(rows.shape, -1, dtype=np.int64)
    width = int(heard.sum())
    task = _Task(bells, times, rows[sounding].reshape(-1, width), clock[sounding].reshape(-1, width))
    answer[sounding] = task.solve().ravel()
    return answer


class _Task:
    """One log against one piece, all of whose bells are heard."""

    def __init__(self, bells: Ints, times: Floats, rows: Ints, clock: Floats) -> None:
        self.bells, self.times, self.rows, self.clock = bells, times, rows, clock
        self.width = rows.shape[1]
        self.answer = np.full(rows.shape, -1, dtype=np.int64)
        steps = np.diff(times)
        self.gap = max(float(np.median(steps)), 1e-3) if len(steps) else 1.0

    def solve(self) -> Ints:
        """Fill every place."""
        if len(self.bells) == self.rows.size and (self.bells == self.rows.ravel()).all():
            self.answer[:] = np.arange(len(self.bells)).reshape(self.rows.shape)
            return self.answer
        chain = self._chain()
        for run in chain:
            blow, row = run.ends(self.width)
            self.answer[run.row : row] = np.arange(run.blow, blow).reshape(-1, self.width)
        begins = [(0, 0), *(run.ends(self.width) for run in chain)]
        ends = [*((run.blow, run.row) for run in chain), (len(self.bells), len(self.rows))]
        for index, ((blow, row), (to_blow, to_row)) in enumerate(zip(begins, ends, strict=True)):
            self._fill(blow, to_blow, row, to_row, open_left=index == 0, open_right=index == len(chain))
        return self.answer

    # --- seeds and runs

    def _chain(self) -> list[Run]:
        """Runs that explain most of the log, in order, lengthened as far as rows match whole."""
        runs = self._runs()
        if not runs:
            return []
        score: list[float] = []
        came: list[int] = []
        for index, run in enumerate(runs):
            best, source = float(run.seeds), -1
            for earlier, before in enumerate(runs[:index]):
                blow, row = before.ends(self.width)
                if blow <= run.blow and row <= run.row and score[earlier] - JUMP + run.seeds > best:
                    best, source = score[earlier] - JUMP + run.seeds, earlier
            score.append(best)
            came.append(source)
        at = int(np.argmax(score))
        chain = []
        while at >= 0:
            chain.append(runs[at])
            at = came[at]
        return self._lengthened(chain[::-1])

    def _runs(self) -> list[Run]:
        """Seeds of the log, gathered along their diagonals; at most a few hundred, the longest."""
        width = self.width
        piece, log = (
            _codes(self.rows),
            _codes(np.lib.stride_tricks.sliding_window_view(self.bells, width))
            if len(self.bells) >= width
            else np.zeros(0, dtype=np.uint64),
        )
        if len(piece) < 2 or len(log) <= width:
            return []
        pairs, log_pairs = _pairs(piece[:-1], piece[1:]), _pairs(log[:-width], log[width:])
        blows, rows = _meetings(pairs, log_pairs, piece[:-1] != piece[1:])
        if not len(blows):
            return []
        diagonal = blows - rows * width
        order = np.lexsort((rows, diagonal))
        blows, rows, diagonal = blows[order], rows[order], diagonal[order]
        cut = np.flatnonzero((np.diff(diagonal) != 0) | (np.diff(rows) != 1)) + 1
        begins, ends = np.concatenate([[0], cut]), np.concatenate([cut, [len(blows)]])
        runs = [Run(int(blows[a]), int(rows[a]), int(b - a) + 1, int(b - a)) for a, b in zip(begins, ends, strict=True)]
        if len(runs) > 400:
            runs = sorted(runs, key=lambda run: -run.seeds)[:400]
        return sorted(runs, key=lambda run: (run.blow, run.row))

    def _lengthened(self, chain: list[Run]) -> list[Run]:
        """Each run taken on to the last row, either way, that matches whole and is not another run's."""
        longer: list[Run] = []
        blow, row = 0, 0
        for index, run in enumerate(chain):
            to_blow, to_row = (
                (chain[index + 1].blow, chain[index + 1].row)
                if index + 1 < len(chain)
                else (len(self.bells), len(self.rows))
            )
            begin, first, count = run.blow, run.row, run.rows
            while begin - self.width >= blow and first > row and self._matches(begin - self.width, first - 1):
                begin, first, count = begin - self.width, first - 1, count + 1
            end, last = begin + count * self.width, first + count
            while end + self.width <= to_blow and last < to_row and self._matches(end, last):
                end, last = end + self.width, last + 1
            longer.append(Run(begin, first, last - first, run.seeds))
            blow, row = end, last
        return longer

    def _matches(self, blow: int, row: int) -> bool:
        return bool((self.bells[blow : blow + self.width] == self.rows[row]).all())

    # --- what lies between

    def _fill(self, blow: int, to_blow: int, row: int, to_row: int, *, open_left: bool, open_right: bool) -> None:
        """Give the blows between two runs to the places between them."""
        width = self.width
        blows, rows = to_blow - blow, to_row - row
        if open_left and not open_right:  # before the first run: only the latest of what can belong
            blow = max(blow, to_blow - (rows + 1) * width)
            row = max(row, to_row - blows // width - 1)
        elif open_right and not open_left:
            to_blow = min(to_blow, blow + (rows + 1) * width)
            to_row = min(to_row, row + blows // width + 1)
        blows, rows = to_blow - blow, to_row - row
        if blows <= 0 or rows <= 0:
            return
        if not (open_left or open_right) and blows == rows * width and self._whole(blow, row, rows):
            self.answer[row:to_row] = np.arange(blow, to_blow).reshape(rows, width)
            return
        chosen, places = np.arange(blow, to_blow), np.arange(row * width, to_row * width)
        if not (open_left or open_right):
            chosen, places = self._jump(chosen, places)
        filled = self._cheapest(chosen, places, open_left=open_left, open_right=open_right)
        flat = self.answer.ravel()
        have = filled >= 0
        flat[places[have]] = chosen[filled[have]]
        self.answer = flat.reshape(self.answer.shape)

    def _whole(self, blow: int, row: int, rows: int) -> bool:
        """Whether the blows, cut into rows, hold each bell once in each row (unknown bells may be any)."""
        heard = self.bells[blow : blow + rows * self.width].reshape(rows, self.width)
        if not heard.all():
            return bool((heard == 0).sum() <= rows) and bool(
                ((heard == self.rows[row : row + rows]) | (heard == 0)).all()
            )
        return bool((np.sort(heard, axis=1) == np.sort(self.rows[row])).all())

    def _jump(self, blows: Ints, places: Ints) -> tuple[Ints, Ints]:
        """Leave out whole rows, rung beyond the piece or left out of it, where that agrees best with the bells."""
        width = self.width
        over = round((len(blows) - len(places)) / width)
        if over == 0:
            return blows, places
        heard, expected = self.bells[blows], self.rows.ravel()[places]
        fewer = min(len(blows), len(places))
        left = np.concatenate([[0], np.cumsum(heard[:fewer] == expected[:fewer])])
        right = np.concatenate([[0], np.cumsum(heard[::-1][:fewer] == expected[::-1][:fewer])])
        cuts = np.arange(0, fewer // width + 1) * width
        cut = int(cuts[np.argmax(left[cuts] + right[fewer - cuts])])
        drop = slice(cut, cut + abs(over) * width)
        return (np.delete(blows, drop), places) if over > 0 else (blows, np.delete(places, drop))

    def _due(self, places: Ints, blows: Ints) -> Floats:
        """When the places are due by the runs before and after, in seconds; shape (2, k)."""
        clock, known = self.clock.ravel(), self.answer.ravel()
        have = np.flatnonzero(known >= 0)
        due = []
        for side in (have[have < places[0]][-2 * self.width :], have[have > places[-1]][: 2 * self.width]):
            if len(side) >= 2:
                slope, offset = np.polyfit(clock[side] - clock[side[0]], self.times[known[side]], 1)
                due.append(offset + slope * (clock[places] - clock[side[0]]))
        if not due:
            due = [self.times[blows[0]] + self.gap * (clock[places] - clock[places[0]])]
        return np.array(due)

    def _cheapest(self, blows: Ints, places: Ints, *, open_left: bool, open_right: bool) -> Ints:
        """Blow (as an index into `blows`) of each place, -1 for none, at the least price in all."""
        m, k = len(blows), len(places)
        heard, expected = self.bells[blows], self.rows.ravel()[places]
        due = self._due(places, blows) if not (open_left and open_right) else None
        reach = k if (m + 1) * (k + 1) <= CELLS else max(3 * self.width, abs(m - k) + self.width)
        low = np.clip(np.round(np.arange(m + 1) * k / m).astype(int) - reach, 0, max(0, k - 2 * reach))
        size = min(2 * reach + 1, k + 1)
        costs = np.full((m + 1, size), np.inf)
        miss_left, extra_left = (OUTSIDE, OUTSIDE) if open_left else (MISSING, EXTRA)
        columns = np.arange(size)
        costs[0] = columns * miss_left
        price = np.empty((m, size))
        for i in range(m):
            at = low[i + 1] + columns - 1  # place given to blow i in each column; -1 in the column of no place
            inside = np.clip(at, 0, k - 1)
            label = np.where(heard[i] == expected[inside], 0.0, WRONG if heard[i] else UNKNOWN)
            if due is not None:
                label = label + np.minimum(
                    LATE * np.abs(self.times[blows[i]] - due[:, inside]).min(axis=0) / self.gap, LATE_MOST
                )
            price[i] = np.where((at >= 0) & (at < k), label, np.inf)
            shift = low[i + 1] - low[i]
            before = np.concatenate([[np.inf], costs[i], np.full(shift + 1, np.inf)])
            none = at < 0
            best = np.minimum(before[shift : shift + size] + price[i], before[shift + 1 : shift + 1 + size] + EXTRA)
            best = np.where(none, before[shift + 1 : shift + 1 + size] + extra_left, best)
            costs[i + 1] = np.minimum.accumulate(best - columns * MISSING) + columns * MISSING
        return self._trace(costs, price, low, k, open_right=open_right)

    def _trace(self, costs: Floats, price: Floats, low: Ints, k: int, *, open_right: bool) -> Ints:
        """Walk back along the cheapest way."""
        m = len(price)
        i, j = m, min(k, low[m] + costs.shape[1] - 1)
        if open_right:
            last = costs[m] + (k - low[m] - np.arange(costs.shape[1])) * OUTSIDE
            j = int(low[m] + last.argmin())
            least = float(last.min())
            for early in range(m):
                column = k - low[early]
                if column < costs.shape[1] and costs[early, column] + (m - early) * OUTSIDE < least:
                    i, j, least = early, k, float(costs[early, column] + (m - early) * OUTSIDE)
        filled = np.full(k, -1, dtype=np.int64)
        while i > 0 and j > 0:
            here, column, above = costs[i, j - low[i]], j - low[i], j - low[i - 1]
            if 0 <= above - 1 < costs.shape[1] and np.isclose(here, costs[i - 1, above - 1] + price[i - 1, column]):
                i, j = i - 1, j - 1
                filled[j] = i
            elif 0 <= above < costs.shape[1] and np.isclose(here, costs[i - 1, above] + EXTRA):
                i -= 1
            elif column > 0:
                j -= 1
            else:
                i -= 1
        return filled


def _codes(rows: Ints) -> NDArray[np.uint64]:
    """One number a row; 0 where a bell is unknown."""
    shifts = np.arange(rows.shape[1], dtype=np.uint64) * np.uint64(4)
    codes = ((rows.astype(np.uint64) - np.uint64(1)) << shifts).sum(axis=1, dtype=np.uint64) + np.uint64(1)
    return np.where(rows.all(axis=1), codes, np.uint64(0))


def _meetings(piece: NDArray[np.uint64], log: NDArray[np.uint64], telling: NDArray[np.bool_]) -> tuple[Ints, Ints]:
    """Index into the log and into the piece of every two pairs that are the same.

    A pair that comes often tells little about where in the piece it was rung: the rarest are taken first, up to
    `MEETINGS` in all.
    """
    rows = np.flatnonzero(telling)
    order = rows[np.argsort(piece[rows], kind="stable")]
    begin = np.searchsorted(piece[order], log, side="left")
    count = np.searchsorted(piece[order], log, side="right") - begin
    rarest = np.argsort(np.where(count > 0, count, len(piece) + 1), kind="stable")
    taken = rarest[(np.cumsum(count[rarest]) <= MEETINGS) & (count[rarest] > 0)]
    blows = np.repeat(taken, count[taken])
    within = np.arange(len(blows)) - np.repeat(np.cumsum(count[taken]) - count[taken], count[taken])
    return blows, order[np.repeat(begin[taken], count[taken]) + within]


def _pairs(one: NDArray[np.uint64], other: NDArray[np.uint64]) -> NDArray[np.uint64]:
    """One number for two rows that follow each other; an odd multiplier mixes the first in."""
    return one * np.uint64(0x9E3779B97F4A7C15) + other
