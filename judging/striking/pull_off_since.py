"""The newest pull-off beside those before it: whether a bell that was late is still late.

One pull-off is two blows of a bell, so it can say little by itself: a habit is one that the earlier pull-offs show
surely, and the newest either bears it out or does not. Where several together say that it has changed, that is told.
"""

from collections.abc import Sequence

import numpy as np

from judging.striking.pull_off_series import BELL_MS, BellInPullOffs, bells_of, lateness_in_words
from judging.striking.pull_off_turns import Turn
from judging.striking.values import PullOff

#: A habit is borne out by a blow at least this share of its usual size, on its side.
BORNE_OUT = 1 / 3

#: A habit is looked for before the newest pull-offs, up to so many of them.
NEWEST = 3

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
        if one.turn is not None:
            found.append((abs(one.turn.after_ms - one.turn.before_ms), _turned(one, one.turn)))
        elif habit is not None:
            found.append((abs(habit.mean_ms), _sentence(one, habit)))
    return tuple(sentence for _, sentence in sorted(found, key=lambda pair: -pair[0])[:MOST])


def _habit(series: Sequence[PullOff], now: BellInPullOffs) -> BellInPullOffs | None:
    """What was sure of a bell at a stroke before the newest pull-off, or before the newest few."""
    for newest in range(1, NEWEST + 1):
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
    few = {1: "One pull-off", 2: "Two pull-offs"}.get(clear, f"{clear} pull-offs")
    return (
        f"{now.bell} was {way} at {stroke}, by {abs(habit.mean_ms):.0f} ms on average before; this time "
        f"{lateness_in_words(heard[-1])}. {few} may be chance."
    )


def _turned(now: BellInPullOffs, turn: Turn) -> str:
    """What a bell was before it changed, and is since."""
    larger = turn.before_ms if abs(turn.before_ms) >= abs(turn.after_ms) else turn.after_ms
    way = "late" if larger > 0 else "early"
    if larger == turn.after_ms:
        what = f"has become {way}"
    elif turn.after_ms * turn.before_ms > 0 and abs(turn.after_ms) >= BELL_MS:
        what = f"is less {way}"
    else:
        what = f"is no longer {way}"
    return (
        f"{now.bell} {what} at {'handstroke' if now.is_hand else 'backstroke'}: {lateness_in_words(turn.after_ms)} on "
        f"average in the last {turn.after} pull-offs, {lateness_in_words(turn.before_ms)} in the {turn.before} before. "
        "That is more than chance."
    )


def _bears_out(late_ms: float, habit: BellInPullOffs) -> bool:
    return bool(late_ms * np.sign(habit.mean_ms) >= max(BORNE_OUT * abs(habit.mean_ms), BELL_MS))
