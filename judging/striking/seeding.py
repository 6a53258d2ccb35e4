"""Seeds, runs, chain: where a log and a piece agree for certain.

Two different rows that follow each other in the piece, and are found so in the log, are a *seed*. Seeds on one diagonal
(as many blows on as places on) form a run; the chain of runs that explains most of the log, both moving forward, is
kept, and each run is taken on for as long as rows match whole.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Codes = NDArray[np.uint64]

#: A jump from one diagonal to another must bring in more seeds than this.
JUMP = 3.0

#: Most seeds looked at, and most runs.
MEETINGS, RUNS = 200_000, 400


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
    runs = _runs(bells, rows)
    width = rows.shape[1]
    score: list[float] = []
    came: list[int] = []
    for index, run in enumerate(runs):
        seeds = run.rows - 1
        best, source = float(seeds), -1
        for earlier, before in enumerate(runs[:index]):
            shared = _shared_rows(before, run, width)
            if shared < seeds and before.row < run.row and score[earlier] - JUMP + seeds - shared > best:
                best, source = score[earlier] - JUMP + seeds - shared, earlier
        score.append(best)
        came.append(source)
    at = int(np.argmax(score)) if runs else -1
    chain: list[Run] = []
    while at >= 0:
        chain.append(runs[at])
        at = came[at]
    apart: list[Run] = []
    for run in chain[::-1]:
        shared = _shared_rows(apart[-1], run, width) if apart else 0
        apart.append(Run(run.blow + shared * width, run.row + shared, run.rows - shared))
    return _lengthened(apart, bells, rows)


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
    """Seeds of the log, gathered along their diagonals; at most a few hundred, the longest."""
    width = rows.shape[1]
    if len(rows) < 2 or len(bells) <= width:
        return []
    piece, log = _codes(rows), _codes(np.lib.stride_tricks.sliding_window_view(bells, width))
    seed_blows, seed_rows = _meetings(
        _pairs(piece[:-1], piece[1:]), _pairs(log[:-width], log[width:]), piece[:-1] != piece[1:]
    )
    if not len(seed_blows):
        return []
    diagonal = seed_blows - seed_rows * width
    order = np.lexsort((seed_rows, diagonal))
    seed_blows, seed_rows, diagonal = seed_blows[order], seed_rows[order], diagonal[order]
    cut = np.flatnonzero((np.diff(diagonal) != 0) | (np.diff(seed_rows) != 1)) + 1
    begins, ends = np.concatenate([[0], cut]), np.concatenate([cut, [len(seed_blows)]])
    runs = [Run(int(seed_blows[a]), int(seed_rows[a]), int(b - a) + 1) for a, b in zip(begins, ends, strict=True)]
    longest = sorted(runs, key=lambda run: -run.rows)[:RUNS]
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


def _meetings(piece: Codes, log: Codes, telling: NDArray[np.bool_]) -> tuple[Ints, Ints]:
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
