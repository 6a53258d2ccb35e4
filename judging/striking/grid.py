"""The objective of the rhythm, and its minimum: rows with a start and a gap each, and the one handstroke gap.

Each row r has a start S and a gap g; place p of the row is struck at S + (p − 1)·g. The next row starts n·g later, or
(n + h)·g later at handstroke. The grid is the minimum over every S, g and the one h of::

    Σ w·ρ((t − S − (p−1)·g) / σ)  +  Σ ((S' − S − (n + h·hand)·g) / θ)² / 2  +  Σ ((g' − g) / τ)² / 2

ρ is Huber's: square up to `HUBER`, straight beyond, so that a clip or a late blow pulls no harder than an ordinary one.
It is found by reweighted least squares, each step of which is a chain of pairs (`chain`) bordered by h.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from judging.striking.chain import Solved, solve_chain

Array = NDArray[np.float64]

#: Where ρ turns straight, in spreads: 95 % as good as least squares on normal errors (Huber 1964).
HUBER = 1.345


@dataclass(frozen=True, slots=True)
class Grid:
    """A state of the fit, in gaps from the first blow.

    Parameters
    ----------
    start, gap : ndarray, shape (R,)
        Start and gap of each row.
    handstroke_gap : float
        h.
    """

    start: Array
    gap: Array
    handstroke_gap: float

    def times(self, bells: int) -> Array:
        """Ideal time of each place; shape (R, n)."""
        return self.start[:, None] + np.arange(bells) * self.gap[:, None]


@dataclass(frozen=True, slots=True)
class Terms:
    """Everything the objective holds besides the grid.

    Parameters
    ----------
    times : ndarray, shape (R, n)
        Blows; 0 where missing.
    weights : ndarray, shape (R, n)
        w; 0 where missing.
    hand : ndarray of float64, shape (R - 1,)
        1 where the step leads into a handstroke row.
    tie : ndarray of float64, shape (R - 1,)
        1 / θ² of each step from row to row; 0 where a pause lies between, small where the later row was held up.
    spread, drift : float
        σ, τ.
    own_style : bool
        Whether h is fitted.
    """

    times: Array
    weights: Array
    hand: Array
    tie: Array
    spread: float
    drift: float
    own_style: bool


def steadiest(grid: Grid, terms: Terms, *, steps: int) -> Grid:
    """Minimum of the objective, by reweighted least squares from a grid that is near it.

    Parameters
    ----------
    grid : Grid
        To begin from.
    terms : Terms
        The objective.
    steps : int
        Most steps.

    Returns
    -------
    Grid
        After the steps, or earlier where none moves it by a billionth of a gap.
    """
    for _ in range(steps):
        solved, precision_h, gradient_h, cross = normal_equations(grid, terms)
        step, step_h = solved.values[:, :, 0], 0.0
        if terms.own_style:
            answer = solved.values[:, :, 1]
            step_h = (gradient_h - float((cross * step).sum())) / (precision_h - float((cross * answer).sum()))
            step = step - answer * step_h
        grid = Grid(grid.start + step[:, 0], grid.gap + step[:, 1], grid.handstroke_gap + step_h)
        if max(np.abs(step).max(), abs(step_h)) < 1e-9:
            break
    return grid


def standard_errors(grid: Grid, terms: Terms) -> tuple[Array, float]:
    """Standard errors of a fitted grid.

    Parameters
    ----------
    grid : Grid
        At the minimum.
    terms : Terms
        The objective.

    Returns
    -------
    of_times : ndarray, shape (R, n)
        Of each ideal time, in gaps.
    of_handstroke_gap : float
        Of h, in gaps; 0 where h is not fitted.
    """
    solved, precision_h, _, cross = normal_equations(grid, terms, variances=True)
    covariances, error = solved.covariances, 0.0
    if terms.own_style:
        answer = solved.values[:, :, 1]
        variance = 1 / (precision_h - float((cross * answer).sum()))
        covariances = covariances + answer[:, :, None] * answer[:, None, :] * variance
        error = float(np.sqrt(variance))
    places = np.arange(terms.times.shape[1])
    of_start, shared, of_gap = covariances[:, 0, 0, None], covariances[:, 0, 1, None], covariances[:, 1, 1, None]
    return np.sqrt(of_start + 2 * places * shared + places**2 * of_gap), error


def normal_equations(grid: Grid, terms: Terms, *, variances: bool = False) -> tuple[Solved, float, float, Array]:
    """One step of reweighted least squares, before h is eliminated.

    Parameters
    ----------
    grid : Grid
        Where the step begins.
    terms : Terms
        The objective.
    variances : bool
        Whether the blocks of the inverse are wanted.

    Returns
    -------
    solved : Solved
        Step of the starts and gaps with h as it is (column 0), and their answer to h (column 1).
    precision, gradient : float
        Of h itself.
    cross : ndarray, shape (R, 2)
        Cross terms of the starts and gaps with h.
    """
    rows, bells = terms.times.shape
    places = np.arange(bells)
    left = terms.times - grid.times(bells)
    weighted = terms.weights * pull_weights(left, terms.spread) / terms.spread**2
    diagonal, right = np.zeros((rows, 2, 2)), np.zeros((rows, 2, 2))
    diagonal[:, 0, 0] = weighted.sum(axis=1) + 1e-9
    diagonal[:, 0, 1] = weighted @ places
    diagonal[:, 1, 1] = weighted @ places**2
    right[:, 0, 0] = (weighted * left).sum(axis=1)
    right[:, 1, 0] = (weighted * left) @ places

    tie, steady = terms.tie, 1 / terms.drift**2
    length = bells + grid.handstroke_gap * terms.hand
    short = np.diff(grid.start) - length * grid.gap[:-1]
    turn = np.diff(grid.gap)
    diagonal[:-1, 0, 0] += tie
    diagonal[:-1, 0, 1] += tie * length
    diagonal[:-1, 1, 1] += tie * length**2 + steady
    diagonal[1:, 0, 0] += tie
    diagonal[1:, 1, 1] += steady
    diagonal[:, 1, 0] = diagonal[:, 0, 1]
    upper = np.zeros((rows - 1, 2, 2))
    upper[:, 0, 0], upper[:, 1, 0], upper[:, 1, 1] = -tie, -tie * length, -steady
    right[1:, 0, 0] -= tie * short
    right[:-1, 0, 0] += tie * short
    right[:-1, 1, 0] += tie * short * length + steady * turn
    right[1:, 1, 0] -= steady * turn

    pull = tie * terms.hand * grid.gap[:-1]
    right[1:, 0, 1] -= pull
    right[:-1, 0, 1] += pull
    right[:-1, 1, 1] += pull * length
    precision = float((pull * grid.gap[:-1] * terms.hand).sum()) + 1e-9
    return (
        solve_chain(diagonal, upper, right, variances=variances),
        precision,
        float((pull * short).sum()),
        right[:, :, 1],
    )


def pull_weights(left: Array, spread: float) -> Array:
    """Weight of each blow by which a square is as steep as ρ.

    Parameters
    ----------
    left : ndarray, shape (R, n)
        What the grid leaves over, in gaps.
    spread : float
        σ.

    Returns
    -------
    ndarray, shape (R, n)
        1 within `HUBER` spreads, less beyond.
    """
    return np.minimum(1.0, HUBER * spread / np.maximum(np.abs(left), 1e-12))
