"""Detectors → one blow a bell a row, decoded for the whole touch at once.

Each bell walks from row to row over the peaks of its own detector, or stays silent in a row; the best walk is found
over all rows together. A bell moves a place or none as a rule; what the piece says is a soft prior, never a constraint,
because bands err. Bells compete: a peak at which another bell answers more strongly is worth less.
"""

from dataclasses import dataclass

import numpy as np
import scipy.linalg
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d

from judging.ear.features import FRAME_S
from judging.ear.pace import Rows

#: Peaks nearer than 20 ms are one; peaks under an eighth of a usual answer are noise.
_APART, _FAINT = 4, 0.12
_CHOICES = 5
#: Evidence of a usual answer, in natural-log units, and what a stronger other bell within 15 ms takes from it.
_EVIDENCE, _RIVALRY = 6.0, 0.6
#: Places moved from one row to the next, and how often; anything else happens too, seldom.
_MOVES = ((-2, 0.05), (-1, 0.3), (0, 0.3), (1, 0.3), (2, 0.05))
_SELDOM = 3e-4
#: How far a blow strays from its place, in gaps.
_STRAY = 0.25
_NEVER = -1e3
_FEWEST_ROWS = 4


@dataclass(frozen=True, slots=True)
class Walk:
    """The decoded blows.

    Parameters
    ----------
    times_s : ndarray of float64, shape (rows, bells)
        When each bell struck in each row, to about a frame; NaN where it is silent.
    evidence : ndarray of float64, shape (rows, bells)
        How strongly its detector answered there, after rivalry, where a usual answer is 1; 0 where silent.
    score : float
        Of the best walks of all bells together.
    """

    times_s: NDArray[np.float64]
    evidence: NDArray[np.float64]
    score: float

    @property
    def order(self) -> NDArray[np.int64]:
        """Bells in order of striking, silent ones last; shape (rows, bells)."""
        return np.argsort(np.where(np.isnan(self.times_s), np.inf, self.times_s), axis=1, kind="stable") + 1


def follow(
    answers: NDArray[np.float32],
    first: int,
    rows: Rows,
    known: NDArray[np.int64] | None = None,
    trust: NDArray[np.float64] | float = 0.85,
) -> Walk:
    """Decode a stretch of ringing.

    Parameters
    ----------
    answers : ndarray of float32, shape (frames, bells)
        Of each bell's detector, a usual answer being 1, from frame ``first`` on.
    first : int
        Frame of the first answer.
    rows : Rows
        Where rows begin, to within a gap.
    known : ndarray of int64, shape (rows, bells), optional
        The place (from 0) that the piece gives each bell in each row.
    trust : float or ndarray of float64, shape (rows,)
        How far each known row is trusted, 0 to 1.

    Returns
    -------
    Walk
    """
    times, worth = _choices(answers, first, rows)
    place = (times - rows.starts_s[:, None, None]) / rows.gaps_s[:, None, None]
    count, bells, last = worth.shape[0], worth.shape[1], worth.shape[2] - 1
    outside = np.maximum(0.0, np.abs(place - (bells - 1) / 2) - (bells - 1) / 2)
    value = worth - np.nan_to_num(0.5 * (outside / 0.35) ** 2)
    belief = np.broadcast_to(np.asarray(trust, np.float64), (count,)) if known is not None else np.zeros(count)
    expected = np.zeros(place.shape)
    if known is not None:
        expected = np.nan_to_num(np.exp(-0.5 * ((place - known[:, :, None]) / _STRAY) ** 2))
    best = value[0] + np.log(belief[0] * expected[0] + (1 - belief[0]) / bells + 1e-9)
    best[:, last] = value[0, :, last]
    came_from = np.zeros((count, bells, last + 1), np.int64)
    for row in range(1, count):
        moved = place[row][:, None, :] - place[row - 1][:, :, None]
        usual = np.where(np.isnan(moved), 1 / bells, _move_likelihood(moved))
        step = np.log(belief[row] * expected[row][:, None, :] + (1 - belief[row]) * usual)
        step[:, :, last] = 0.0
        with np.errstate(invalid="ignore"):
            soon = times[row][:, None, :] - times[row - 1][:, :, None] < 0.5 * bells * rows.gaps_s[row]
        step[soon] = _NEVER
        reached = best[:, :, None] + step
        came_from[row] = reached.argmax(axis=1)
        best = reached.max(axis=1) + value[row]
    choice = np.empty((count, bells), np.int64)
    choice[-1] = best.argmax(axis=1)
    for row in range(count - 1, 0, -1):
        choice[row - 1] = came_from[row][np.arange(bells), choice[row]]
    chosen = choice[:, :, None]
    evidence = np.take_along_axis(worth, chosen, axis=2)[:, :, 0] / _EVIDENCE
    return Walk(np.take_along_axis(times, chosen, axis=2)[:, :, 0], evidence, float(best.max(axis=1).sum()))


