"""RUNG → RHYTHM: the steady ringing that best explains the band.

Each row r has a start S and a gap g; place p of the row is struck at S + (p − 1)·g. The next row starts n·g later, or
(n + h)·g later at handstroke, h being the band's handstroke gap; and g itself drifts from row to row by a little that
is learnt from the band. The grid is the minimum of::

    Σ w·ρ((t − S − (p−1)·g) / σ)  +  Σ ((S' − S − (n + h·hand)·g) / θ)² / 2  +  Σ ((g' − g) / τ)² / 2

over every S, g and the one h. ρ is Huber's: square up to `HUBER`, straight beyond, so that a clip or a late blow pulls
no harder than an ordinary one. σ is the band's spread, from the median of what is left over; τ is the pace drift that
makes the blows most probable (marginal likelihood, with `DRIFT` as the prior), so that a steady band is followed
loosely and a surging one closely. A bell, or a place, that is out by habit counts for less: the yardstick is what most
of the band does (`_habit_weights`).

Times are taken in units of the band's own gap from the first blow on, so that neither the clock's zero nor the speed of
ringing changes anything.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from judging.errors import NothingHeard
from judging.striking.chain import Solved, solve_chain
from judging.striking.values import Rhythm, Rung

Array = NDArray[np.float64]

#: Where ρ turns straight, in spreads: 95 % as good as least squares on normal errors (Huber 1964).
HUBER = 1.345

#: Prior of the pace drift from row to row, as a share of the gap, and its uncertainty as a factor. A common-practice
#: figure without a source; the bench shows that the data override it after about twenty rows.
DRIFT, DRIFT_FACTOR = 0.004, 2.5

#: Slack of a row's start against the row before it, in gaps. Not a belief about bands: it keeps the chain solvable.
SLACK = 0.002

#: Spread below which more exactness is not looked for, in gaps.
LEAST_SPREAD = 0.002

#: A row that starts this share of a row away from where it is due follows a pause, not a change of pace.
PAUSE_ROWS = 0.6

#: Mean of a bell's (or place's) blows, in spreads of all such means, from which it counts for less.
HABIT = 2.0

#: What is assumed where one whole pull cannot show it: the full open lead, the norm (trade practice).
FULL_OPEN_LEAD = 1.0

_DRIFTS = np.geomspace(0.0005, 0.03, 7)


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
    tied : ndarray of float64, shape (R - 1,)
        0 where a pause separates two rows.
    spread, drift, slack : float
        σ, τ, θ.
    own_style : bool
        Whether h is fitted.
    """

    times: Array
    weights: Array
    hand: Array
    tied: Array
    spread: float
    drift: float
    slack: float
    own_style: bool


def fit_rhythm(rung: Rung, *, handstroke_gap: float | None = None) -> Rhythm:
    """Steady ringing that best explains what was rung.

    Parameters
    ----------
    rung : Rung
        What was rung, laid on the piece.
    handstroke_gap : float, optional
        Declared handstroke gap in gaps (1 = full open lead, 0 = closed); by default the band's own style is the
        yardstick, and the full open lead where it cannot be seen.

    Returns
    -------
    Rhythm
        Gap of each row, handstroke gap, ideal time of each place and its standard error.

    Raises
    ------
    NothingHeard
        Where fewer than two blows were rung, or all at one moment.
    """
    present = ~np.isnan(rung.times_s)
    bells = rung.piece.bells
    first_s, unit_s = _scale(rung.times_s, present)
    times = np.where(present, (rung.times_s - first_s) / unit_s, 0.0)
    spread = np.where(present, rung.spread_ms / 1000 / unit_s, 0.0)

    hand = rung.piece.is_hand[1:].astype(float)
    rows = rung.is_rung
    seen = bool((rung.piece.is_hand[1:] & rows[1:] & rows[:-1]).any())
    assumed = FULL_OPEN_LEAD if handstroke_gap is None else handstroke_gap
    grid, tied = _first_grid(times, present, hand, assumed, fitted=seen and handstroke_gap is None)
    terms = Terms(times, present.astype(float), hand, tied, 0.15, DRIFT, SLACK, seen and handstroke_gap is None)
    groups = _groups(rung)

    covariances = np.zeros((len(times), 2, 2))
    for turn in range(_TURNS):
        for _ in range(_STEPS):
            grid, covariances, moved = _improve(grid, terms)
            if moved < 1e-9:
                break
        left = times - grid.times(bells)
        sigma = _spread(left, present, rows.sum())
        weights = present * sigma**2 / (sigma**2 + spread**2) * _habit_weights(left, present, groups, sigma)
        terms = Terms(times, weights, hand, tied, sigma, terms.drift, SLACK, terms.own_style)
        if turn < _TURNS - 2:
            terms = Terms(times, weights, hand, tied, sigma, _likeliest_drift(grid, terms), SLACK, terms.own_style)

    places = np.arange(bells)
    variance = (
        covariances[:, 0, 0, None] + 2 * places * covariances[:, 0, 1, None] + places**2 * covariances[:, 1, 1, None]
    )
    return Rhythm(
        gap_s=grid.gap * unit_s,
        handstroke_gap=grid.handstroke_gap,
        handstroke_gap_is_seen=seen,
        ideal_s=first_s + grid.times(bells) * unit_s,
        ideal_se_ms=np.sqrt(variance) * unit_s * 1000,
    )


