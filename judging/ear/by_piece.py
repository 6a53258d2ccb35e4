"""Where rows begin, as the piece's own rows say: for striking so poor that blows alone do not show the rows.

A row of the piece fits at a time where each of its bells answers about where the row places it. One best path is found
over all rows of the piece and all times, from the first row to the last that fits. It only says where rows begin; which
bell struck when is decoded afterwards, without the piece, and what comes of it must agree better than any other way.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, maximum_filter1d

from judging.ear.beside import costs_of, late_costs
from judging.ear.features import FRAME_S
from judging.ear.rows import Pace, Rows
from judging.piece.piece import Piece

#: Rows begin on a grid of every fourth frame (20 ms).
_GRID = 4
#: How far a blow strays from its place, in gaps; and the share of a row's bells that must answer for it to be worth
#: more than no row: where the order is another one in ten does, at the right place nearly all.
_STRAY, _WORTH = 0.3, 0.35
#: How far a row may begin from where the row before it says, in gaps, and its standard deviation.
_REACH, _USUAL = 1.2, 0.5
#: What a row left out or rung twice costs, as a share of a whole row.
_SLIP = 0.5
#: A path over more than so many rows and times is not looked for (twenty minutes of 250 rows).
_MOST_STATES = 15_000_000


def rows_by_piece(answers: NDArray[np.float32], piece: Piece, pace: Pace, first_s: float) -> Rows | None:
    """Whole pulls, as the rows of the piece follow each other.

    Parameters
    ----------
    answers : ndarray of float32, shape (frames, bells)
        Of each bell's detector, a usual answer being 1.
    piece : Piece
        What should have been rung.
    pace : Pace
        The pace.
    first_s : float
        Where the first whole pull begins.

    Returns
    -------
    Rows or None
        One entry a whole pull; None where the piece is too long for it, or not one whole pull fits.
    """
    step_s = _GRID * FRAME_S
    gap, bells = pace.gap_s / step_s, piece.bells
    begin = max(0, int(first_s / step_s - gap))
    if len(piece.rows) * (len(answers) // _GRID - begin) > _MOST_STATES:
        return None
    worth = _worth(answers, piece, gap)[:, begin:]
    path = _best_path(worth, piece, gap, pace.handstroke_gap, first_s / step_s - begin)
    starts = (path + begin) * step_s
    starts = starts[: len(starts) // 2 * 2 : 2]
    pull_s = (2 * bells + pace.handstroke_gap) * pace.gap_s
    return Rows(starts, np.full(len(starts), pace.gap_s), pull_s) if len(starts) else None


def _worth(answers: NDArray[np.float32], piece: Piece, gap: float) -> NDArray[np.float32]:
    """What each row of the piece is worth from each time on, a row that is wholly there being 1; (rows, times)."""
    heard = maximum_filter1d(np.clip(answers, 0.0, 1.0), _GRID, axis=0, origin=-(_GRID // 2))[::_GRID]
    near = gaussian_filter1d(heard, _STRAY * gap, axis=0)
    near /= np.percentile(near, 100 - 10 / piece.bells, axis=0) + 1e-9
    near = np.minimum(near, 1.0).T
    places = np.argsort(piece.rows, axis=1)
    worth = np.full((len(places), len(heard)), -_WORTH, np.float32)
    for bell in range(piece.bells):
        for place in range(piece.bells):
            shift = round(place * gap)
            here = np.flatnonzero(places[:, bell] == place)
            worth[here, : max(0, len(heard) - shift)] += near[bell, shift:] / piece.bells
    return worth


def _best_path(
    worth: NDArray[np.float32], piece: Piece, gap: float, handstroke_gap: float, first: float
) -> NDArray[np.float64]:
    """Times of the rows of the best path, in steps of the grid."""
    rows, times = worth.shape
    held, passed = (_SLIP * cost[:, None] for cost in costs_of(piece))
    late = np.minimum(1.0, late_costs(piece))[:, None]
    usual = (piece.bells + handstroke_gap / 2) * gap
    reach = int(_REACH * gap)
    steps = round(usual) + np.arange(-reach, reach + 1)
    off = (steps - usual) / gap
    # either stroke may come next, half a handstroke gap sooner or later
    cost = 0.1 * np.minimum((off - handstroke_gap / 2) ** 2, (off + handstroke_gap / 2) ** 2) / _USUAL**2
    begun = np.abs(np.arange(times) - first) <= gap
    total = np.where(begun, worth - late, -np.inf).astype(np.float32)
    came = np.full((2, rows, times), -1, np.int8)
    for begin in range(0, times, int(steps[0])):
        here = np.arange(begin, min(times, begin + int(steps[0])))
        source = here - steps[:, None]
        earlier = np.where(source >= 0, total[:, np.maximum(source, 0)], -np.inf) - cost[:, None].astype(np.float32)
        step = earlier.argmax(axis=1)
        reached = earlier.max(axis=1)
        ways = np.full((3, *reached.shape), -np.inf)
        ways[0] = reached - held
        ways[1, 1:] = reached[:-1]
        ways[2, 2:] = reached[:-2] - passed[1:-1]
        way = ways.argmax(axis=0)
        after = worth[:, here] + ways.max(axis=0)
        better = after > total[:, here]
        back = np.arange(rows)[:, None] - way
        came[0][:, here] = np.where(better, way, -1)
        came[1][:, here] = np.where(better, np.take_along_axis(step, np.maximum(back, 0), axis=0), -1)
        total[:, here] = np.where(better, after, total[:, here])
    row, time = (int(index) for index in np.unravel_index(int(total.argmax()), total.shape))
    path = [time]
    while came[0, row, time] >= 0:
        way, step_taken = int(came[0, row, time]), int(came[1, row, time])
        row, time = row - way, time - int(steps[step_taken])
        path.append(time)
    return np.array(path[::-1], np.float64)