def _move_likelihood(moved: NDArray[np.float64]) -> NDArray[np.float64]:
    likelihood = np.zeros(moved.shape)
    for places, share in _MOVES:
        likelihood += share * np.exp(-0.5 * ((moved - places) / (1.2 * _STRAY)) ** 2)
    return np.maximum(likelihood, _SELDOM)


def _choices(answers: NDArray[np.float32], first: int, rows: Rows) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Times and worth of each bell's strongest peaks in each row, and silence (NaN, worth 0) as the last choice."""
    count, bells = len(rows), answers.shape[1]
    times = np.full((count, bells, _CHOICES + 1), np.nan)
    worth = np.full(times.shape, _NEVER)
    worth[:, :, -1] = 0.0
    rival = _strongest_rival(answers)
    highest = maximum_filter1d(answers, 2 * _APART + 1, axis=0)
    begin, end = rows.starts_s - 0.9 * rows.gaps_s, rows.starts_s + (bells - 0.1) * rows.gaps_s
    for bell in range(bells):
        own = answers[:, bell]
        peak = np.flatnonzero((own == highest[:, bell]) & (own > _FAINT))
        peak = peak[(peak > 0) & (peak < len(own) - 1)]
        height = own[peak]
        value = _EVIDENCE * (height - _RIVALRY * np.maximum(0.0, rival[peak, bell] - 0.5 * height))
        left, right = own[peak - 1], own[peak + 1]
        shift = np.clip(0.5 * (left - right) / (left - 2 * height + right - 1e-9), -0.5, 0.5)
        when = (peak + first + shift) * FRAME_S
        bounds = zip(np.searchsorted(when, begin), np.searchsorted(when, end), strict=True)
        for row, (low, high) in enumerate(bounds):
            kept = low + np.argsort(-value[low:high], kind="stable")[:_CHOICES]
            times[row, bell, : len(kept)] = when[kept]
            worth[row, bell, : len(kept)] = value[kept]
    return times, worth


def _strongest_rival(answers: NDArray[np.float32]) -> NDArray[np.float32]:
    """Strongest answer of any other bell within 15 ms."""
    near = maximum_filter1d(answers, 7, axis=0)
    if near.shape[1] == 1:
        return np.zeros_like(near)
    ordered = np.sort(near, axis=1)
    return np.where(near >= ordered[:, -1:], ordered[:, -2:-1], ordered[:, -1:])


def refit(walk: Walk, rows: Rows) -> Rows:
    """Rows again, from the decoded blows.

    A row begins where the middle of its blows says; beginnings are smoothed from whole pull to whole pull, each stroke
    by itself, so that the handstroke gap stays what it is.

    Parameters
    ----------
    walk : Walk
        Decoded over ``rows``.
    rows : Rows
        Whole pulls, so an even number of rows.
    """
    silent = np.isnan(walk.times_s)
    rank = np.argsort(np.argsort(np.where(silent, np.inf, walk.times_s), axis=1, kind="stable"), axis=1)
    begun = walk.times_s - rank * rows.gaps_s[:, None]
    heard = (~silent).sum(axis=1)
    start = rows.starts_s.copy()
    start[heard > 0] = np.nanmedian(begun[heard > 0], axis=1)
    for stroke in (0, 1):
        start[stroke::2] = _smooth(start[stroke::2], heard[stroke::2] / silent.shape[1] + 1e-3)
    if len(rows) <= _FEWEST_ROWS:
        return Rows(start, rows.gaps_s)
    longer = np.gradient(start[::2]) / np.gradient(rows.starts_s[::2])
    return Rows(start, rows.gaps_s * np.repeat(longer, 2))


def _smooth(start: NDArray[np.float64], weight: NDArray[np.float64]) -> NDArray[np.float64]:
    """Penalise bends: the minimum of ``sum(weight (x - start)^2) + 3 sum(second difference of x)^2``."""
    count = len(start)
    if count < _FEWEST_ROWS:
        return start
    bend = np.array([1.0, -2.0, 1.0])
    bands = np.zeros((3, count))
    bands[2] = weight
    for here in range(3):
        for there in range(here, 3):
            lower = slice(there, count - 2 + there)
            bands[2 - (there - here), lower] += 3 * bend[here] * bend[there]
    smoothed: NDArray[np.float64] = scipy.linalg.solveh_banded(bands, weight * start)
    return smoothed
