"""How sure each time is, and the recording's quality in words."""

import numpy as np
from numpy.typing import NDArray

from judging.ear.decode import Sound
from judging.ear.timing import STEP_S

#: Likeness lost at a lag, as natural-log evidence against it; and the least error any blow has. Both set on made-up
#: bells so that one and two spreads cover 68 and 95 of a hundred blows.
_SHARPNESS = 150.0
_LEAST_MS = 0.25
_MOST_MS = 20.0


def spreads_ms(likeness: NDArray[np.float64]) -> NDArray[np.float64]:
    """Standard error of each fine time, from how sharply the bell's onset fits.

    Parameters
    ----------
    likeness : ndarray of float64, shape (blows, lags)
        From `fine_times`.

    Returns
    -------
    ndarray of float64, shape (blows,)
        In milliseconds.
    """
    lags_ms = (np.arange(likeness.shape[1]) - likeness.shape[1] // 2) * STEP_S * 1e3
    weight = np.exp(_SHARPNESS * (likeness - likeness.max(axis=1, keepdims=True)))
    weight /= weight.sum(axis=1, keepdims=True)
    best = lags_ms[likeness.argmax(axis=1)]
    spread: NDArray[np.float64] = np.sqrt((weight * (lags_ms[None, :] - best[:, None]) ** 2).sum(axis=1))
    return np.clip(np.hypot(spread, _LEAST_MS), _LEAST_MS, _MOST_MS)


def quality_notes(sound: Sound, missing: int, doubtful: int, blows: int) -> list[str]:
    """What was wrong with the recording, and what to do about it; nothing where it was good."""
    notes = []
    if sound.clipped > 1e-4:
        notes.append(
            f"{100 * sound.clipped:.2f} % of the recording is overloaded; turn the recording level down next time"
        )
    if sound.peak < 0.02:
        notes.append("the recording is very quiet; turn the level up or move the microphone nearer next time")
    if sound.broken:
        notes.append(f"{100 * sound.broken:.3f} % of the samples were not numbers and were taken as silence")
    if missing:
        notes.append(f"{missing} of {blows} blows were not heard, or not clearly enough to say when")
    if doubtful > 0.03 * blows:
        notes.append(f"the time of {doubtful} of {blows} blows is uncertain by more than 5 ms")
    return notes
