"""RUNG → RHYTHM: the steady ringing that best explains the band.

The grid of rows (`grid`) is fitted, what it leaves over teaches how this band rings (`learning`), and it is fitted
again, a few rounds over. A held-up row is measured from where it was due, and only the next from where the band is.

Times are taken in units of the band's own gap from the first blow on, so that neither the clock's zero nor the speed of
ringing changes anything.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from judging.errors import NothingHeard
from judging.striking.grid import Array, Grid, Terms, standard_errors, steadiest
from judging.striking.learning import (
    DRIFT,
    SLACK,
    TRIED,
    habit_groups,
    habit_weights,
    let_go,
    likeliest_drift,
    spread_left,
    yardstick,
)
from judging.striking.values import Rhythm, Rung

#: A row that starts this share of a row away from where it is due follows a pause, not a change of pace.
PAUSE_ROWS = 0.6

#: What is assumed where one whole pull cannot show it: the full open lead, the norm (trade practice).
FULL_OPEN_LEAD = 1.0

#: Rounds of learning (spread, habits, drift, held rows), and steps within one.
TURNS, STEPS, LAST_STEPS = 5, 3, 40

#: Steps into handstrokes, and into backstrokes, from which it is believed that the strokes are named rightly.
ENOUGH_STEPS = 3

#: Spread to begin with, in gaps.
FIRST_SPREAD = 0.15


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
    terms = Terms(times, present.astype(float), hand, tied / SLACK**2, FIRST_SPREAD, DRIFT, own_style)
    groups = habit_groups(rung)
    for turn in range(TURNS):
        grid = steadiest(grid, terms, steps=STEPS)
        left = times - grid.times(bells)
        sigma = spread_left(left, present, int(rows.sum()))
        weights = present * sigma**2 / (sigma**2 + spread**2) * habit_weights(left, present, groups, sigma)
        terms = replace(terms, weights=weights, spread=sigma)
        if turn < TURNS - 1:
            if turn:  # not before it is known how the pace drifts
                terms = replace(terms, tie=let_go(grid, terms))
            terms = replace(terms, drift=likeliest_drift(grid, terms, TRIED if turn == 0 else TRIED[1:-1]))
    grid = steadiest(grid, terms, steps=LAST_STEPS)
    errors, handstroke_error = standard_errors(grid, terms)
    pauses = np.concatenate([[False], tied == 0])
    return Rhythm(
        gap_s=grid.gap * unit_s,
        handstroke_gap=grid.handstroke_gap,
        handstroke_gap_is_seen=seen,
        ideal_s=first_s + yardstick(grid, terms).times(bells) * unit_s,
        ideal_se_ms=errors * unit_s * 1000,
        handstroke_gap_se=handstroke_error,
        follows_pause=pauses,
    )


def longer_before_handstrokes(rung: Rung, rhythm: Rhythm) -> float | None:
    """How much longer the step into a handstroke row is than the step into a backstroke row.

    Parameters
    ----------
    rung : Rung
        What was rung.
    rhythm : Rhythm
        Its steady ringing, which may have been fitted with the strokes named the wrong way round.

    Returns
    -------
    float or None
        In gaps, from the rows' own middles alone: the handstroke gap where the strokes are named rightly, less than 0
        where they are not. None where too few rows were rung to tell.
    """
    starts = _row_medians(rung.times_s / rhythm.gap_s[:, None] - np.arange(rung.piece.bells))
    steps = np.diff(starts)
    told = rung.is_rung[1:] & rung.is_rung[:-1] & ~rhythm.follows_pause[1:] & np.isfinite(steps)
    into_hand, into_back = (steps[told & (rung.piece.is_hand[1:] == hand)] for hand in (True, False))
    if min(len(into_hand), len(into_back)) < ENOUGH_STEPS:
        return None
    return float(np.median(into_hand) - np.median(into_back))


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
