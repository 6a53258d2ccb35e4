"""What is learnt of a band so that its rhythm can be fitted: its spread, its habits, its drift, its held-up rows.

σ, the spread, comes from the median of what is left over. τ, the drift of the pace, is what makes the blows most
probable (marginal likelihood, with `DRIFT` as the prior), so that a steady band is followed loosely and a surging one
closely. A bell, or a place, that is out by habit counts for less: the yardstick is what most of the band does. Where a
row is held up and the band goes on from there (a step that no drift explains), the tie to the row before is let go.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from judging.striking.grid import Array, Grid, Terms, normal_equations, pull_weights
from judging.striking.values import Rung

#: Prior of the pace drift from row to row, as a share of the gap, and its uncertainty as a factor. A common-practice
#: figure without a source; the bench shows that the data override it after about twenty rows.
DRIFT, DRIFT_FACTOR = 0.004, 2.5

#: Slack of a row's start against the row before it, in gaps. Not a belief about bands: it keeps the chain solvable.
SLACK = 0.002

#: Spread below which more exactness is not looked for, in gaps.
LEAST_SPREAD = 0.01

#: A row is held up (or hurried) when its start is so many standard errors, and so many gaps, from where it is due.
#: Forty normal pieces of 120 rows on six, eight and twelve hold none by chance (bench).
HELD_SURE, HELD_GAPS = 3.7, 0.15

#: Mean of a bell's (or place's) blows, in spreads of all such means, from which it counts for less.
HABIT = 2.0

#: Drifts tried, as multiples of the last one found (later rounds leave the ends out); the least and greatest believed.
TRIED = np.array([0.25, 0.5, 1.0, 2.0, 4.0])
LEAST_DRIFT, GREATEST_DRIFT = 0.0001, 0.06

#: Tie of a row that was held up, beside 1 / `SLACK`² of all others: it may start a gap or two from where it was due.
LET_GO = 1.0


def spread_left(left: Array, present: NDArray[np.bool_], rows: int) -> float:
    """Spread of the blows about the grid, from the median, allowing for what the grid took up.

    Parameters
    ----------
    left : ndarray, shape (R, n)
        What the grid leaves over, in gaps.
    present : ndarray of bool, shape (R, n)
        Where there is a blow.
    rows : int
        How many rows were rung.

    Returns
    -------
    float
        σ in gaps.
    """
    size = np.abs(left[present])
    freedom = max(len(size) - 2.0 - rows / 2, len(size) / 2)
    return max(float(np.median(size)) * 1.4826 * float(np.sqrt(len(size) / freedom)), LEAST_SPREAD)


def habit_groups(rung: Rung) -> tuple[NDArray[np.int64], ...]:
    """Group of each blow, by bell and stroke and by place and stroke.

    Parameters
    ----------
    rung : Rung
        What was rung.

    Returns
    -------
    tuple of ndarray of int64, shape (R, n)
        One for each way of grouping.
    """
    hand = rung.piece.is_hand[:, None]
    bells = np.maximum(rung.bells.astype(np.int64), 0)
    places = np.broadcast_to(np.arange(rung.piece.bells), bells.shape)
    return 2 * bells + hand, 2 * places + hand


def habit_weights(
    left: Array, present: NDArray[np.bool_], groups: tuple[NDArray[np.int64], ...], sigma: float
) -> Array:
    """Less weight to blows of a bell, or in a place, whose mean is far from that of the others.

    Parameters
    ----------
    left : ndarray, shape (R, n)
        What the grid leaves over, in gaps.
    present : ndarray of bool, shape (R, n)
        Where there is a blow.
    groups : tuple of ndarray of int64
        From `habit_groups`.
    sigma : float
        The band's spread in gaps.

    Returns
    -------
    ndarray, shape (R, n)
        1, or less where a habit shows.
    """
    weights = np.ones(left.shape)
    size = np.clip(left, -3 * sigma, 3 * sigma)[present]
    for group in groups:
        members = np.bincount(group[present])
        means = np.bincount(group[present], size) / np.maximum(members, 1)
        many = members >= 8
        if many.sum() < 4:
            continue
        middle = np.median(means[many])
        usual = np.maximum(1.4826 * np.median(np.abs(means[many] - middle)), sigma / np.sqrt(np.maximum(members, 1)))
        distance = np.abs(means - middle) / usual
        weights *= np.where(many, np.minimum(1.0, HABIT / np.maximum(distance, 1e-12)), 1.0)[group]
    return weights


def let_go(grid: Grid, terms: Terms) -> Array:
    """Ties, with those of held-up rows let go.

    Parameters
    ----------
    grid : Grid
        At the minimum.
    terms : Terms
        The objective.

    Returns
    -------
    ndarray, shape (R - 1,)
        As in `Terms`, `LET_GO` where the later row was held up.

    Notes
    -----
    The pull on each tie against its own standard deviation says how surely the row is out of its time (the auxiliary
    residual of a state-space model, Harvey & Koopman 1992); the strongest within a few rows is let go.
    """
    if not len(terms.tie):
        return terms.tie
    solved, *_ = normal_equations(grid, terms, variances=True)
    length = (terms.times.shape[1] + grid.handstroke_gap * terms.hand)[:, None]
    late = np.diff(grid.start) - length[:, 0] * grid.gap[:-1]
    before, across, after = solved.covariances[:-1], solved.cross_covariances, solved.covariances[1:]
    weigh = np.concatenate(
        [np.ones_like(length), length], axis=1
    )  # start and gap of the row before, taken off the next
    variance = (
        after[:, 0, 0]
        - 2 * (weigh * across[:, :, 0]).sum(axis=1)
        + (weigh[:, None, :] @ before @ weigh[:, :, None])[:, 0, 0]
    )
    pull, information = terms.tie * late, terms.tie - terms.tie**2 * variance
    firm = (terms.tie > 1 / (2 * SLACK) ** 2) & (information > 0)
    information = np.where(firm, information, 1.0)
    sure, size = np.abs(pull) / np.sqrt(information), np.abs(pull) / information
    held = firm & (sure > HELD_SURE) & (size > HELD_GAPS)
    near = np.lib.stride_tricks.sliding_window_view(np.pad(np.where(held, sure, 0.0), 4), 9).max(axis=1)
    return np.where(held & (sure >= near), LET_GO, terms.tie)


def yardstick(grid: Grid, terms: Terms) -> Grid:
    """The grid as blows are measured by: a held-up row from where it was due, the next from where the band now is.

    Parameters
    ----------
    grid : Grid
        At the minimum.
    terms : Terms
        The objective.

    Returns
    -------
    Grid
        With the starts of held-up rows put back.
    """
    start = grid.start.copy()
    length = terms.times.shape[1] + grid.handstroke_gap * terms.hand
    for step in np.flatnonzero(terms.tie == LET_GO).tolist():
        start[step + 1] = start[step] + length[step] * grid.gap[step]
    return replace(grid, start=start)


def likeliest_drift(grid: Grid, terms: Terms, factors: Array) -> float:
    """Pace drift under which the blows are most probable, with its prior.

    Parameters
    ----------
    grid : Grid
        At the minimum, or near it.
    terms : Terms
        The objective.
    factors : ndarray, shape (k,)
        Drifts to try, as multiples of the last one found.

    Returns
    -------
    float
        τ.
    """
    bells = terms.times.shape[1]
    weights = terms.weights * pull_weights(terms.times - grid.times(bells), terms.spread)
    scores = []
    tried = terms.drift * factors
    for drift in tried.tolist():
        solved, *_ = normal_equations(grid, replace(terms, drift=drift))
        step = solved.values[:, :, 0]
        moved = Grid(grid.start + step[:, 0], grid.gap + step[:, 1], grid.handstroke_gap)
        rest = terms.times - moved.times(bells)
        late = np.diff(moved.start) - (bells + grid.handstroke_gap * terms.hand) * moved.gap[:-1]
        misfit = (
            (weights * rest**2).sum() / terms.spread**2
            + (terms.tie * late**2).sum()
            + (np.diff(moved.gap) ** 2).sum() / drift**2
        )
        prior = (np.log(drift / DRIFT) / np.log(DRIFT_FACTOR)) ** 2
        freedom = 2 * len(terms.hand) * np.log(drift)
        scores.append(-0.5 * (misfit + solved.log_determinant + freedom + prior))
    return float(np.clip(_peak(np.log(tried), np.array(scores)), LEAST_DRIFT, GREATEST_DRIFT))


def _peak(at: Array, scores: Array) -> float:
    """Top of the parabola through the best of the scores and its neighbours, as the exponential of its place."""
    best = int(np.clip(scores.argmax(), 1, len(at) - 2))
    left, middle, right = scores[best - 1 : best + 2]
    bend = left - 2 * middle + right
    shift = 0.5 * (left - right) / bend if bend < 0 else float(scores.argmax() - best)
    return float(np.exp(at[best] + np.clip(shift, -1, 1) * (at[1] - at[0])))
