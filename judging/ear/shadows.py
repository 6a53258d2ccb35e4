"""Bells whose voice has followed another bell's, so that two of them are told at every one of its blows.

Two bells do strike together now and then; hardly ever in a third of all rows. Where they seem to, one of the two is a
shadow: the one whose places in the piece lie elsewhere. Its own blows are still to be heard, as onsets that no bell
has claimed.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d

from judging.ear.features import FRAME_S
from judging.ear.follow import Walk
from judging.ear.rows import Rows

#: Blows nearer than this are one (s); a bell is a shadow where this share of its rows are, of at least so many.
_TOGETHER_S, _SHARE, _FEWEST = 0.012, 0.33, 8
#: Onsets this strong, within so many gaps of the place where the piece has the bell, and so far from other blows (s).
_ONSET, _WITHIN, _CLEAR_S = 0.1, 1.0, 0.03
_APART = 4


def shadows(walk: Walk, rows: Rows, places: NDArray[np.int64]) -> list[tuple[int, int]]:
    """Bells that are told where another strikes.

    Parameters
    ----------
    walk : Walk
        Decoded blows.
    rows : Rows
        Where rows begin.
    places : ndarray of int64, shape (rows, bells)
        Place that the piece gives each bell, from 0.

    Returns
    -------
    list of (int, int)
        Each shadow, and the bell that it follows; indices from 0.
    """
    bells = walk.times_s.shape[1]
    astray = np.abs((walk.times_s - rows.starts_s[:, None]) / rows.gaps_s[:, None] - places)
    found = []
    for one in range(bells):
        for other in range(one + 1, bells):
            apart = np.abs(walk.times_s[:, one] - walk.times_s[:, other])
            heard = np.isfinite(apart)
            together = heard & (apart < _TOGETHER_S)
            if heard.sum() < _FEWEST or together.sum() <= _SHARE * heard.sum():
                continue
            one_is = astray[together, one].mean() > astray[together, other].mean()
            found.append((one, other) if one_is else (other, one))
    return found


def own_blows(
    walk: Walk, rises: NDArray[np.float32], rows: Rows, places: NDArray[np.int64], found: list[tuple[int, int]]
) -> NDArray[np.float64]:
    """Times of all blows, a shadow's taken from onsets that no other bell has claimed; NaN where there is none.

    Returns
    -------
    ndarray of float64, shape (rows, bells)
    """
    times = walk.times_s.copy()
    peaks = np.flatnonzero((rises == maximum_filter1d(rises, 2 * _APART + 1)) & (rises > _ONSET))
    when = peaks * FRAME_S
    for shadow, _ in found:
        others = np.delete(walk.times_s, shadow, axis=1)
        claimed = np.sort(others[np.isfinite(others)])
        after = np.clip(np.searchsorted(claimed, when), 1, len(claimed) - 1)
        clear = np.minimum(np.abs(when - claimed[after - 1]), np.abs(claimed[after] - when)) > _CLEAR_S
        free, strength = when[clear], rises[peaks[clear]]
        expected = rows.starts_s + places[:, shadow] * rows.gaps_s
        off = (free[None, :] - expected[:, None]) / rows.gaps_s[:, None]
        worth = np.where(np.abs(off) < _WITHIN, strength - off**2, -np.inf)
        best = worth.argmax(axis=1) if len(free) else np.zeros(len(expected), np.int64)
        there = np.isfinite(worth.max(axis=1, initial=-np.inf))
        times[:, shadow] = np.where(there, free[best] if len(free) else np.nan, np.nan)
    return times


def without_shadows(walk: Walk, found: Sequence[tuple[int, int]]) -> Walk:
    """Take back a shadow's blows where the other bell struck: better not heard than told twice."""
    times, height = walk.times_s.copy(), walk.height.copy()
    for shadow, other in found:
        together = np.abs(walk.times_s[:, shadow] - walk.times_s[:, other]) < _TOGETHER_S
        times[together, shadow], height[together, shadow] = np.nan, 0.0
    return replace(walk, times_s=times, height=height)
