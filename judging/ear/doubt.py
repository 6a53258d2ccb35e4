"""How sure each time is, and each label."""

import numpy as np
from numpy.typing import NDArray

from judging.ear.timing import STEP_S, Fit

#: Likeness lost at a lag, as natural-log evidence against it.
_SHARPNESS = 40.0
#: The variance is ``(exp(a) * vague^b * exp(c * unlike) * rise^d)^2 + (e * tanh(usual / f))^2``: how vague the best lag
#: is, in ms; how unlike the blow is to its bell's onset, 0 to 1; how many times longer than a sharp onset's 2 ms the
#: bell's rise takes; and what the anchor of a bell's onset may be out for all its blows alike, in ms, which grows with
#: how unlike that bell's blows usually are: in a room, and where many bells ring. Fitted on 250 recordings of 130 rings
#: of made-up and real bells, every ring weighing the same since what a ring's anchors are out is the same all day, so
#: that one and two spreads cover 68 and 95 % of each kind of recording as nearly as may be. Of one ring alone they
#: cover 70 ± 6 and 95 ± 3 %; of real bells, of which we have one ring, 70 and 88.
_A, _B, _C, _D, _E, _F = -3.19, 0.92, 4.17, 0.78, 0.385, 0.237
_SHARP_MS = 2.0
#: Where less than this is recorded (Hz), onsets are vaguer, as the square root of what there is of it.
_WIDE_HZ = 10_000.0
_LEAST_MS, _MOST_MS, _LEAST_VAGUE = 0.1, 30.0, 1e-3
#: A label explained better than any other by less than this (natural-log units) is unknown: one in eight was wrong.
_UNKNOWN = 1.0
#: Up to this its time may be another bell's or an echo's, and is not relied on: one in twelve was; above, none. Nor is
#: that of a bell's only blow, beside which there is nothing to hold it.
_UNSURE, _UNSURE_MS = 2.0, 10.0


def spreads_ms(fit: Fit, margin: NDArray[np.float64], rate_hz: int) -> NDArray[np.float64]:
    """Standard error of each fine time.

    Parameters
    ----------
    fit : Fit
        Of one bell's blows, from `fine_times`.
    margin : ndarray of float64, shape (blows,)
        How much better all is explained with each blow than otherwise, in natural-log units.
    rate_hz : int
        How often the recording was sampled; half of it is the highest frequency there is.

    Returns
    -------
    ndarray of float64, shape (blows,)
        In milliseconds.
    """
    likeness = fit.likeness
    lags_ms = (np.arange(likeness.shape[1]) - likeness.shape[1] // 2) * STEP_S * 1e3
    weight = np.exp(_SHARPNESS * (likeness - likeness.max(axis=1, keepdims=True)))
    weight /= weight.sum(axis=1, keepdims=True)
    best = lags_ms[likeness.argmax(axis=1)]
    vague = np.sqrt((weight * (lags_ms[None, :] - best[:, None]) ** 2).sum(axis=1))
    unlike = 1 - likeness_to_others(likeness.max(axis=1))
    rise = max(1.0, fit.rise_ms / _SHARP_MS)
    narrow = np.sqrt(max(1.0, _WIDE_HZ / (rate_hz / 2)))
    own = np.exp(_A + _C * unlike) * np.maximum(vague, _LEAST_VAGUE) ** _B * rise**_D
    anchor = _E * np.tanh(np.median(unlike) / _F)
    spread = np.clip(narrow * np.hypot(own, anchor), _LEAST_MS, _MOST_MS)
    unsure = (margin < _UNSURE) | (len(margin) == 1)
    told: NDArray[np.float64] = np.where(unsure, np.maximum(spread, _UNSURE_MS), spread)
    return told


def likeness_to_others(likeness: NDArray[np.float64]) -> NDArray[np.float64]:
    """How like each blow would be to an onset learnt from countless others, as against one that it is a part of itself.

    Of two blows each is half of what is learnt from them, and looks like it for that. Where blows are as like one
    another as r (cosine), they are like the mean of n of them as ``sqrt((1 + (n - 1) r) / n)``, and like that of
    countless ones as ``sqrt(r)``.

    Parameters
    ----------
    likeness : ndarray of float64, shape (blows,)
        Of all blows of a bell to the onset learnt from them, 0 to 1. A single one is like itself, and tells nothing.
    """
    blows = len(likeness)
    if blows < 2:
        return likeness
    others: NDArray[np.float64] = np.sqrt(np.clip((blows * likeness**2 - 1) / (blows - 1), 0.0, 1.0))
    return others


def label_is_known(margin: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Whether each label is told, and not left unknown; shape as given."""
    known: NDArray[np.bool_] = margin >= _UNKNOWN
    return known
