"""RUNG + RHYTHM → DEVIATIONS: how far each blow is from steady ringing, and what part of that is its own.

One cause, one fault. *A blow is charged for what it adds to what has already been charged; carrying that is free, and
so is putting it right.* In gaps late: 0.34, 0.34, 0 is one charge, the first; 0.24, 0.48, 0.72, 0.96 is two, the second
and the fourth; 0.20, 0.30 is one, a half for the second. The first blow, and one after a missing blow or a pause, has
only the grid to be measured from.
"""

import numpy as np
from numpy.typing import NDArray

from judging.striking.tolerance import ToleranceBands
from judging.striking.values import Deviations, Rhythm, Rung

#: Slack for figures that stand exactly on a line but for the last bits of the arithmetic, in gaps.
EXACT = 1e-9


def deviations(rung: Rung, rhythm: Rhythm, bands: ToleranceBands | None = None) -> Deviations:
    """Deviation and own error of each blow.

    Parameters
    ----------
    rung : Rung
        What was rung.
    rhythm : Rhythm
        The steady ringing that it is measured against.
    bands : ToleranceBands, optional
        Its line of a half fault decides what *has been charged*; by default the shipped bands.

    Returns
    -------
    Deviations
        Signed, + late; NaN where a blow is missing.
    """
    gap = rhythm.gap_s[:, None]
    late_s = rung.times_s - rhythm.ideal_s
    gaps = late_s / gap
    half = (bands or ToleranceBands()).lines_gaps(rhythm.gap_s)[:, 1]
    own, maker = own_errors(gaps, half, rhythm.follows_pause)
    return Deviations(ms=late_s * 1000, gaps=gaps, own_ms=own * gap * 1000, own_gaps=own, maker=maker)


def own_errors(
    gaps: NDArray[np.float64], half: NDArray[np.float64], follows_pause: NDArray[np.bool_] | None = None
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Part of each deviation that is the blow's own.

    Parameters
    ----------
    gaps : ndarray, shape (R, n)
        Deviations in gaps, + late; NaN where missing.
    half : ndarray, shape (R,)
        Line of a half fault in each row, in gaps.
    follows_pause : ndarray of bool, shape (R,), optional
        Rows that begin afresh.

    Returns
    -------
    own : ndarray, shape (R, n)
        Own error in gaps, + late; NaN where missing.
    maker : ndarray of int64, shape (R, n)
        Flat index of the blow whose charged error this blow still carries (itself where it is the one charged);
        -1 where nothing charged is carried.

    Examples
    --------
    >>> import numpy as np
    >>> own_errors(np.array([[0.34, 0.34, 0.0, 0.2, 0.3]]), np.array([0.25]))[0].round(2).tolist()
    [[0.34, 0.0, 0.0, 0.2, 0.3]]
    """
    bells = gaps.shape[1]
    lines = np.repeat(half - EXACT, bells).tolist()
    fresh = set() if follows_pause is None else set((np.flatnonzero(follows_pause) * bells).tolist())
    own, makers = [], []
    charged, maker = 0.0, -1
    for index, (late, line) in enumerate(zip(gaps.ravel().tolist(), lines, strict=True)):
        if late != late:  # noqa: PLR0124 only NaN: a missing blow, after which there is nothing to carry
            charged, maker = 0.0, -1
            own.append(late)
            makers.append(-1)
            continue
        if late * charged <= 0 or index in fresh:
            added = late
            charged, maker = 0.0, -1
        elif abs(late) <= abs(charged):
            added, charged = 0.0, late
        else:
            added = late - charged
        if abs(added) >= line:
            charged, maker = late, index
        own.append(added)
        makers.append(maker)
    return np.reshape(own, gaps.shape), np.reshape(makers, gaps.shape).astype(np.int64)
