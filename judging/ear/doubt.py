"""How sure each time is, and the recording's quality in words."""

import numpy as np
from numpy.typing import NDArray

from judging.ear.decode import Sound
from judging.ear.timing import STEP_S, Fit
from judging.striking.strike_log import StrikeLog

#: Likeness lost at a lag, as natural-log evidence against it.
_SHARPNESS = 40.0
#: The spread is ``exp(a) * vague^b * exp(c * unlike) * rise^d``: how vague the best lag is, in ms; how unlike the blow
#: is to its bell's onset, 0 to 1; how many times longer than a sharp onset's 2 ms the bell's rise takes. Fitted on
#: 15,000 blows of made-up and real bells in twenty kinds of recording, so that one and two spreads cover 68 and 95 %.
_A, _B, _C, _D = -0.87, 0.945, 1.23, 0.28
_SHARP_MS = 2.0
_LEAST_MS, _MOST_MS = 0.1, 30.0
#: A label explained better than any other by less than this (natural-log units) is unknown: one in eight was wrong.
_UNKNOWN = 1.0
#: Up to this its time may be another bell's or an echo's, and is not relied on: one in twelve was; above, none.
_UNSURE, _UNSURE_MS = 2.0, 10.0
#: What is worth a note: share of samples at full scale, a peak under 2 % of it, and 3 % of blows this uncertain.
_MUCH_CLIPPED, _QUIET, _MANY_DOUBTFUL, _DOUBTFUL_MS = 1e-4, 0.02, 0.03, 5.0


def spreads_ms(fit: Fit, margin: NDArray[np.float64]) -> NDArray[np.float64]:
    """Standard error of each fine time.

    Parameters
    ----------
    fit : Fit
        Of one bell's blows, from `fine_times`.
    margin : ndarray of float64, shape (blows,)
        How much better all is explained with each blow than otherwise, in natural-log units.

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
    unlike = 1 - likeness.max(axis=1)
    rise = max(1.0, fit.rise_ms / _SHARP_MS)
    spread = np.clip(np.exp(_A + _C * unlike) * vague**_B * rise**_D, _LEAST_MS, _MOST_MS)
    told: NDArray[np.float64] = np.where(margin < _UNSURE, np.maximum(spread, _UNSURE_MS), spread)
    return told


def label_is_known(margin: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Whether each label is told, and not left unknown; shape as given."""
    known: NDArray[np.bool_] = margin >= _UNKNOWN
    return known


def quality_notes(sound: Sound, log: StrikeLog, missing: int) -> list[str]:
    """What was wrong with the recording, and what to do about it; nothing where it was good.

    Parameters
    ----------
    sound : Sound
        The recording.
    log : StrikeLog
        What was heard of it.
    missing : int
        Blows that were not heard.
    """
    notes = []
    expected = len(log) + missing
    doubtful = int((log.spread_ms > _DOUBTFUL_MS).sum())
    unknown = int((log.bells == 0).sum())
    if sound.clipped > _MUCH_CLIPPED:
        notes.append(f"{100 * sound.clipped:.2f} % of the recording is overloaded; turn the level down next time")
    if sound.peak < _QUIET:
        notes.append("the recording is very quiet; turn the level up or move the microphone nearer next time")
    if sound.broken:
        notes.append(f"{100 * sound.broken:.3f} % of the samples were not numbers and were taken as silence")
    if missing:
        notes.append(f"{missing} of {expected} blows were not heard, or were not struck")
    if unknown:
        notes.append(f"of {unknown} of {expected} blows it is not known which bell struck")
    if doubtful > _MANY_DOUBTFUL * expected:
        notes.append(
            f"the time of {doubtful} of {expected} blows is uncertain by more than {_DOUBTFUL_MS:.0f} ms; a microphone "
            "nearer the bells, out of the wind, would hear them more clearly"
        )
    return notes
