"""A start that is not plain, learnt again from what was decoded under it, before it is judged.

Where striking is poor, blows lie far from where the opening rows put them, and the first voices are learnt half from
other bells' blows. What they decode is better than what they were taught; so they are taught it, and decode again, all
*without* the piece, so that what agrees with it in the end still says something.
"""

import numpy as np
from numpy.typing import NDArray

from judging.ear.features import FRAME_S
from judging.ear.follow import Prior, Walk, follow, refit
from judging.ear.rows import Rows
from judging.ear.voices import School, Voices, bumps, usual_answers

#: How often voices are taught again, and how many gaps rows may be out meanwhile.
_TURNS, _SLACK = 4, 0.5


def settle(
    loud: NDArray[np.float32], voices: Voices, taught_s: NDArray[np.float64], rows: Rows
) -> tuple[Voices, Rows, Walk]:
    """Teach voices what they decode, several times.

    Parameters
    ----------
    loud : ndarray of float32, shape (frames, bands)
        The picture.
    voices : Voices
        Learnt from the opening rows under one reading of the start.
    taught_s : ndarray of float64, shape (blows, bells)
        The blows that they were learnt from.
    rows : Rows
        Where rows begin under that reading; an even number of them.

    Returns
    -------
    voices : Voices
        As learnt again, a usual answer being 1.
    rows : Rows
        Where rows begin, as the decoded blows say.
    walk : Walk
        Blows, decoded without the piece.
    """
    first = max(0, int((rows.starts_s[0] - 1) / FRAME_S))
    last = min(len(loud), int((rows.starts_s[-1] + (len(voices) + 2) * rows.gaps_s[-1]) / FRAME_S))
    school = School(loud, np.arange(first, last))
    heard = voices.answer(loud, first, last)
    usual = usual_answers(heard, taught_s, first)
    walk = follow(heard / usual, first, rows, Prior(slack=_SLACK))
    for _ in range(_TURNS):
        rows = refit(walk, rows, np.argsort(walk.order, axis=1))
        voices = school.teach(bumps(walk.times_s, np.clip(walk.height, 0.2, 1.0), np.arange(first, last)))
        heard = voices.answer(loud, first, last)
        usual = usual_answers(heard, walk.times_s, first)
        walk = follow(heard / usual, first, rows, Prior(slack=_SLACK, noise=walk.noise))
    return voices.levelled(usual), rows, walk
