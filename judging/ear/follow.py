"""Detectors → one blow a bell a row, decoded for the whole touch at once.

Each bell walks from row to row over the peaks of its own detector, or stays silent in a row; the best walk is found
over all rows together. A bell moves a place or none as a rule; what the piece says is a soft prior, never a constraint,
because bands err. Bells compete: a peak at which another bell answers more strongly is worth less.
"""

from dataclasses import dataclass

import numpy as np
import scipy.linalg
from numpy.typing import NDArray

from judging.ear.candidates import FIRST_NOISE, NEVER, Candidates, candidates, noise_of
from judging.ear.rows import Rows

#: Places moved from one row to the next, and how often; anything else happens too, seldom.
_MOVES = ((-2, 0.05), (-1, 0.3), (0, 0.3), (1, 0.3), (2, 0.05))
_SELDOM = 0.005
#: How far a blow strays from its place, in gaps, before that is known; and its limits.
_STRAY, _LEAST_STRAY, _MOST_STRAY = 0.25, 0.15, 0.45
#: Share of blows that slip, and how much further they stray.
_SLIPS = 0.08, 3.0
#: How far a blow may lie outside its row (standard deviation, in gaps).
_EDGE = 0.6
_FEWEST_ROWS = 4

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Prior:
    """What is believed before listening.

    Parameters
    ----------
    places : ndarray of int64, shape (rows, bells), optional
        The place (from 0) that the piece gives each bell in each row; None where nothing is known.
    trust : ndarray of float64, shape (rows,), optional
        How far each of these rows is trusted, 0 to 1.
    stray : float
        How far a blow strays from its place, in gaps.
    slack : float
        How many gaps the rows' beginnings may be out.
    noise : ndarray of float64, shape (bells,), optional
        Usual height of a detector's peaks that are no blows.
    """

    places: NDArray[np.int64] | None = None
    trust: Floats | None = None
    stray: float = _STRAY
    slack: float = 0.0
    noise: Floats | None = None


@dataclass(frozen=True, slots=True)
class Walk:
    """The decoded blows.

    Parameters
    ----------
    times_s : ndarray of float64, shape (rows, bells)
        When each bell struck in each row, to about a frame; NaN where it is silent.
    height : ndarray of float64, shape (rows, bells)
        How strongly its detector answered there, where a usual answer is 1; 0 where silent.
    margin : ndarray of float64, shape (rows, bells)
        How much better all the blows are explained with this one than with any other, or none, in natural-log units.
    score : float
        Of the best walks of all bells together.
    noise : ndarray of float64, shape (bells,)
        Usual height of each detector's peaks that were taken for no blows.
    """

    times_s: Floats
    height: Floats
    margin: Floats
    score: float
    noise: Floats

    @property
    def order(self) -> NDArray[np.int64]:
        """Bells in order of striking, silent ones last; shape (rows, bells)."""
        return np.argsort(np.where(np.isnan(self.times_s), np.inf, self.times_s), axis=1, kind="stable") + 1


def follow(answers: NDArray[np.float32], first: int, rows: Rows, prior: Prior | None = None) -> Walk:
    """Decode a stretch of ringing.

    Parameters
    ----------
    answers : ndarray of float32, shape (frames, bells)
        Of each bell's detector, a usual answer being 1, from frame ``first`` on.
    first : int
        Frame of the first answer.
    rows : Rows
        Where rows begin, to within a gap.
    prior : Prior, optional
        What is believed beforehand.

    Returns
    -------
    Walk
    """
    prior = prior or Prior()
    bells = answers.shape[1]
    noise = np.full(bells, FIRST_NOISE) if prior.noise is None else prior.noise
    found = candidates(answers, first, rows, prior.slack, noise)
    value, steps = _beliefs(found, rows, prior)
    count, choices = len(rows), value.shape[2]
    best = value.copy()
    came_from = np.zeros((count, bells, choices), np.int64)
    for row in range(1, count):
        reached = best[row - 1][:, :, None] + steps[row - 1]
        came_from[row] = reached.argmax(axis=1)
        best[row] += reached.max(axis=1)
    ahead = np.zeros(value.shape)
    for row in range(count - 2, -1, -1):
        ahead[row] = (steps[row] + (value[row + 1] + ahead[row + 1])[:, None, :]).max(axis=2)
    chosen = np.empty((count, bells), np.int64)
    chosen[-1] = best[-1].argmax(axis=1)
    for row in range(count - 1, 0, -1):
        chosen[row - 1] = came_from[row][np.arange(bells), chosen[row]]
    pick = chosen[:, :, None]
    every = best + ahead
    top = np.take_along_axis(every, pick, axis=2)[:, :, 0]
    np.put_along_axis(every, pick, -np.inf, axis=2)
    return Walk(
        times_s=np.take_along_axis(found.times_s, pick, axis=2)[:, :, 0],
        height=np.take_along_axis(found.height, pick, axis=2)[:, :, 0],
        margin=top - every.max(axis=2),
        score=float(best[-1].max(axis=1).sum()),
        noise=noise_of(found, chosen),
    )


