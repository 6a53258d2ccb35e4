"""Decoded rows laid beside the piece's rows: which row of the piece each of them is, and how far they agree."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from judging.ear.follow import Walk
from judging.piece.piece import Piece

#: What it costs to say that a row was rung twice or left out, in rows that agree.
_SLIP = 1.0
#: Cost of each row of the piece that the recording begins after, and the most it can cost.
_LATE, _LATEST = 0.5, 10.0
#: Trust in a row follows how far this many rows around it agree, within these limits.
_AROUND, _LEAST_TRUST, _MOST_TRUST = 5, 0.3, 0.9


@dataclass(frozen=True, slots=True)
class Beside:
    """Decoded rows laid beside the piece's rows.

    Parameters
    ----------
    row : ndarray of int64, shape (rows,)
        Which row of the piece each decoded row is.
    alike : ndarray of float64, shape (rows,)
        Share of places in which the two agree.
    score : float
        Sum of ``alike``, less what rows left out or rung twice cost.
    """

    row: NDArray[np.int64]
    alike: NDArray[np.float64]
    score: float

    def trust(self) -> NDArray[np.float64]:
        """How far the piece is trusted in each row: less where the rows around it went otherwise; shape (rows,)."""
        around = uniform_filter1d(self.alike, _AROUND, mode="nearest")
        trust: NDArray[np.float64] = np.clip(around, _LEAST_TRUST, _MOST_TRUST)
        return trust


def lay_beside(walk: Walk, piece: Piece) -> Beside:
    """Lay decoded rows beside the piece's rows, in order.

    Parameters
    ----------
    walk : Walk
        Decoded rows.
    piece : Piece
        What should have been rung. Its opening and closing rows, and rows that follow an equal one, may be rung more
        or less often; every row may where the piece has free lengths.

    Returns
    -------
    Beside
    """
    order = walk.order.astype(np.int8)
    held, passed = costs_of(piece)
    total = _alike(order[0], piece) - late_costs(piece)
    back = np.zeros((len(order), len(piece.rows)), np.int8)
    ways = np.full((3, len(piece.rows)), -np.inf)
    for row in range(1, len(order)):
        ways[0] = total - held
        ways[1, 1:] = total[:-1]
        ways[2, 2:] = total[:-2] - passed[1:-1]
        back[row] = ways.argmax(axis=0)
        total = ways.max(axis=0) + _alike(order[row], piece)
    at = int(total.argmax())
    score = float(total[at])
    laid = np.empty(len(order), np.int64)
    for row in range(len(order) - 1, -1, -1):
        laid[row] = at
        at -= int(back[row, at])
    return Beside(laid, (order == piece.rows[laid]).mean(axis=1), score)


def _alike(rung: NDArray[np.int8], piece: Piece) -> NDArray[np.float64]:
    alike: NDArray[np.float64] = (piece.rows == rung).mean(axis=1)
    return alike


def late_costs(piece: Piece) -> NDArray[np.float64]:
    """What it costs to begin with each row of the piece, in rows that agree."""
    late = np.arange(len(piece.rows)) - max(0, piece.opening - 1)
    return np.minimum(_LATEST, _LATE * np.maximum(0, late))


def costs_of(piece: Piece) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """What it costs to ring each row of the piece once more, and to leave it out, in rows that agree."""
    if piece.free_lengths:
        return np.zeros(len(piece.rows)), np.full(len(piece.rows), _SLIP)
    index = np.arange(len(piece.rows))
    free = (index < piece.opening) | (index >= len(index) - piece.closing)
    again = (piece.rows[1:] == piece.rows[:-1]).all(axis=1)
    free[1:] |= again
    free[:-1] |= again
    cost = np.where(free, 0.0, _SLIP)
    return cost, cost
