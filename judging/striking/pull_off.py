"""The pull-off: the first whole pull, when the band has nothing yet to listen to."""

import numpy as np

from judging.striking.values import Deviations, Rhythm, Rung


def pull_off(rung: Rung, rhythm: Rhythm, found: Deviations) -> str:
    """First whole pull in a sentence.

    Parameters
    ----------
    rung, rhythm, found
        What was rung, the steady ringing, and the deviations.

    Returns
    -------
    str
        Empty where the log does not hold the beginning.
    """
    heard = np.flatnonzero(rung.is_rung)
    if not len(heard) or heard[0] != 0 or len(heard) < 2:
        return ""
    own = found.own_gaps[:2]
    if np.isnan(own).all():
        return ""
    spread_ms = float(np.sqrt(np.nanmean(found.ms[:2] ** 2)))
    row, column = np.unravel_index(int(np.nanargmax(np.abs(own))), own.shape)
    worst = float(own[row, column])
    if abs(worst) < 0.15:
        return f"The pull-off was together: every blow within {np.nanmax(np.abs(found.ms[:2])):.0f} ms of even"
    stroke = "handstroke" if rung.piece.is_hand[row] else "backstroke"
    size, side = abs(worst) * rhythm.gap_s[row] * 1000, "late" if worst > 0 else "early"
    return (
        f"In the pull-off {rung.bells[row, column]} was {size:.0f} ms {side} at {stroke}; "
        f"the whole pull was {spread_ms:.0f} ms from even on average"
    )
