"""Whether bells, taken in an order, go down the scale.

The spectrum that rises at a bell's blows is slid along a logarithmic axis against another bell's: it matches best at
the interval between them, since bells of one ring are much alike but for pitch. In a ring the intervals are known
beforehand to about a semitone (a major scale, as nearly all rings are tuned), so an order that begins with the wrong
bell is contradicted by every interval that spans the join.
"""

import numpy as np
from numpy.typing import NDArray

from judging.ear.features import BANDS_AN_OCTAVE, FRAME_S, WIDE_BANDS

#: Semitones above the tenor, bell by bell upwards: a major scale of two octaves and more.
_SCALE = (0, 2, 4, 5, 7, 9, 11, 12, 14, 16, 17, 19, 21, 23, 24, 26)
#: Bells so many apart are compared; intervals may be this much out (1.5 semitones).
_SPAN, _SLACK = 3, 3
_MOST_BLOWS = 8


def rising_spectra(loud: NDArray[np.float32], times_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """What rises at each bell's blows, on a logarithmic axis.

    Parameters
    ----------
    loud : ndarray of float32, shape (frames, bands)
        The picture.
    times_s : ndarray of float64, shape (blows, bells)
        Some blows of each.

    Returns
    -------
    ndarray of float64, shape (bells, bands)
        Only bands that are a full twenty-fourth of an octave wide.
    """
    mean: NDArray[np.float64] = rises_at(loud, np.round(times_s[:_MOST_BLOWS] / FRAME_S).astype(np.int64)).mean(axis=0)
    return mean


def rises_at(loud: NDArray[np.float32], frames: NDArray[np.int64]) -> NDArray[np.float64]:
    """What rises at some frames, on a logarithmic axis; shape (*frames.shape, bands)."""
    frame = np.clip(frames, 5, len(loud) - 10)
    wide = loud[:, WIDE_BANDS:]
    rise = (wide[frame + 6] + wide[frame + 9]) / 2 - wide[frame - 5]
    return np.maximum(0.0, rise).astype(np.float64)


def descent(spectra: NDArray[np.float64]) -> float:
    """How well the bells go down the scale in the order given.

    Parameters
    ----------
    spectra : ndarray of float64, shape (bells, bands)
        From `rising_spectra`, the supposed treble first.

    Returns
    -------
    float
        Mean likeness over pairs of bells at the interval a ring would have there, plus, over neighbours, how much
        more alike they are a step down than any way up; about 1 for the true order, less for others.
    """
    bells, bands = spectra.shape
    level = spectra - spectra.mean(axis=1, keepdims=True)
    level /= np.sqrt(np.square(level).sum(axis=1, keepdims=True)) + 1e-9
    size = 2 * bands
    waves = np.fft.rfft(level, size, axis=1)
    alike, steps = [], []
    for upper in range(bells):
        for lower in range(upper + 1, min(bells, upper + _SPAN + 1)):
            likeness = np.fft.irfft(waves[upper] * waves[lower].conj(), size)
            interval = _SCALE[bells - 1 - upper] - _SCALE[bells - 1 - lower]
            shift = round(interval * BANDS_AN_OCTAVE / 12)
            alike.append(likeness[max(0, shift - _SLACK) : shift + _SLACK + 1].max())
            if lower == upper + 1:
                steps.append(likeness[1 : 2 * _SLACK + 1].max() - likeness[-bands // 2 :].max())
    return float(np.mean(alike) + np.mean(steps)) if alike else 0.0
