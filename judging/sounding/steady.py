"""Ideal ringing in closed form: every blow where steady ringing puts it.

With n bells, gap g and handstroke gap h (in gaps) a whole pull lasts ``(2n + h) g``; place p of whole pull k is
struck at ``k (2n + h) g + (p - 1) g`` at handstroke and ``n g`` later at backstroke. A peal is 5040 rows, so
``(2n + h) g = 2 * 60 * peal_minutes / 5040``.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from judging.errors import InputError
from judging.piece.piece import Piece
from judging.striking.strike_log import StrikeLog

#: Rows of a peal, by which ringers tell their speed.
PEAL_ROWS: Final = 5040


def gap_s(bells: int, *, peal_minutes: float, handstroke_gap: float) -> float:
    """Time between successive blows of steady ringing, in seconds.

    Parameters
    ----------
    bells : int
        How many, covers included.
    peal_minutes : float
        Pace, as the time that 5040 rows would take.
    handstroke_gap : float
        Extra space before a handstroke lead, in gaps.

    Returns
    -------
    float
        ``120 * peal_minutes / 5040 / (2 * bells + handstroke_gap)``.

    Raises
    ------
    InputError
        For a pace or a handstroke gap that nobody rings.
    """
    if not 30.0 <= peal_minutes <= 600.0:
        raise InputError("peal_minutes", f"{peal_minutes:g} is not between 30 and 600; a peal takes 150 to 240 minutes")
    if not -0.5 <= handstroke_gap <= 3.0:
        raise InputError("handstroke_gap", f"{handstroke_gap:g} is not between -0.5 and 3 gaps; open leads are about 1")
    return 120.0 * peal_minutes / PEAL_ROWS / (2 * bells + handstroke_gap)


def row_starts_in_gaps(piece: Piece, *, handstroke_gap: float) -> NDArray[np.float64]:
    """When each row's lead falls due, in gaps from the first; shape (R,).

    Parameters
    ----------
    piece : Piece
        What is rung.
    handstroke_gap : float
        Extra space before a handstroke lead, in gaps.

    Returns
    -------
    ndarray of float64, shape (R,)
        ``n`` for each row before, and the handstroke gap for each handstroke after the first row.
    """
    waits = piece.bells + handstroke_gap * piece.is_hand[1:]
    return np.concatenate([[0.0], np.cumsum(waits)])


def ideal_log(piece: Piece, *, peal_minutes: float, handstroke_gap: float = 1.0) -> StrikeLog:
    """Log of the piece in perfectly steady ringing, first blow at 0.

    Parameters
    ----------
    piece : Piece
        What is rung.
    peal_minutes : float
        Pace, as the time that 5040 rows would take.
    handstroke_gap : float
        Extra space before a handstroke lead, in gaps (1 = full open lead, 0 = closed).

    Returns
    -------
    StrikeLog
        R times n blows, in order of time, row by row.
    """
    gap = gap_s(piece.bells, peal_minutes=peal_minutes, handstroke_gap=handstroke_gap)
    starts = row_starts_in_gaps(piece, handstroke_gap=handstroke_gap)
    times_s = gap * (starts[:, None] + np.arange(piece.bells))
    return StrikeLog(times_s.ravel(), piece.rows.ravel().copy(), np.zeros(times_s.size), "ideal ringing")
