"""Seeds, runs, chain: where a log and a piece agree for certain.

Two different rows that follow each other in the piece, and are found so in the log, are a *seed*. Seeds on one diagonal
(as many blows on as places on) form a run; the chain of runs that explains most of the log, both moving forward, is
kept, and each run is taken on for as long as rows match whole.

A piece that comes back to its own rows again and again is found whole in a log on many diagonals, a repetition apart.
What tells them apart is that ringing goes on: a chain pays for leaving its diagonal, little for a blow missing or too
many, more the more rows are left out or put in.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Codes = NDArray[np.uint64]

#: Price, in seeds, of leaving a diagonal: for the least, for a whole row besides, and for each doubling of the rows.
LEAVING, ROW, DOUBLING = 0.5, 2.0, 0.5

#: Price of each doubling of the rows by which a log begins, and ends, elsewhere than the piece. More often ringing is
#: stopped, or goes on, than a log begins in the middle.
BEGINNING, ENDING = 0.5, 0.25

#: Most places of the piece looked at for one pair of rows of the log, most for all of them (but never fewer than
#: `FEWEST` for one), and most runs, the longest.
MEETINGS_EACH, MEETINGS, FEWEST, RUNS = 32, 400_000, 8, 12_000


@dataclass(frozen=True, slots=True)
class Run:
    """Rows found whole, one after the other.

    Parameters
    ----------
    blow, row : int
        First blow and first row.
    rows : int
        How many rows.
    """

    blow: int
    row: int
    rows: int

    def after(self, width: int) -> tuple[int, int]:
        """First blow and row after the run."""
        return self.blow + self.rows * width, self.row + self.rows


def chain_of_runs(bells: Ints, rows: Ints) -> list[Run]:
    """Runs that explain most of a log, in order.

    Parameters
    ----------
    bells : ndarray, shape (N,)
        Bell of each blow; 0 = unknown.
    rows : ndarray, shape (R, n)
        Rows of the piece.

    Returns
    -------
    list of Run
        None overlaps another; empty where no two different rows of the piece were heard whole one after the other.
    """
    width = rows.shape[1]
    apart: list[Run] = []
    for run in _chain(_runs(bells, rows), width, len(bells) - rows.size):
        shared = _shared_rows(apart[-1], run, width) if apart else 0
        apart.append(Run(run.blow + shared * width, run.row + shared, run.rows - shared))
    return _lengthened(apart, bells, rows)


def _chain(runs: list[Run], width: int, over: int) -> list[Run]:
    """Runs that hold the most seeds for what leaving their diagonals costs; rows that two share count once.

    The best run before each is first looked for near its own diagonal; farther away only those are looked at that
    could still be better. A log that begins or ends elsewhere than the piece, `over` blows longer, costs something too.
    """
    if not runs:
        return []
    size = len(runs)
    blow, row, rows = (np.array([getattr(run, part) for run in runs]) for part in ("blow", "row", "rows"))
    diagonal, end_blow, end_row = blow - row * width, blow + rows * width, row + rows
    begins = BEGINNING * np.log2(1 + np.abs(diagonal) / width)
    ends = ENDING * np.log2(1 + np.abs(diagonal - over) / width)
    score, came = np.zeros(size), np.full(size, -1)
    latest: dict[int, int] = {}
    for index in range(size):
        seeds = float(rows[index] - 1)
        on = int(diagonal[index])
        beside = [latest[near] for near in range(on - width, on + width + 1) if near in latest]
        best, source = seeds - float(begins[index]), -1
        for looked_at in (np.array(beside, dtype=np.int64), None):
            before = np.flatnonzero(score[:index] + seeds > best) if looked_at is None else looked_at
            if not len(before):
                continue
            shared = np.maximum(end_row[before] - row[index], -((blow[index] - end_blow[before]) // width))
            shared = np.maximum(shared, 0)
            total = score[before] + seeds - shared - _price(np.abs(diagonal[before] - on) / width)
            total[(shared >= seeds) | (row[before] >= row[index])] = -np.inf
            at = int(total.argmax())
            if total[at] > best:
                best, source = float(total[at]), int(before[at])
        score[index], came[index] = best, source
        latest[on] = index
    at = int((score - ends).argmax())
    chain: list[Run] = []
    while at >= 0:
        chain.append(runs[at])
        at = int(came[at])
    return chain[::-1]


def _price(rows: Floats) -> Floats:
    """Price of changing the diagonal by so many rows."""
    price: Floats = np.where(rows > 0, LEAVING + ROW * np.minimum(rows, 1) + DOUBLING * np.log2(1 + rows), 0.0)
    return price


def _shared_rows(before: Run, after: Run, width: int) -> int:
    """Rows at the beginning of a run whose blows or rows an earlier run has already."""
    blow, row = before.after(width)
    return max(0, row - after.row, -((after.blow - blow) // width))


def straight_run(bells: Ints, rows: Ints) -> Run | None:
    """Rows on the one diagonal on which most blows are the bell expected.

    Finds ringing in which bells were exchanged throughout, so that hardly a row is whole.

    Parameters
    ----------
    bells : ndarray, shape (N,)
        Bell of each blow; 0 = unknown.
    rows : ndarray, shape (R, n)
        Rows of the piece.

    Returns
    -------
    Run or None
        None where the best diagonal is not even half right.
    """
    expected, width = rows.ravel(), rows.shape[1]
    size = 1 << (len(bells) + len(expected)).bit_length()
    agree = np.zeros(size)
    for bell in range(1, int(expected.max()) + 1):
        heard, due = np.fft.rfft(bells == bell, size), np.fft.rfft(expected == bell, size)
        agree += np.fft.irfft(heard * due.conj(), size)
    shift = int(agree.argmax())  # blow less place; the top half of the circle stands for negative shifts
    shift -= size if shift > len(bells) else 0
    row = max(0, -(shift // width))
    rest = min(len(rows) - row, (len(bells) - shift) // width - row)
    if rest < 1 or agree.max() < rest * width / 2:
        return None
    return Run(shift + row * width, row, rest)


def _runs(bells: Ints, rows: Ints) -> list[Run]:
    """Seeds of the log, gathered along their diagonals; at most `RUNS`, the longest."""
    width = rows.shape[1]
    if len(rows) < 2 or len(bells) <= width:
        return []
    piece, log = _codes(rows), _codes(np.lib.stride_tricks.sliding_window_view(bells, width))
    seed_blows, seed_rows = _meetings(
        _pairs(piece[:-1], piece[1:]), _pairs(log[:-width], log[width:]), piece[:-1] != piece[1:], width
    )
    if not len(seed_blows):
        return []
    diagonal = seed_blows - seed_rows * width
    order = np.lexsort((seed_rows, diagonal))
    seed_blows, seed_rows, diagonal = seed_blows[order], seed_rows[order], diagonal[order]
    cut = np.flatnonzero((np.diff(diagonal) != 0) | (np.diff(seed_rows) != 1)) + 1
    begins, ends = np.concatenate([[0], cut]), np.concatenate([cut, [len(seed_blows)]])
    runs = [Run(int(seed_blows[a]), int(seed_rows[a]), int(b - a) + 1) for a, b in zip(begins, ends, strict=True)]
    # All of one length or none: a part of them would lean towards some repetitions of the piece.
    lengths = np.sort([run.rows for run in runs])[::-1]
    least = lengths[RUNS] + 1 if len(runs) > RUNS and lengths[RUNS] < lengths[0] else 0
    longest = [run for run in runs if run.rows >= least][:RUNS]
    return sorted(longest, key=lambda run: (run.blow, run.row))


def _lengthened(chain: list[Run], bells: Ints, rows: Ints) -> list[Run]:
    """Each run taken on to the last row, either way, that matches whole and is not another run's."""
    width = rows.shape[1]

    def matches(blow: int, row: int) -> bool:
        return bool((bells[blow : blow + width] == rows[row]).all())

    longer: list[Run] = []
    blow, row = 0, 0
    nexts = [*((run.blow, run.row) for run in chain[1:]), (len(bells), len(rows))]
    for run, (to_blow, to_row) in zip(chain, nexts, strict=False):
        begin, first = run.blow, run.row
        end, last = run.after(width)
        while begin - width >= blow and first > row and matches(begin - width, first - 1):
            begin, first = begin - width, first - 1
        while end + width <= to_blow and last < to_row and matches(end, last):
            end, last = end + width, last + 1
        longer.append(Run(begin, first, last - first))
        blow, row = end, last
    return longer


