"""RUNG → RHYTHM: the steady ringing that best explains the band.

Each row r has a start S and a gap g; place p of the row is struck at S + (p − 1)·g. The next row starts n·g later, or
(n + h)·g later at handstroke, h being the band's handstroke gap; and g itself drifts from row to row by a little that
is learnt from the band. The grid is the minimum of::

    Σ w·ρ((t − S − (p−1)·g) / σ)  +  Σ ((S' − S − (n + h·hand)·g) / θ)² / 2  +  Σ ((g' − g) / τ)² / 2

over every S, g and the one h. ρ is Huber's: square up to `HUBER`, straight beyond, so that a clip or a late blow pulls
no harder than an ordinary one. σ is the band's spread, from the median of what is left over; τ is the pace drift that
makes the blows most probable (marginal likelihood, with `DRIFT` as the prior), so that a steady band is followed
loosely and a surging one closely. A bell, or a place, that is out by habit counts for less: the yardstick is what most
of the band does. Where a row is held up and the band goes on from there (a step that no drift explains), the tie to the
row before is let go; that row is still measured from where it was due, and only the next from where the band now is.

Times are taken in units of the band's own gap from the first blow on, so that neither the clock's zero nor the speed of
ringing changes anything.
"""

from dataclasses import dataclass, replace

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
LEAST_SPREAD = 0.01

#: A row that starts this share of a row away from where it is due follows a pause, not a change of pace.
PAUSE_ROWS = 0.6

#: A row is held up (or hurried) when its start is so many standard errors, and so many gaps, from where it is due.
#: Forty normal pieces of 120 rows on six, eight and twelve hold none by chance (bench).
HELD_SURE, HELD_GAPS = 3.7, 0.15

#: Mean of a bell's (or place's) blows, in spreads of all such means, from which it counts for less.
HABIT = 2.0

#: What is assumed where one whole pull cannot show it: the full open lead, the norm (trade practice).
FULL_OPEN_LEAD = 1.0

#: Rounds of learning (spread, habits, drift, held rows), and steps within one.
TURNS, STEPS, LAST_STEPS = 5, 3, 40

#: Drifts tried, as multiples of the last one found (later rounds leave the ends out); the least and greatest believed.
TRIED = np.array([0.25, 0.5, 1.0, 2.0, 4.0])
LEAST_DRIFT, GREATEST_DRIFT = 0.0001, 0.06


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
    own_style = seen and handstroke_gap is None
    grid, tied = _first_grid(times, present, hand, assumed, fitted=own_style)
    terms = Terms(times, present.astype(float), hand, tied / SLACK**2, 0.15, DRIFT, own_style)
    groups = _groups(rung)
    for turn in range(TURNS):
        grid = steadiest(grid, terms, steps=STEPS)
        left = times - grid.times(bells)
        sigma = _spread(left, present, int(rows.sum()))
        weights = present * sigma**2 / (sigma**2 + spread**2) * _habit_weights(left, present, groups, sigma)
        terms = replace(terms, weights=weights, spread=sigma)
        if turn < TURNS - 1:
            if turn:  # not before it is known how the pace drifts
                terms = replace(terms, tie=_let_go(grid, terms))
            terms = replace(terms, drift=_likeliest_drift(grid, terms, TRIED if turn == 0 else TRIED[1:-1]))
    grid = steadiest(grid, terms, steps=LAST_STEPS)
    errors, handstroke_error = _standard_errors(grid, terms)
    pauses = np.concatenate([[False], tied == 0])
    return Rhythm(
        gap_s=grid.gap * unit_s,
        handstroke_gap=grid.handstroke_gap,
        handstroke_gap_is_seen=seen,
        ideal_s=first_s + _yardstick(grid, terms).times(bells) * unit_s,
        ideal_se_ms=errors * unit_s * 1000,
        handstroke_gap_se=handstroke_error,
        follows_pause=pauses,
    )


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
        solved, precision_h, gradient_h, cross = _normal_equations(grid, terms)
        step, step_h = solved.values[:, :, 0], 0.0
        if terms.own_style:
            answer = solved.values[:, :, 1]
            step_h = (gradient_h - float((cross * step).sum())) / (precision_h - float((cross * answer).sum()))
            step = step - answer * step_h
        grid = Grid(grid.start + step[:, 0], grid.gap + step[:, 1], grid.handstroke_gap + step_h)
        if max(np.abs(step).max(), abs(step_h)) < 1e-9:
            break
    return grid


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
    """A rough grid to begin from, and which steps tie rows together (0 where a pause lies between)."""
    bells = times.shape[1]
    shifted = np.where(present, times - np.arange(bells), np.nan)
    rows = np.flatnonzero(present.any(axis=1))
    starts = _row_medians(shifted[rows])
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


