"""The recording's quality in words, with what to do about it."""

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

from judging.ear.clarity import Clarity
from judging.ear.decode import Sound
from judging.ear.features import RATE_HZ
from judging.striking.strike_log import StrikeLog

#: What is worth a note: share of samples at full scale, a peak under 2 % of it, and 3 % of blows this uncertain.
_MUCH_CLIPPED, _QUIET, _MANY_DOUBTFUL, _DOUBTFUL_MS = 1e-4, 0.02, 0.03, 5.0
#: Noise is measured between these frequencies, over at most so many seconds before the first blow (at least so many),
#: against so many of ringing; it is worth a note where the bells are less than this above it.
_BAND_HZ, _BEFORE_S, _LEAST_S, _RINGING_S, _NOISY_DB = (400.0, 10_000.0), 3.0, 0.4, 30.0, 15.0
#: Between the last noise and the first blow (s), so that none of the blow is in it.
_CLEAR_S = 0.1
#: A bell that is told from another less well than this is worth a note.
_POORLY_APART = 0.5


def quality_notes(
    sound: Sound, log: StrikeLog, missing: int, clarity: tuple[Clarity, ...], shadows: tuple[tuple[int, int], ...]
) -> list[str]:
    """Say what was wrong with the recording, and what to do about it; nothing where it was good.

    Parameters
    ----------
    sound : Sound
        The recording.
    log : StrikeLog
        What was heard of it.
    missing : int
        Blows that were not heard.
    clarity : tuple of Clarity
        How well each bell is told from the others.
    shadows : tuple of (int, int)
        Bells that could not be told from another; indices from 0.
    """
    notes = _level_notes(sound)
    noise_db = bells_above_noise_db(sound.samples, log.times_s)
    if noise_db is not None and noise_db < _NOISY_DB:
        notes.append(
            f"the bells are only {max(0.0, noise_db):.0f} dB above the noise before they begin; put the recorder "
            "out of the wind, away from the road, from humming lamps or people talking, or nearer the bells"
        )
    for shadow, other in shadows:
        notes.append(
            f"bell {shadow + 1} could not be told from bell {other + 1} where they seem to strike together; move the "
            "recorder to where the two sound more different, or use voices kept from a longer touch"
        )
    worst = min((one for one in clarity if one.most_like), key=lambda one: one.apart, default=None)
    if worst is not None and worst.apart < _POORLY_APART:
        notes.append(
            f"bell {worst.bell} is hard to tell from bell {worst.most_like}: at its blows it seems to sound with "
            f"{100 * (1 - worst.apart):.0f} % of its usual strength; move the recorder to where the two differ more, "
            "or use voices kept from a longer touch"
        )
    return notes + _doubt_notes(log, missing)


def bells_above_noise_db(samples: NDArray[np.float32], times_s: NDArray[np.float64]) -> float | None:
    """How far the ringing is above what is heard before its first blow; None where the recording begins too late."""
    begin_s = float(times_s[0]) - _CLEAR_S
    before = samples[max(0, int((begin_s - _BEFORE_S) * RATE_HZ)) : max(0, int(begin_s * RATE_HZ))]
    if len(before) < _LEAST_S * RATE_HZ:
        return None
    ringing = samples[int(times_s[0] * RATE_HZ) :][: int(min(_RINGING_S, times_s[-1] - times_s[0] + 1) * RATE_HZ)]
    band = butter(2, _BAND_HZ, "bandpass", fs=RATE_HZ, output="sos")
    quiet, loud = (float(np.square(sosfilt(band, part)).mean()) for part in (before, ringing))
    return float(10 * np.log10((loud + 1e-15) / (quiet + 1e-15)))


def _level_notes(sound: Sound) -> list[str]:
    notes = [sound.note] if sound.note else []
    if sound.clipped > _MUCH_CLIPPED:
        notes.append(f"{100 * sound.clipped:.2f} % of the recording is overloaded; turn the level down next time")
    if sound.peak < _QUIET:
        notes.append("the recording is very quiet; turn the level up or move the microphone nearer next time")
    if sound.broken:
        notes.append(f"{100 * sound.broken:.3f} % of the samples were not numbers and were taken as silence")
    return notes


def _doubt_notes(log: StrikeLog, missing: int) -> list[str]:
    notes = []
    expected = len(log) + missing
    doubtful = int((log.spread_ms > _DOUBTFUL_MS).sum())
    unknown = int((log.bells == 0).sum())
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