def _beliefs(found: Candidates, rows: Rows, prior: Prior) -> tuple[Floats, Floats]:
    """Worth of each candidate, and of each step from one row's candidate to the next row's.

    Returns
    -------
    value : ndarray of float64, shape (rows, bells, choices)
    steps : ndarray of float64, shape (rows - 1, bells, choices, choices)
        From the earlier row's candidate (third axis) to the later row's.
    """
    count, bells, _ = found.worth.shape
    place = (found.times_s - rows.starts_s[:, None, None]) / rows.gaps_s[:, None, None]
    outside = np.maximum(0.0, np.abs(place - (bells - 1) / 2) - (bells - 1) / 2)
    value = found.worth - np.nan_to_num(0.5 * (outside / (_EDGE + 0.5 * prior.slack)) ** 2)
    known = np.zeros(place.shape)
    trust = np.zeros(count)
    if prior.places is not None and prior.trust is not None:
        astray = (place - prior.places[:, :, None]) / prior.stray
        share, wider = _SLIPS
        known = (1 - share) * np.exp(-0.5 * astray**2) + share * np.exp(-0.5 * (astray / wider) ** 2)
        known = np.nan_to_num(known)
        trust = prior.trust
    value[0, :, :-1] += np.log(trust[0] * known[0] + (1 - trust[0]) / bells + _SELDOM / bells)[:, :-1]
    moved = place[1:, :, None, :] - place[:-1, :, :, None]
    usual = np.where(np.isnan(moved), 1 / bells, _move_likelihood(moved, 1.2 * prior.stray))
    belief = trust[1:, None, None, None]
    steps = np.log(belief * known[1:, :, None, :] + (1 - belief) * usual)
    steps[..., -1] = 0.0
    with np.errstate(invalid="ignore"):
        between = found.times_s[1:, :, None, :] - found.times_s[:-1, :, :, None]
        steps[between < 0.5 * bells * rows.gaps_s[1:, None, None, None]] = NEVER
    return value, steps


def _move_likelihood(moved: Floats, stray: float) -> Floats:
    likelihood = np.zeros(moved.shape)
    for places, share in _MOVES:
        likelihood += share * np.exp(-0.5 * ((moved - places) / stray) ** 2)
    return np.maximum(likelihood, _SELDOM)


def stray_of(walk: Walk, rows: Rows, places: NDArray[np.int64]) -> float:
    """How far blows stray from the places given, in gaps; robust against rows that went otherwise."""
    with np.errstate(invalid="ignore"):
        off = (walk.times_s - rows.starts_s[:, None]) / rows.gaps_s[:, None] - places
    near = np.abs(off[np.abs(off) < 1])
    return float(np.clip(1.48 * np.median(near), _LEAST_STRAY, _MOST_STRAY)) if len(near) else _STRAY


def refit(walk: Walk, rows: Rows, places: NDArray[np.int64]) -> Rows:
    """Rows again, from the decoded blows.

    A row begins where the middle of its blows says; beginnings are smoothed from whole pull to whole pull, each stroke
    by itself, so that the handstroke gap stays what it is.

    Parameters
    ----------
    walk : Walk
        Decoded over ``rows``.
    rows : Rows
        Whole pulls, so an even number of rows.
    places : ndarray of int64, shape (rows, bells)
        Where the piece places each bell; where the row was rung otherwise, the order rung serves instead.
    """
    silent = np.isnan(walk.times_s)
    rank = np.argsort(np.argsort(np.where(silent, np.inf, walk.times_s), axis=1, kind="stable"), axis=1)
    ways = np.stack([walk.times_s - place * rows.gaps_s[:, None] for place in (places, rank)])
    some = ~silent.all(axis=1)
    middle = np.zeros(ways.shape[:2])
    middle[:, some] = np.nanmedian(ways[:, some], axis=2)
    astray = np.full(middle.shape, np.inf)
    astray[:, some] = np.nanmedian(np.abs(ways[:, some] - middle[:, some, None]), axis=2)
    begun = np.where(astray[0] <= astray[1], middle[0], middle[1])
    heard = np.minimum(walk.height, 1.0).sum(axis=1) / silent.shape[1]
    start = np.where(some, begun, rows.starts_s)
    for stroke in (0, 1):
        start[stroke::2] = _smooth(start[stroke::2], heard[stroke::2] ** 2 + 1e-3)
    if len(rows) <= _FEWEST_ROWS:
        return Rows(start, rows.gaps_s, rows.pull_s)
    longer = np.gradient(start[::2]) / np.gradient(rows.starts_s[::2])
    return Rows(start, rows.gaps_s * np.repeat(longer, 2), rows.pull_s)


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