def _row_medians(rows: Array) -> Array:
    """Median of each row, NaN left out."""
    ordered, count = np.sort(rows, axis=1), (~np.isnan(rows)).sum(axis=1)
    index = np.arange(len(rows))
    medians: Array = (ordered[index, (count - 1) // 2] + ordered[index, count // 2]) / 2
    return medians


def _standard_errors(grid: Grid, terms: Terms) -> tuple[Array, float]:
    """Standard error of each ideal time, shape (R, n), and of the handstroke gap, in gaps."""
    solved, precision_h, _, cross = _normal_equations(grid, terms, variances=True)
    covariances, error = solved.covariances, 0.0
    if terms.own_style:
        answer = solved.values[:, :, 1]
        variance = 1 / (precision_h - float((cross * answer).sum()))
        covariances = covariances + answer[:, :, None] * answer[:, None, :] * variance
        error = float(np.sqrt(variance))
    places = np.arange(terms.times.shape[1])
    of_start, shared, of_gap = covariances[:, 0, 0, None], covariances[:, 0, 1, None], covariances[:, 1, 1, None]
    return np.sqrt(of_start + 2 * places * shared + places**2 * of_gap), error


def _let_go(grid: Grid, terms: Terms) -> Array:
    """Ties, with those of held-up rows let go.

    The pull on each tie against its own standard deviation says how surely the row is out of its time (the auxiliary
    residual of a state-space model, Harvey & Koopman 1992); the strongest within a few rows is let go.
    """
    if not len(terms.tie):
        return terms.tie
    solved, *_ = _normal_equations(grid, terms, variances=True)
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
    return np.where(held & (sure >= near), 1.0, terms.tie)


def _yardstick(grid: Grid, terms: Terms) -> Grid:
    """The grid as blows are measured by: a held-up row from where it was due, the next from where the band now is."""
    start = grid.start.copy()
    length = terms.times.shape[1] + grid.handstroke_gap * terms.hand
    for step in np.flatnonzero(terms.tie == 1.0).tolist():
        start[step + 1] = start[step] + length[step] * grid.gap[step]
    return replace(grid, start=start)


def _normal_equations(grid: Grid, terms: Terms, *, variances: bool = False) -> tuple[Solved, float, float, Array]:
    """Chain of the grid solved for its gradient and for h, and what h itself adds: precision, gradient, cross terms."""
    rows, bells = terms.times.shape
    places = np.arange(bells)
    left = terms.times - grid.times(bells)
    weighted = terms.weights * _huber(left, terms.spread) / terms.spread**2
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


def _huber(left: Array, spread: float) -> Array:
    """Weight of each blow by which a square is as steep as ρ."""
    return np.minimum(1.0, HUBER * spread / np.maximum(np.abs(left), 1e-12))


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


def _likeliest_drift(grid: Grid, terms: Terms, factors: Array) -> float:
    """Pace drift under which the blows are most probable, with its prior."""
    bells = terms.times.shape[1]
    weights = terms.weights * _huber(terms.times - grid.times(bells), terms.spread)
    scores = []
    tried = terms.drift * factors
    for drift in tried.tolist():
        solved, *_ = _normal_equations(grid, replace(terms, drift=drift))
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
