"""COUNT → STRIKE LOGS TO HEAR BESIDE IT: the same rows rung steadily, or the band's own touch with one habit put right.

Both are on the clock of the log that was counted, so that a moment of one is the same moment of the other.

Example: 6 is 60 ms late at 59 backstrokes. Repaired, those 59 blows stand 60 ms earlier, each still as far from its
fellows as it was; every other blow is untouched, and counting the repaired log says what the habit cost.
"""

import numpy as np
from numpy.typing import NDArray

from judging.striking.strike_log import StrikeLog
from judging.striking.values import Count, Habit

#: A time worked out and not heard has no spread of its own; logs may not say 0.
WORKED_OUT_MS = 0.1


def rung_steadily(count: Count) -> StrikeLog:
    """Return the rows of a count as steady ringing at the band's own pace and handstroke gap would strike them.

    Parameters
    ----------
    count : Count
        Of the band's log.

    Returns
    -------
    StrikeLog
        R × n blows: every place of every row at the ideal time of the band's own rhythm, struck by the bell that the
        piece has there, so that mistakes and missing blows are put right too.
    """
    return _log(count.rhythm.ideal_s, count.rung.piece.rows, "steady ringing at the band's own pace")


def repaired(count: Count, habit: Habit) -> StrikeLog:
    """Return the band's own touch with one habit put right and every other blow as it was.

    Parameters
    ----------
    count : Count
        Of the band's log.
    habit : Habit
        One of the count's, about one or more bells.

    Returns
    -------
    StrikeLog
        In the habit's rows the blows of each of its bells are shifted together, by minus the median of their
        deviations. Blows that were missing stay missing.
    """
    times_s = count.rung.times_s.copy()
    in_rows = np.zeros(len(times_s), np.bool_)
    in_rows[list(habit.rows)] = True
    for bell in habit.bells:
        there = (count.rung.bells == bell) & in_rows[:, np.newaxis] & np.isfinite(count.deviations.ms)
        if there.any():
            times_s[there] -= np.median(count.deviations.ms[there]) / 1000
    return _log(times_s, count.rung.bells, "the band's own ringing with a habit put right")


def _log(times_s: NDArray[np.float64], bells: NDArray[np.int8], source: str) -> StrikeLog:
    struck = np.isfinite(times_s) & (bells > 0)
    order = np.argsort(times_s[struck], kind="stable")
    return StrikeLog(
        times_s[struck][order], bells[struck][order], np.full(int(struck.sum()), WORKED_OUT_MS), source=source
    )
