"""EAR TEST: ideal ringing with known faults at hidden places, and which of them a listener noted.

Each fault is one blow's own: it alone is early or late, and all others stand where steady ringing puts them, as in the
published experiments on one displaced sound in an even sequence (Friberg and Sundberg 1995). It stands inside a row,
so that the gaps on both sides of it would be even.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from judging.errors import InputError
from judging.marks.half_heard import Heard
from judging.marks.taps import REACTION_S, WINDOW_S, find_reaction, pair_up
from judging.piece.piece import Piece
from judging.striking.strike_log import StrikeLog

#: Smallest and largest fault, in ms. The largest is never as much as half a gap: the bells keep their order.
SMALLEST_MS: Final = 15.0
LARGEST_MS: Final = 120.0
LARGEST_GAPS: Final = 0.45

#: Rows without a fault at the beginning, to settle in and to set the level.
CLEAN_ROWS: Final = 8

#: Rows from one fault to the next, at least: farther apart than a tap may be from its own (`WINDOW_S`).
ROWS_APART: Final = 3

#: One early and one late fault in so many rows.
_ROWS_A_PAIR: Final = 9

#: Somebody who ticks rows may be one row out.
_ROWS_OUT = 1.0


@dataclass(frozen=True, slots=True)
class Planted:
    """One blow that is out of its place in time.

    Parameters
    ----------
    row : int
        Index of its row.
    place : int
        Place in the row, from 1.
    late_ms : float
        How late it strikes; negative is early.
    """

    row: int
    place: int
    late_ms: float


@dataclass(frozen=True, slots=True)
class Answered:
    """What a listener noted.

    Parameters
    ----------
    heard : tuple of Heard
        One for each planted fault, in their order.
    false_alarms : int
        How often something was noted where nothing was.
    guess : float
        How often a fault would seem to have been heard by luck alone, at the rate of the false alarms.
    reaction_s : float or None
        Median time from a fault to its tap; None where rows were ticked.
    """

    heard: tuple[Heard, ...]
    false_alarms: int
    guess: float
    reaction_s: float | None = None


def rung_in_test(bells: int, rows: int, *, hunting: bool) -> Piece:
    """What is rung: rounds, or plain hunting after the opening rounds.

    Parameters
    ----------
    bells : int
        Even; all of them hunt.
    rows : int
        How many, the opening rounds included.
    hunting : bool
        Whether the bells hunt.

    Returns
    -------
    Piece
    """
    row = np.arange(1, bells + 1, dtype=np.int8)
    rung = [row.copy()]
    for change in range(rows - 1):
        if hunting and change >= CLEAN_ROWS - 1:
            first = (change - CLEAN_ROWS + 1) % 2  # all swap, then all but the first and the last
            for place in range(first, bells - 1, 2):
                row[[place, place + 1]] = row[[place + 1, place]]
        rung.append(row.copy())
    return Piece("plain hunting" if hunting else "rounds", np.array(rung), opening=CLEAN_ROWS)


def plant(piece: Piece, *, gap_s: float, seed: int) -> tuple[Planted, ...]:
    """Hide faults in a piece.

    Parameters
    ----------
    piece : Piece
        At least 40 rows of it.
    gap_s : float
        Time between successive blows.
    seed : int
        The same seed hides the same faults.

    Returns
    -------
    tuple of Planted
        In order of time; as many early as late, of the same sizes, evenly spread over the scale of sizes.
    """
    random = np.random.default_rng(seed)
    rows = len(piece.rows) - CLEAN_ROWS - 1
    each_way = rows // _ROWS_A_PAIR
    largest_ms = min(LARGEST_MS, 1000 * LARGEST_GAPS * gap_s)
    sizes = np.geomspace(SMALLEST_MS, largest_ms, each_way).round()
    late_ms = random.permutation(np.concatenate([sizes, -sizes]))
    slack = rows - ROWS_APART * (len(late_ms) - 1)
    begins = CLEAN_ROWS + np.sort(random.integers(0, slack, len(late_ms))) + ROWS_APART * np.arange(len(late_ms))
    places = random.integers(2, piece.bells, len(late_ms))  # neither the lead nor the last blow of a row
    return tuple(
        Planted(int(row), int(place), float(late)) for row, place, late in zip(begins, places, late_ms, strict=True)
    )


def displaced(log: StrikeLog, planted: Sequence[Planted], *, bells: int) -> StrikeLog:
    """Put the faults into ideal ringing.

    Parameters
    ----------
    log : StrikeLog
        Row by row, none missing.
    planted : sequence of Planted
        The faults.
    bells : int
        How many ring.

    Returns
    -------
    StrikeLog
        The same order of blows.
    """
    times_s = log.times_s.copy()
    for fault in planted:
        times_s[fault.row * bells + fault.place - 1] += fault.late_ms / 1000
    return StrikeLog(times_s, log.bells.copy(), log.spread_ms.copy(), "ear test")


def answered_by_taps(
    tap_s: NDArray[np.float64], log: StrikeLog, planted: Sequence[Planted], *, bells: int, until_s: float
) -> Answered:
    """Lay taps on the planted faults, once the listener's reaction time is taken out.

    Parameters
    ----------
    tap_s : ndarray, shape (M,)
        Ascending, on the clock of the log.
    log : StrikeLog
        What was rung.
    planted : sequence of Planted
        Its faults, in order of time.
    bells : int
        How many rang.
    until_s : float
        How far was listened; later faults are left out.

    Returns
    -------
    Answered
        Each tap answers one fault at most, each fault is answered by one tap at most.

    Raises
    ------
    InputError
        Fewer than four taps follow a fault.
    """
    times_s = [float(log.times_s[fault.row * bells + fault.place - 1]) for fault in planted]
    planted = [fault for fault, at_s in zip(planted, times_s, strict=True) if at_s < until_s - REACTION_S[1]]
    fault_s = np.array(times_s[: len(planted)])
    tap_s = tap_s[tap_s <= until_s]
    lag_s = find_reaction(tap_s, fault_s)
    if lag_s is None:
        raise InputError(
            "taps",
            f"too few to tell: {len(tap_s)} {'tap' if len(tap_s) == 1 else 'taps'}, and fewer than four of them follow "
            "a fault; tap once, soon after each blow that is out of time",
        )
    pairs = pair_up(tap_s - lag_s, fault_s, WINDOW_S)
    apart = [float(tap_s[tap] - fault_s[fault]) for tap, fault in pairs]
    free_s = min(until_s, float(log.times_s[-1])) - float(log.times_s[0]) - 2 * WINDOW_S * len(planted)
    return _answered(planted, pairs, len(tap_s), share=2 * WINDOW_S / free_s, reaction_s=float(np.median(apart)))


def answered_by_rows(rows: Sequence[int], planted: Sequence[Planted], *, rows_rung: int) -> Answered:
    """Lay ticked rows on the planted faults; a row beside a fault's own is near enough.

    Parameters
    ----------
    rows : sequence of int
        Indices, ascending.
    planted : sequence of Planted
        In order of time.
    rows_rung : int
        How many rows the piece has.

    Returns
    -------
    Answered
    """
    ticked = np.array(rows, dtype=np.float64)
    pairs = pair_up(ticked, np.array([fault.row for fault in planted], dtype=np.float64), _ROWS_OUT)
    width = 2 * _ROWS_OUT + 1
    return _answered(planted, pairs, len(rows), share=width / (rows_rung - width * len(planted)), reaction_s=None)


def _answered(
    planted: Sequence[Planted],
    pairs: Sequence[tuple[int, int]],
    noted: int,
    *,
    share: float,
    reaction_s: float | None,
) -> Answered:
    """Who was heard; `share` is how much of the time without faults the surroundings of one fault are."""
    found = {fault for _, fault in pairs}
    false_alarms = noted - len(pairs)
    # Half a false alarm more than there were: none in four minutes does not show that there never is one.
    guess = 1 - float(np.exp(-(false_alarms + 0.5) * share))
    heard = tuple(Heard(fault.late_ms, index in found) for index, fault in enumerate(planted))
    return Answered(heard, false_alarms, guess, reaction_s)
