"""How well each bell is told from the others in this very recording."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d

from judging.ear.features import FRAME_S
from judging.ear.follow import Walk

#: A bell's detector is looked at this near another's blows (frames), where its own are at least so far away (s).
_NEAR, _AWAY_S = 3, 0.06
#: One in ten of the other bell's blows may be answered more strongly.
_SHARE = 90
_FEWEST = 4


@dataclass(frozen=True, slots=True)
class Clarity:
    """How well one bell is told from the others.

    Parameters
    ----------
    bell : int
        Which, from 1.
    apart : float
        1 where its voice is silent at all other bells' blows, 0 where it answers one of them as it does its own.
    most_like : int
        The bell that it is told from least well; 0 where too few blows say.
    """

    bell: int
    apart: float
    most_like: int


def clarity_of(walk: Walk, answers: NDArray[np.float32]) -> tuple[Clarity, ...]:
    """Hold each bell's answers to the others' blows against its answers to its own.

    Parameters
    ----------
    walk : Walk
        The decoded blows.
    answers : ndarray of float32, shape (frames, bells)
        Of the detectors that they were decoded from, a usual answer being 1.
    """
    bells = answers.shape[1]
    told = []
    for bell in range(bells):
        near = maximum_filter1d(answers[:, bell], 2 * _NEAR + 1)
        own = np.sort(walk.times_s[np.isfinite(walk.times_s[:, bell]), bell])
        most, like = 0.0, 0
        for other in range(bells):
            times = walk.times_s[np.isfinite(walk.times_s[:, other]), other]
            if other != bell and len(own):
                after = np.searchsorted(own, times)
                before_s = np.abs(times - own[np.maximum(after - 1, 0)])
                away = np.minimum(before_s, np.abs(own[np.minimum(after, len(own) - 1)] - times))
                times = times[away > _AWAY_S]
            if other == bell or len(times) < _FEWEST:
                continue
            frames = np.clip(np.round(times / FRAME_S).astype(np.int64), 0, len(near) - 1)
            answer = float(np.percentile(near[frames], _SHARE))
            if answer > most or not like:
                most, like = max(answer, 0.0), other + 1
        told.append(Clarity(bell + 1, round(float(np.clip(1 - most, 0.0, 1.0)), 3), like))
    return tuple(told)
