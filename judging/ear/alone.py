"""Is it one bell at a time: a clock striking, a bell tried, bells raised one after another before a band rings.

In rounds no two blows that follow one another are of the same bell, and nearly all are where one bell is struck alone.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.signal import find_peaks

from judging.ear.features import band_energy, loudness, onsets, steady_out
from judging.ear.pitch import rises_at

#: Onsets at least this strong and, in frames, so far apart (a tenth of a second).
_ONSET, _APART = 0.25, 20
#: From this likeness of neighbouring blows on: single bells raised in chambers and churches have 0.47 to 0.68, three
#: after one another 0.51 and more; bells rung or raised together, 3 to 12 of them, −0.2 to −0.04.
_ALIKE = 0.25


def is_one_at_a_time(sound: NDArray[np.float32]) -> bool:
    """Whether most blows are of the same bell as the blow before.

    Parameters
    ----------
    sound : ndarray of float32, shape (samples,)
        A stretch in which something is struck; mono, at the ear's rate.

    Returns
    -------
    bool
    """
    energy = band_energy(sound)
    loud = loudness(energy, slice(0, len(energy)))
    blows, _ = find_peaks(steady_out(onsets(sound)), height=_ONSET, distance=_APART)
    if len(blows) < 2:
        return False
    spectra = rises_at(loud, blows)
    spectra -= spectra.mean(axis=1, keepdims=True)
    spectra /= np.sqrt(np.square(spectra).sum(axis=1, keepdims=True)) + 1e-9
    return bool(np.median((spectra[1:] * spectra[:-1]).sum(axis=1)) > _ALIKE)