_TURNS, _STEPS = 4, 6


def _scale(times_s: Array, present: NDArray[np.bool_]) -> tuple[float, float]:
    """Time of the first blow, and the band's usual gap, both in seconds."""
    if present.sum() < 2:
        raise NothingHeard("", "fewer than two blows of the piece were heard, so no rhythm can be found")
    steps = np.diff(times_s, axis=1)
    steps = steps[~np.isnan(steps)]
    heard = np.sort(times_s[present])
    gap = float(np.median(steps)) if len(steps) else float(np.median(np.diff(heard)))
    if gap <= 0:
        gap = float(heard[-1] - heard[0]) / (len(heard) - 1)
    if gap <= 0:
        raise NothingHeard("", "every blow has the same time, so no rhythm can be found")
    return float(heard[0]), gap


def _first_grid(
    times: Array, present: NDArray[np.bool_], hand: Array, assumed: float, *, fitted: bool
) -> tuple[Grid, Array]:
    """A rough grid to begin from, and which rows hang together (0 where a pause lies between)."""
    bells = times.shape[1]
    shifted = np.where(present, times - np.arange(bells), np.nan)
    rows = np.flatnonzero(present.any(axis=1))
    starts = np.array([np.median(row[~np.isnan(row)]) for row in shifted[rows]])
    handstroke = assumed
    between, into_hand = np.diff(starts), hand[rows[1:] - 1] == 1
    single = np.diff(rows) == 1
    if fitted and (single & into_hand).any():
        handstroke = float(np.clip(np.median(between[single & into_hand]) - bells, -0.5, 2.5))

    lengths = bells + handstroke * hand  # one a step
    due = np.concatenate([[0.0], np.cumsum(lengths)])
    ratio = between / np.diff(due[rows]) if len(rows) > 1 else np.ones(0)
    pace = float(np.median(ratio)) if len(ratio) else 1.0
    tied = np.ones(len(hand))
    tied[rows[1:][np.abs(between - pace * np.diff(due[rows])) > PAUSE_ROWS * bells * pace] - 1] = 0.0

    late = np.interp(np.arange(len(times)), rows, starts - pace * due[rows])
    return Grid(late + pace * due, np.full(len(times), pace), handstroke), tied


def _improve(grid: Grid, terms: Terms) -> tuple[Grid, Array, float]:
    """One step of reweighted least squares: the new grid, its covariances by row, and how far it moved."""
    bells = terms.times.shape[1]
    left = terms.times - grid.times(bells)
    weights = terms.weights * np.minimum(1.0, HUBER * terms.spread / np.maximum(np.abs(left), 1e-12))
    solved, precision_h, gradient_h, cross = _normal_equations(grid, terms, left, weights)
    step = solved.values[:, :, 0]
    covariances = solved.covariances
    step_h = 0.0
    if terms.own_style:
        answer = solved.values[:, :, 1]
        precision = precision_h - float((cross * answer).sum())
        step_h = (gradient_h - float((cross * step).sum())) / precision
        step = step - answer * step_h
        covariances = covariances + answer[:, :, None] * answer[:, None, :] / precision
    moved = Grid(grid.start + step[:, 0], grid.gap + step[:, 1], grid.handstroke_gap + step_h)
    return moved, covariances, float(max(np.abs(step).max(), abs(step_h)))


