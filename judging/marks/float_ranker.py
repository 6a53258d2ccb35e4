"""THE RANKER'S FLOAT TWIN: many resampled sections at once, for safety only. It never ranks anybody.

It does what `judging.marks.ranking` does, up to tie rules: in a resample, equal marks share the place. The tests prove
it equal to the Decimal ranker on arbitrary figures, policies and penalties.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from judging.marks.adjusting import count_of, multiplier_of
from judging.marks.exact import Mode, Rounding
from judging.marks.penalties import Base, Penalty
from judging.marks.rules import AVERAGING_POLICIES, Combining, MarksRules, Policy
from judging.marks.values import Entrant

Floats = NDArray[np.float64]

#: Floats closer than this (in steps of rounding, or in marks) are the same figure: far above their error on sums of
#: hundreds, far below any step.
_SAME = 1e-9
_BY_PLACE: frozenset[Policy] = frozenset({"placings", "majority of placings"})


@dataclass(frozen=True, slots=True)
class Field:
    """What stays the same from one resample to the next.

    Parameters
    ----------
    entrants : tuple of Entrant
        Those that can be placed, in the order of the last axis.
    weights : ndarray, shape (J,)
        Of the judges, in the order of the axis before.
    rules : MarksRules
        As declared.
    """

    entrants: tuple[Entrant, ...]
    weights: Floats
    rules: MarksRules


def float_places(signed: Floats, field: Field) -> NDArray[np.int64]:
    """Places of many sections at once.

    Parameters
    ----------
    signed : ndarray, shape (S, J, N)
        Figures as signed, before penalties; NaN where a judge has no sheet, in every resample alike.
    field : Field
        Entrants, weights and rules.

    Returns
    -------
    ndarray of int64, shape (S, N)
        1 is best; equal marks share the place.
    """
    marks = float_marks(signed, field)
    by_place = field.rules.combining.policy in _BY_PLACE
    return _shared_places(marks if field.rules.sheets.lower_is_better or by_place else -marks)


def float_marks(signed: Floats, field: Field) -> Floats:
    """Marks of many sections at once, after every penalty, rounded where the rounded mark ranks.

    Parameters
    ----------
    signed, field
        As for `float_places`.

    Returns
    -------
    ndarray, shape (S, N)
        Within a billionth of what the Decimal ranker makes of the same figures.
    """
    rules = field.rules
    lower = rules.sheets.lower_is_better
    figures = _adjust(signed, field, base="each judge", lower=lower)
    marks = _combine(figures, field, rules.combining)
    marks = _adjust(marks, field, base="combined", lower=lower)
    return _steps(marks, rules.rounding) * float(rules.rounding.step) if rules.rank_rounded else marks


def _adjust(figures: Floats, field: Field, *, base: Base, lower: bool) -> Floats:
    counted = now = figures
    for penalty in field.rules.penalties:
        if penalty.base == base and _bites(penalty, field.entrants):
            after = _after(penalty, counted, now, field.entrants, lower=lower)
            if penalty.rounding is not None:
                step = float(penalty.rounding.step)
                after = np.where(after == now, after, _steps(after, penalty.rounding) * step)
            now = after
    return now


def _bites(penalty: Penalty, entrants: Sequence[Entrant]) -> bool:
    return bool(penalty.multipliers) or any(count_of(penalty, entrant) for entrant in entrants)


def _after(penalty: Penalty, counted: Floats, now: Floats, entrants: Sequence[Entrant], *, lower: bool) -> Floats:
    if penalty.multipliers:
        multiplied: Floats = now * np.array([float(multiplier_of(penalty, entrant)) for entrant in entrants])
        return multiplied
    counts = np.array([count_of(penalty, entrant) for entrant in entrants], dtype=np.float64)
    of = counted if penalty.percent_of == "as counted" else now
    change = counts * (float(penalty.percent) / 100 * of + float(penalty.amount))
    return now + change if lower else np.maximum(0.0, now - change)


def _combine(figures: Floats, field: Field, combining: Combining) -> Floats:
    policy, weights = combining.policy, field.weights
    heard = np.isfinite(figures[0])
    if policy in _BY_PLACE:
        figures = _mean_places(figures if field.rules.sheets.lower_is_better else -figures)
        if policy == "majority of placings":
            middle: Floats = np.sort(figures, axis=1)[:, figures.shape[1] // 2, :]
            return middle
    elif policy == "standard score":
        mean = figures.mean(axis=2, keepdims=True)
        spread = figures.std(axis=2, keepdims=True)
        figures = np.divide(figures - mean, spread, out=np.zeros_like(figures), where=spread > _SAME)
    elif policy == "ratio":
        mean = np.nanmean(figures, axis=2, keepdims=True)
        figures = np.divide(figures, mean, out=np.ones_like(figures), where=mean > 0)
    if combining.drop != "none":
        figures, weights = np.sort(figures, axis=1)[:, 1:-1, :], weights[1:-1]
        heard = heard[1:-1]
    total = np.einsum("sjn,j->sn", np.where(heard, figures, 0.0), weights)
    averaged: Floats = total / (weights @ heard)
    return averaged if policy in AVERAGING_POLICIES else total


def _mean_places(figures: Floats) -> Floats:
    """Places along the last axis, equal figures sharing the mean of theirs."""
    flat = figures.reshape(-1, figures.shape[-1])
    order = np.argsort(flat, axis=1)
    first, last = _runs(np.take_along_axis(flat, order, axis=1))
    places = np.empty_like(flat)
    np.put_along_axis(places, order, (first + last) / 2 + 1, axis=1)
    return places.reshape(figures.shape)


def _shared_places(keys: Floats) -> NDArray[np.int64]:
    """Places along the last axis, equal keys sharing the best of theirs."""
    order = np.argsort(keys, axis=1)
    first, _ = _runs(np.take_along_axis(keys, order, axis=1))
    places = np.empty(keys.shape, dtype=np.int64)
    np.put_along_axis(places, order, first + 1, axis=1)
    return places


def _runs(ascending: Floats) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """First and last index of the run of equal figures that each one stands in, row by row."""
    size = ascending.shape[1]
    index = np.broadcast_to(np.arange(size), ascending.shape)
    breaks = np.abs(np.diff(ascending, axis=1)) > _SAME
    first = np.where(np.pad(breaks, ((0, 0), (1, 0)), constant_values=True), index, 0)
    last = np.where(np.pad(breaks, ((0, 0), (0, 1)), constant_values=True), index, size - 1)
    return np.maximum.accumulate(first, axis=1), np.minimum.accumulate(last[:, ::-1], axis=1)[:, ::-1]


def _steps(figures: Floats, rounding: Rounding) -> Floats:
    """Figures in whole steps, rounded as declared."""
    steps = figures / float(rounding.step)
    halves = np.rint(steps * 2) / 2
    return _MODES[rounding.mode](
        np.where(np.abs(steps - halves) < _SAME * np.maximum(1.0, np.abs(steps)), halves, steps)
    )


def _half_up(steps: Floats) -> Floats:
    return np.copysign(np.floor(np.abs(steps) + 0.5), steps)


def _half_down(steps: Floats) -> Floats:
    return np.copysign(np.ceil(np.abs(steps) - 0.5), steps)


def _up(steps: Floats) -> Floats:
    return np.copysign(np.ceil(np.abs(steps)), steps)


_MODES: Mapping[Mode, Callable[[Floats], Floats]] = {
    "half up": _half_up,
    "half even": np.rint,
    "half down": _half_down,
    "up": _up,
    "down": np.trunc,
}
