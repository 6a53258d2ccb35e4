"""Bands whose every blow is known: pieces, ideal times, and logs with errors put in by hand."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from judging.piece.piece import Piece
from judging.striking.strike_log import StrikeLog


def rounds(bells: int, rows: int) -> Piece:
    return Piece("Rounds", np.tile(np.arange(1, bells + 1, dtype=np.int8), (rows, 1)))


def hunt(bells: int, changes: int, opening: int = 2, *, dodging_every: int = 0) -> Piece:
    """Plain hunting; with `dodging_every` the bells in thirds and up dodge at every so many changes (Plain Bob)."""
    row = np.arange(1, bells + 1, dtype=np.int8)
    rows = [row] * opening
    for change in range(1, changes + 1):
        row = row.copy()
        begin = (change - 1) % 2
        if dodging_every and change % dodging_every == 0:
            begin = 2
        for place in range(begin, bells - 1, 2):
            row[[place, place + 1]] = row[[place + 1, place]]
        rows.append(row)
    return Piece(f"{changes} changes on {bells}", np.array(rows), opening=opening)


def ideal(
    piece: Piece, *, gap_s: float = 0.3, handstroke_gap: float = 1.0, start_s: float = 5.0
) -> NDArray[np.float64]:
    """Times of each place by the formula, row after row; shape (R, n)."""
    times, now = [], start_s
    for row, hand in enumerate(piece.is_hand.tolist()):
        if row and hand:
            now += handstroke_gap * gap_s
        times.append([now + place * gap_s for place in range(piece.bells)])
        now += piece.bells * gap_s
    return np.array(times)


def made_log(piece: Piece, times: NDArray[np.float64], *, spread_ms: float = 0.0) -> StrikeLog:
    """Blows in order of time."""
    order = np.argsort(times.ravel(), kind="stable")
    return StrikeLog(
        times.ravel()[order], piece.rows.ravel()[order].astype(np.int8), np.full(times.size, spread_ms), "made"
    )


def out(
    piece: Piece, late_ms: Mapping[tuple[int, int], float], *, gap_s: float = 0.3, spread_ms: float = 0.0
) -> StrikeLog:
    """Perfect ringing but for some blows, given by row (from 0) and place (from 1)."""
    times = ideal(piece, gap_s=gap_s)
    for (row, place), late in late_ms.items():
        times[row, place - 1] += late / 1000
    return made_log(piece, times, spread_ms=spread_ms)


def human(piece: Piece, seed: int, *, spread_ms: float = 25.0, gap_s: float = 0.3) -> StrikeLog:
    """Independent normal errors on a steady pace."""
    due = ideal(piece, gap_s=gap_s)
    return made_log(piece, due + np.random.default_rng(seed).normal(scale=spread_ms / 1000, size=due.shape))


def drifting(
    piece: Piece,
    seed: int,
    *,
    gap_s: float,
    spread_ms: float = 25.0,
    drift: float = 0.004,
    handstroke_gap: float = 1.0,
    every: int = 1,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """True ideal times of a band whose pace walks by a share of the gap every so many rows, and its blows; (R, n)."""
    random = np.random.default_rng(seed)
    steps = drift * random.normal(size=len(piece.rows) - 1)
    steps[(np.arange(len(steps)) + 1) % every != 0] = 0.0
    gaps = gap_s * np.exp(np.cumsum(np.concatenate([[0.0], steps])))
    lengths = (piece.bells + handstroke_gap * np.append(piece.is_hand[1:], np.False_)) * gaps
    due = 10.0 + np.concatenate([[0.0], np.cumsum(lengths)[:-1]])[:, None] + np.arange(piece.bells) * gaps[:, None]
    return due, due + random.normal(scale=spread_ms / 1000, size=due.shape)


def plain_bob(bells: int, leads: int, *, opening: int = 4) -> Piece:
    """Plain Bob: plain hunting, dodging in thirds and up when the treble leads."""
    return hunt(bells, 2 * bells * leads, opening, dodging_every=2 * bells)


def without(log: StrikeLog, *blows: int) -> StrikeLog:
    """The log with some blows not heard."""
    keep = np.delete(np.arange(len(log)), blows)
    return StrikeLog(log.times_s[keep], log.bells[keep], log.spread_ms[keep], log.source)


def relabelled(log: StrikeLog, bells: Mapping[int, int]) -> StrikeLog:
    """The log with other bells at some blows."""
    changed = log.bells.copy()
    for blow, bell in bells.items():
        changed[blow] = bell
    return StrikeLog(log.times_s.copy(), changed, log.spread_ms.copy(), log.source)


def joined(*logs: StrikeLog) -> StrikeLog:
    """One log after the other, on one clock."""
    return StrikeLog(
        np.concatenate([log.times_s for log in logs]),
        np.concatenate([log.bells for log in logs]),
        np.concatenate([log.spread_ms for log in logs]),
    )