def _normal_equations(grid: Grid, terms: Terms, left: Array, weights: Array) -> tuple[Solved, float, float, Array]:
    """Chain of the grid solved for its gradient and for h, and what h itself adds: precision, gradient, cross terms."""
    rows, bells = terms.times.shape
    places = np.arange(bells)
    weighted = weights / terms.spread**2
    diagonal, right = np.zeros((rows, 2, 2)), np.zeros((rows, 2, 2))
    diagonal[:, 0, 0] = weighted.sum(axis=1) + 1e-9
    diagonal[:, 0, 1] = weighted @ places
    diagonal[:, 1, 1] = weighted @ places**2
    right[:, 0, 0] = (weighted * left).sum(axis=1)
    right[:, 1, 0] = (weighted * left) @ places

    tie, steady = terms.tied / terms.slack**2, 1 / terms.drift**2
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
    return solve_chain(diagonal, upper, right), precision, float((pull * short).sum()), right[:, :, 1]


def _spread(left: Array, present: NDArray[np.bool_], rows: int) -> float:
    """Spread of the blows about the grid, from the median, allowing for what the grid took up."""
    size = np.abs(left[present])
    freedom = max(len(size) - 2.0 - rows / 2, len(size) / 2)
    return max(float(np.median(size)) * 1.4826 * float(np.sqrt(len(size) / freedom)), LEAST_SPREAD)


def _groups(rung: Rung) -> tuple[NDArray[np.int64], ...]:
    """Group of each blow, by bell and stroke and by place and stroke; each of shape (R, n)."""
    hand = rung.piece.is_hand[:, None]
    bells = np.maximum(rung.bells.astype(np.int64), 0)
    places = np.broadcast_to(np.arange(rung.piece.bells), bells.shape)
    return 2 * bells + hand, 2 * places + hand


def _habit_weights(
    left: Array, present: NDArray[np.bool_], groups: tuple[NDArray[np.int64], ...], sigma: float
) -> Array:
    """Less weight to blows of a bell, or in a place, whose mean is far from that of the others; shape (R, n)."""
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


def _likeliest_drift(grid: Grid, terms: Terms) -> float:
    """Pace drift under which the blows are most probable, with its prior."""
    bells = terms.times.shape[1]
    left = terms.times - grid.times(bells)
    huber = np.minimum(1.0, HUBER * terms.spread / np.maximum(np.abs(left), 1e-12))
    scores = []
    for drift in _DRIFTS:
        tried = Terms(
            terms.times,
            terms.weights * huber,
            terms.hand,
            terms.tied,
            terms.spread,
            drift,
            terms.slack,
            own_style=False,
        )
        solved, *_ = _normal_equations(grid, tried, left, tried.weights)
        step = solved.values[:, :, 0]
        moved = Grid(grid.start + step[:, 0], grid.gap + step[:, 1], grid.handstroke_gap)
        rest = terms.times - moved.times(bells)
        short = np.diff(moved.start) - (bells + grid.handstroke_gap * terms.hand) * moved.gap[:-1]
        misfit = (
            (tried.weights * rest**2).sum() / terms.spread**2
            + (terms.tied * short**2).sum() / terms.slack**2
            + (np.diff(moved.gap) ** 2).sum() / drift**2
        )
        prior = (np.log(drift / DRIFT) / np.log(DRIFT_FACTOR)) ** 2
        freedom = 2 * len(terms.hand) * np.log(drift)
        scores.append(-0.5 * (misfit + solved.log_determinant + freedom + prior))
    return _peak(np.log(_DRIFTS), np.array(scores))


def _peak(at: Array, scores: Array) -> float:
    """Top of the parabola through the best of the scores and its neighbours, as the exponential of its place."""
    best = int(np.clip(scores.argmax(), 1, len(at) - 2))
    left, middle, right = scores[best - 1 : best + 2]
    bend = left - 2 * middle + right
    shift = 0.5 * (left - right) / bend if bend < 0 else float(scores.argmax() - best)
    return float(np.exp(at[best] + np.clip(shift, -1, 1) * (at[1] - at[0])))
