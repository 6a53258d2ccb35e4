"""What goes wrong in real ringing, done to a touch whose times are known.

Every blow keeps the row that it was made for; a bell that strikes twice in a row makes the second for none.
"""

from dataclasses import replace

import numpy as np

from judging.sounding import Touch
from judging.striking.strike_log import StrikeLog

#: The row of a blow that was made for none of the piece's.
NO_ROW = -1


def with_slips(touch: Touch, first: int, missing: int, extra: int, rng: np.random.Generator) -> Touch:
    """Leave some blows out, and let some bells strike twice in a row, after the first so many blows."""
    log = touch.log
    later = np.flatnonzero(np.arange(len(log)) > first)
    gone = rng.choice(later, missing, replace=False)
    twice = rng.choice(later, extra, replace=False)
    times = np.concatenate([np.delete(log.times_s, gone), log.times_s[twice] + 0.9])
    bells = np.concatenate([np.delete(log.bells, gone), log.bells[twice]])
    hand = np.concatenate([np.delete(touch.is_hand, gone), ~touch.is_hand[twice]])
    row = np.concatenate([np.delete(touch.row, gone), np.full(extra, NO_ROW)])
    return _again(touch, times, bells, hand, row)


def with_mishap(touch: Touch, mishap: str, bells: int, rng: np.random.Generator) -> tuple[Touch, float]:
    """Let one thing happen about halfway; return the touch, and from when on the piece is rung.

    ``silent``: a bell does not strike for twenty rows. ``fire-out``: four rows in which blows fall anywhere within a
    gap and a half of their places. ``restart``: the band stands, and begins again with its opening rows.
    """
    log, first_s = touch.log, float(touch.log.times_s.min())
    half = len(log) // bells // 2 * bells
    if mishap == "silent":
        bell = int(rng.integers(1, bells + 1))
        here = np.arange(len(log))
        kept = ~((log.bells == bell) & (here >= half) & (here < half + 20 * bells))
        return _again(touch, log.times_s[kept], log.bells[kept], touch.is_hand[kept], touch.row[kept]), first_s
    if mishap == "fire-out":
        gap_s = float(np.median(np.diff(log.times_s)))
        times = log.times_s.copy()
        times[half : half + 4 * bells] += rng.normal(0, 1.5 * gap_s, 4 * bells)
        return _again(touch, times, log.bells, touch.is_hand, touch.row), first_s
    stood_s = float(log.times_s[half]) + 8.0
    times = np.concatenate([log.times_s[:half], log.times_s - log.times_s[0] + stood_s])
    again = _again(
        touch,
        times,
        np.concatenate([log.bells[:half], log.bells]),
        np.concatenate([touch.is_hand[:half], touch.is_hand]),
        np.concatenate([np.full(half, NO_ROW), touch.row]),
    )
    return again, stood_s


def after(touch: Touch, earlier: Touch, pause_s: float = 10.0) -> tuple[Touch, float]:
    """Let another touch be rung before; return both, and from when on the piece is rung."""
    begin_s = float(earlier.log.times_s.max()) + pause_s
    times = np.concatenate([earlier.log.times_s, touch.log.times_s - touch.log.times_s.min() + begin_s])
    names = np.concatenate([earlier.log.bells, touch.log.bells])
    row = np.concatenate([np.full(len(earlier.row), NO_ROW), touch.row])
    return _again(touch, times, names, np.concatenate([earlier.is_hand, touch.is_hand]), row), begin_s


def _again(touch: Touch, times_s: np.ndarray, bells: np.ndarray, is_hand: np.ndarray, row: np.ndarray) -> Touch:
    order = np.argsort(times_s, kind="stable")
    log = StrikeLog(times_s[order], bells[order], np.zeros(len(order)), touch.log.source)
    return replace(touch, log=log, is_hand=is_hand[order], row=row[order])
