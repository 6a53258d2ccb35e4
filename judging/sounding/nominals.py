"""Partials of each bell of a ring → which of them is its nominal.

Partials of a tower bell stand in about the same ratios everywhere, and the bells of a ring go down in pitch from treble
to tenor: each bell's own pattern proposes, and the order of the ring decides.
"""

from collections.abc import Sequence
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

#: Ratio to the nominal, how far a partial may lie from it (relative), and how much it tells. Low partials: free of one
#: another in old rings (sizes from memory). Rim partials: quartiles measured on 33 carillon bells, widened.
_PATTERN: Final = np.array(
    [
        (0.250, 0.10, 0.7),  # hum
        (0.500, 0.08, 0.8),  # prime
        (0.600, 0.035, 1.2),  # tierce
        (0.750, 0.015, 0.4),  # quint
        (1.000, 0.003, 1.2),  # nominal
        (1.495, 0.012, 1.2),  # superquint
        (2.050, 0.020, 1.0),  # octave nominal
        (2.670, 0.025, 0.8),
        (3.330, 0.030, 0.6),
        (4.030, 0.035, 0.4),
    ]
)

#: Nominals of tower bells, Hz: tenors of several tons to the lightest trebles.
_LOWEST_HZ, _HIGHEST_HZ = 250.0, 4500.0

#: Softer than this under the loudest partial tells nothing, dB.
_SOFTEST_DB: Final = -45.0

#: A partial so near (relative) to where the pattern has the nominal is the nominal.
_IS_THERE: Final = 0.02

#: From a bell to the next heavier one: at least a quartertone, at most a fourth; a ring has tones and semitones.
_LEAST_STEP, _MOST_STEP = 1.03, 1.34

#: What a step outside costs, on the pattern's own scale: as much as two partials that tell most.
_WRONG_STEP: Final = 2.4


def find_nominals(partials: Sequence[NDArray[np.float64]]) -> tuple[float, ...]:
    """Nominal of each bell, treble first.

    Parameters
    ----------
    partials : sequence of ndarray of float64, shape (P, 2)
        Of each bell: frequency in Hz and level in dB of each partial.

    Returns
    -------
    tuple of float
        One of its bell's own partials, or where the others say it is, in Hz.
    """
    candidates = [_candidates(own) for own in partials]
    best, came_from = candidates[0][1], []
    for (hz, _), (next_hz, likeness) in pairwise(candidates):
        step = hz[:, None] / next_hz
        total = best[:, None] - _WRONG_STEP * ((step < _LEAST_STEP) | (step > _MOST_STEP))
        came_from.append(total.argmax(axis=0))
        best = total.max(axis=0) + likeness
    chosen = [int(best.argmax())]
    for back in reversed(came_from):
        chosen.append(int(back[chosen[-1]]))
    return tuple(float(hz[one]) for (hz, _), one in zip(candidates, reversed(chosen), strict=True))


def _candidates(own: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """What could be the nominal, and how like the pattern the bell is in each case.

    Another bell's louder partial may hide the nominal itself, so every partial may be any of the pattern's.
    """
    hz, level_db = own.T
    tells = np.clip(1 - (level_db - level_db.max()) / _SOFTEST_DB, 0, 1)
    could_be = np.concatenate([hz, (hz[:, None] / _PATTERN[:, 0]).ravel()])
    could_be = could_be[(could_be >= _LOWEST_HZ) & (could_be <= _HIGHEST_HZ)]
    off = np.abs(hz / could_be[:, None, None] - _PATTERN[:, :1]) / (_PATTERN[:, :1] * _PATTERN[:, 1:2])
    likeness = np.where(off <= 1, tells * (1 - 0.3 * off), 0).max(axis=2) @ _PATTERN[:, 2]
    nearest = np.abs(np.log(hz / could_be[:, None])).argmin(axis=1)
    there = np.abs(hz[nearest] / could_be - 1) < _IS_THERE
    return np.where(there, hz[nearest], could_be), likeness
