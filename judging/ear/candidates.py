"""Peaks of the detectors, as candidates for blows: when, how high, and what that is worth as evidence."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d

from judging.ear.features import FRAME_S
from judging.ear.rows import Rows

#: Peaks nearer than 20 ms are one; peaks under this share of a usual answer are not looked at.
_APART, _FAINT = 4, 0.04
#: Candidates of each bell in each row, silence besides.
_CHOICES = 6
#: How far outside its row a blow is looked for, in gaps.
_REACH = 1.25
#: What a stronger other bell within 15 ms takes from a peak.
_RIVALRY = 0.6
#: A bell answers where its detector reaches this share of a usual answer.
_ANSWERS = 0.3
#: Answers to a bell's own blows: a usual one is 1, with this spread; and how much evidence one blow can be.
_SPREAD, _MOST = 0.45, 10.0
#: What it costs to say that a bell was silent in a row, in natural-log units.
SILENCE = -3.0
#: Usual height of peaks that are no blows, before any have been told apart, and its limits.
FIRST_NOISE, _LEAST_NOISE, _MOST_NOISE = 0.08, 0.04, 0.16
NEVER = -1e3
_BLOCK = 16_384


@dataclass(frozen=True, slots=True)
class Candidates:
    """Candidates for each bell's blow in each row; the last is silence.

    Parameters
    ----------
    times_s : ndarray of float64, shape (rows, bells, choices)
        When; NaN for silence, and for no candidate.
    height : ndarray of float64, shape (rows, bells, choices)
        Height of the peak, where a usual blow's is 1.
    worth : ndarray of float64, shape (rows, bells, choices)
        Evidence for a blow against none, in natural-log units.
    alone : ndarray of bool, shape (rows, bells, choices)
        Whether no other bell answers there.
    """

    times_s: NDArray[np.float64]
    height: NDArray[np.float64]
    worth: NDArray[np.float64]
    alone: NDArray[np.bool_]


def candidates(
    answers: NDArray[np.float32], first: int, rows: Rows, slack: float, noise: NDArray[np.float64]
) -> Candidates:
    """Find each bell's strongest peaks in each row.

    Parameters
    ----------
    answers : ndarray of float32, shape (frames, bells)
        Of each bell's detector, from frame ``first`` on; a usual blow's is 1.
    first : int
        Frame of the first answer.
    rows : Rows
        Where rows begin.
    slack : float
        How many gaps they may be out.
    noise : ndarray of float64, shape (bells,)
        Usual height of peaks that are no blows.
    """
    bells = answers.shape[1]
    times = np.full((len(rows), bells, _CHOICES + 1), np.nan)
    height = np.zeros(times.shape)
    worth = np.full(times.shape, NEVER)
    alone = np.zeros(times.shape, bool)
    worth[:, :, -1] = SILENCE
    rival = _strongest_rival(answers)
    begin = rows.starts_s - (_REACH + slack) * rows.gaps_s
    end = rows.starts_s + (bells - 1 + _REACH + slack) * rows.gaps_s
    for bell in range(bells):
        own = answers[:, bell]
        peak = np.flatnonzero((own == maximum_filter1d(own, 2 * _APART + 1)) & (own > _FAINT))
        peak = peak[(peak > 0) & (peak < len(own) - 1)]
        if not len(peak):
            continue
        tall = own[peak].astype(np.float64)
        value = _evidence(tall - _RIVALRY * np.maximum(0.0, rival[peak, bell] - 0.5 * tall), noise[bell])
        left, right = own[peak - 1], own[peak + 1]
        when = (peak + first + np.clip(0.5 * (left - right) / (left - 2 * tall + right - 1e-9), -0.5, 0.5)) * FRAME_S
        low, high = np.searchsorted(when, begin), np.searchsorted(when, end)
        near = low[:, None] + np.arange(max(_CHOICES, int((high - low).max())))
        inside = near < high[:, None]
        near = np.minimum(near, len(when) - 1)
        here = np.where(inside, value[near], NEVER)
        kept = np.argsort(-here, axis=1, kind="stable")[:, :_CHOICES]
        worth[:, bell, :-1] = np.take_along_axis(here, kept, axis=1)
        times[:, bell, :-1] = np.take_along_axis(np.where(inside, when[near], np.nan), kept, axis=1)
        alone[:, bell, :-1] = np.take_along_axis(rival[peak, bell][near] < _ANSWERS, kept, axis=1)
        height[:, bell, :-1] = np.take_along_axis(np.where(inside, tall[near], 0.0), kept, axis=1)
    return Candidates(times, height, worth, alone)


def _evidence(height: NDArray[np.float64], noise: float) -> NDArray[np.float64]:
    """Log-likelihood ratio: normal about 1 for a blow (higher is as good), exponential for a peak that is none."""
    short = np.minimum(height, 1.0) - 1.0
    blow = -0.5 * (short / _SPREAD) ** 2 - np.log(_SPREAD * np.sqrt(2 * np.pi))
    none = -np.maximum(height, 0.0) / noise - np.log(noise)
    evidence: NDArray[np.float64] = np.minimum(_MOST, blow - none)
    return evidence


def noise_of(found: Candidates, chosen: NDArray[np.int64]) -> NDArray[np.float64]:
    """Usual height of each bell's peaks, alone, that were not chosen as blows; shape (bells,)."""
    height = np.where(found.alone, found.height, 0.0)
    np.put_along_axis(height, chosen[:, :, None], 0.0, axis=2)
    noise = np.full(height.shape[1], FIRST_NOISE)
    for bell in range(len(noise)):
        others = height[:, bell][height[:, bell] > 0]
        if len(others):
            noise[bell] = others.mean() - _FAINT
    within: NDArray[np.float64] = np.clip(noise, _LEAST_NOISE, _MOST_NOISE)
    return within


def _strongest_rival(answers: NDArray[np.float32]) -> NDArray[np.float32]:
    """Strongest answer of any other bell within 15 ms."""
    rival: NDArray[np.float32] = maximum_filter1d(answers, 7, axis=0)
    if rival.shape[1] == 1:
        return np.zeros(rival.shape, np.float32)
    for first in range(0, len(rival), _BLOCK):  # in place, since of a long touch each such table is large
        near = rival[first : first + _BLOCK]
        ordered = np.sort(near, axis=1)
        near[:] = np.where(near >= ordered[:, -1:], ordered[:, -2:-1], ordered[:, -1:])
    return rival
