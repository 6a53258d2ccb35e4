"""Rows decoded by voices that were learnt from the other rows only, where a recording holds hardly a row besides.

Voices agree with the rows that they were taught, whatever those are. So a third of the whole pulls is left out in turn,
voices are learnt from the rest, and the third is decoded with those: what agrees then has not been put there.
"""

import numpy as np
from numpy.typing import NDArray

from judging.ear.features import FRAME_S
from judging.ear.follow import Prior, Walk, follow
from judging.ear.rows import Rows
from judging.ear.voices import School, bumps, usual_answers

#: Of so many parts one is left out in turn.
_PARTS = 3


def walk_unlearnt(loud: NDArray[np.float32], taught_s: NDArray[np.float64], rows: Rows, slack: float) -> Walk:
    """Decode every row with voices that have not heard it.

    Parameters
    ----------
    loud : ndarray of float32, shape (frames, bands)
        The picture.
    taught_s : ndarray of float64, shape (blows, bells)
        Blows that voices are learnt from.
    rows : Rows
        Where rows begin.
    slack : float
        How many gaps they may be out.
    """
    first = max(0, int((rows.starts_s[0] - 1) / FRAME_S))
    last = min(len(loud), int((rows.starts_s[-1] + (taught_s.shape[1] + 2) * rows.gaps_s[-1]) / FRAME_S))
    bounds_s = rows.starts_s - rows.gaps_s / 2
    part = np.arange(len(rows)) // 2 % _PARTS
    of_blow = part[np.clip(np.searchsorted(bounds_s, taught_s) - 1, 0, len(rows) - 1)]
    of_frame = part[np.clip(np.searchsorted(bounds_s, np.arange(first, last) * FRAME_S) - 1, 0, len(rows) - 1)]
    walks = []
    for left_out in range(_PARTS):
        school = School(loud, first + np.flatnonzero(of_frame != left_out))
        heard = np.where(of_blow == left_out, np.nan, taught_s)
        voices = school.teach(bumps(heard, np.ones(heard.shape), school.frames))
        answers = voices.answer(loud, first, last)
        answers /= usual_answers(answers, heard, first)
        walks.append(follow(answers, first, rows, Prior(slack=slack)))
    return Walk(
        times_s=np.choose(part[:, None], [walk.times_s for walk in walks]),
        height=np.choose(part[:, None], [walk.height for walk in walks]),
        margin=np.choose(part[:, None], [walk.margin for walk in walks]),
        score=sum(walk.score for walk in walks) / _PARTS,
        noise=np.mean([walk.noise for walk in walks], axis=0),
    )