def _codes(rows: Ints) -> Codes:
    """One number a row; 0 where a bell is unknown."""
    shifts = np.arange(rows.shape[1], dtype=np.uint64) * np.uint64(4)
    codes = ((rows.astype(np.uint64) - np.uint64(1)) << shifts).sum(axis=1, dtype=np.uint64) + np.uint64(1)
    return np.where(rows.all(axis=1), codes, np.uint64(0))


def _pairs(one: Codes, other: Codes) -> Codes:
    """One number for two rows that follow each other; an odd multiplier mixes the first in."""
    return one * np.uint64(0x9E3779B97F4A7C15) + other


def _meetings(piece: Codes, log: Codes, telling: NDArray[np.bool_], width: int) -> tuple[Ints, Ints]:
    """Index into the log and into the piece of every two pairs that are the same.

    Of a pair that comes very often in the piece, those are taken that lie nearest to where it would come if the ringing
    had gone straight on from the first pair that was found.
    """
    rows = np.flatnonzero(telling)
    order = rows[np.argsort(piece[rows], kind="stable")]
    begin = np.searchsorted(piece[order], log, side="left")
    count = np.searchsorted(piece[order], log, side="right") - begin
    found = np.flatnonzero(count)
    if not len(found):
        return found, found
    begin, count = begin[found], count[found]
    most = max(FEWEST, min(MEETINGS_EACH, MEETINGS // len(found)))
    group = np.searchsorted(piece[order], piece[order], side="left")
    straight_on = np.clip(order[begin[0]] + (found - found[0]) // width, 0, len(piece))
    nearest = np.searchsorted(group * (len(piece) + 1) + order, begin * (len(piece) + 1) + straight_on)
    taken = np.minimum(count, most)
    begin = np.clip(nearest - most // 2, begin, begin + count - taken)
    blows = np.repeat(found, taken)
    within = np.arange(len(blows)) - np.repeat(np.cumsum(taken) - taken, taken)
    return blows, order[np.repeat(begin, taken) + within]
