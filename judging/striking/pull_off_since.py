"""The newest pull-off beside those before it: whether a bell that was late is still late.

One pull-off is two blows of a bell, so it can say little by itself: a habit is one that the earlier pull-offs show
surely, and the newest either bears it out or does not. Only several without it say that it has gone.
"""

from collections.abc import Sequence

import numpy as np

from judging.striking.pull_off_series import BELL_MS, BellInPullOffs, bells_of
from judging.striking.values import PullOff

#: A habit is borne out by a blow at least this share of its usual size, on its side.
BORNE_OUT = 1 / 3

#: It has gone when this many pull-offs in a row do not bear it out.
GONE = 3

#: At most so many habits are spoken of, the largest first.
MOST = 4


def since_before(series: Sequence[PullOff]) -> tuple[str, ...]:
    """What the newest pull-off says of the habits of those before it.

    Parameters
    ----------
    series : sequence of PullOff
        In order of time.

    Returns
    -------
    tuple of str
        A sentence for each habit, the largest first; empty where the earlier ones show none surely.
    """
    found = []
    for one in bells_of(series):
        habit = _habit(series, one)
        if habit is not None:
            found.append((abs(habit.mean_ms), _sentence(one, habit)))
    return tuple(sentence for _, sentence in sorted(found, key=lambda pair: -pair[0])[:MOST])


def _habit(series: Sequence[PullOff], now: BellInPullOffs) -> BellInPullOffs | None:
    """What was sure of a bell at a stroke before the newest pull-off, or before those in which it has gone."""
    for newest in range(1, GONE + 1):
        for before in bells_of(series[:-newest]):
            if before.is_sure and (before.bell, before.is_hand) == (now.bell, now.is_hand):
                return before
    return None


def _sentence(now: BellInPullOffs, habit: BellInPullOffs) -> str:
    way = "late" if habit.mean_ms > 0 else "early"
    stroke = "handstroke" if now.is_hand else "backstroke"
    heard = [late for late in now.late_ms if late is not None]
    if now.late_ms[-1] is None:
        return f"{now.bell} was {way} at {stroke} before, and was not heard there this time."
    size = abs(heard[-1])
    usual = f"{abs(now.mean_ms):.0f} ms on average over {len(heard)} pull-offs"
    if _bears_out(heard[-1], habit):
        return f"{now.bell} is still {way} at {stroke}: {size:.0f} ms this time, {usual}."
    clear = 0
    for late in reversed(heard):
        if _bears_out(late, habit):
            break
        clear += 1
    before = f"{abs(habit.mean_ms):.0f} ms on average before"
    if clear >= GONE:
        mean = float(np.mean(heard[-clear:]))
        return (
            f"{now.bell} is no longer {way} at {stroke}: {_signed(mean)} on average in the last {clear} pull-offs, "
            f"{before}."
        )
    return (
        f"{now.bell} was {way} at {stroke}, by {before}; this time {_signed(heard[-1])}. "
        f"{'One pull-off' if clear == 1 else 'Two pull-offs'} may be chance."
    )


def _bears_out(late_ms: float, habit: BellInPullOffs) -> bool:
    return bool(late_ms * np.sign(habit.mean_ms) >= max(BORNE_OUT * abs(habit.mean_ms), BELL_MS))


def _signed(late_ms: float) -> str:
    if abs(late_ms) < 0.5:
        return "even"
    return f"{abs(late_ms):.0f} ms {'late' if late_ms > 0 else 'early'}"
