"""The decoded walk → the blows that are told: rows that were rung, and blows that belong to no row."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d

from judging.ear.features import FRAME_S
from judging.ear.follow import Walk

#: Height of a detector's answer below which a blow counts as not heard, where a usual one is 1.
_HEARD = 0.1
#: In a row that less than half the bells rang, at either end of the ringing, blows must be as plain as this.
_PLAIN, _PLAIN_MARGIN = 0.35, 4.0
#: A blow besides the one of its row is at least as high, so much higher than noise, and so far from the bell's others:
#: a clapper's bounces come up to 150 ms after.
_EXTRA, _OVER_NOISE, _APART_S = 0.5, 6.0, 0.3
#: In so few rows a voice is learnt from hardly more than the blow that it then answers: where no onset is as strong as
#: this besides, the blow is not relied on.
_FEW_ROWS, _ONSET, _UNSURE = 4, 0.1, 1.5
#: No other bell may answer there by more than this share.
_ALONE = 0.6


@dataclass(frozen=True, slots=True)
class Blows:
    """Blows of one bell.

    Parameters
    ----------
    times_s : ndarray of float64, shape (blows,)
        To about a frame, in order.
    margin : ndarray of float64, shape (blows,)
        How much better all is explained with each than otherwise, in natural-log units.
    """

    times_s: NDArray[np.float64]
    margin: NDArray[np.float64]


def blows_of(walk: Walk, answers: NDArray[np.float32], rises: NDArray[np.float32]) -> tuple[list[Blows], int]:
    """Blows of each bell, and how many more there should have been.

    Parameters
    ----------
    walk : Walk
        The last walk.
    answers : ndarray of float32, shape (frames, bells)
        The answers it was decoded from.
    rises : ndarray of float32, shape (frames,)
        Sign of onsets.

    Returns
    -------
    blows : list of Blows
        One for each bell; all empty where no row was rung.
    missing : int
        Places of rung rows without a blow.
    """
    heard = walk.height > _HEARD
    rung = np.flatnonzero(heard.sum(axis=1) * 2 >= heard.shape[1])
    if not len(rung):
        return [Blows(np.zeros(0), np.zeros(0)) for _ in range(heard.shape[1])], 0
    inside = np.zeros(len(heard), bool)
    inside[rung[0] : rung[-1] + 1] = True
    missing = int((~heard[inside]).sum())
    ends = np.zeros(len(heard), bool)
    ends[max(0, rung[0] - 1)] = ends[min(len(ends) - 1, rung[-1] + 1)] = True
    margin = walk.margin
    if len(rung) <= _FEW_ROWS:
        margin = np.where(_struck(rises, walk.times_s), margin, np.minimum(margin, _UNSURE))
    plain = (walk.height > _PLAIN) & (margin > _PLAIN_MARGIN)
    heard &= inside[:, None] | (ends[:, None] & plain)
    first, last = np.nanmin(walk.times_s[heard]), np.nanmax(walk.times_s[heard])
    blows = []
    for bell in range(heard.shape[1]):
        own = walk.times_s[heard[:, bell], bell]
        extra = _extra(answers, bell, own, float(walk.noise[bell]))
        extra = extra[(extra > first) & (extra < last)]
        times = np.concatenate([own, extra])
        sure = np.concatenate([margin[heard[:, bell], bell], np.full(len(extra), _PLAIN_MARGIN)])
        order = np.argsort(times, kind="stable")
        blows.append(Blows(times[order], sure[order]))
    return blows, missing


def _struck(rises: NDArray[np.float32], times_s: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Whether anything at all was struck there."""
    frame = np.round(np.nan_to_num(times_s) / FRAME_S).astype(np.int64)[..., None] + np.arange(-3, 4)
    struck: NDArray[np.bool_] = rises[np.clip(frame, 0, len(rises) - 1)].max(axis=-1) > _ONSET
    return struck


def _extra(answers: NDArray[np.float32], bell: int, own_s: NDArray[np.float64], noise: float) -> NDArray[np.float64]:
    """Times at which a bell plainly struck, besides its own blows."""
    mine = answers[:, bell]
    reach = int(_APART_S / FRAME_S)
    peak = np.flatnonzero((mine == maximum_filter1d(mine, 2 * reach + 1)) & (mine > max(_EXTRA, _OVER_NOISE * noise)))
    others = np.arange(answers.shape[1]) != bell
    rival = np.array([answers[max(0, at - 4) : at + 5, others].max(initial=0.0) for at in peak])
    when: NDArray[np.float64] = peak[rival < _ALONE * mine[peak]].astype(np.float64) * FRAME_S
    around = np.concatenate([[-np.inf], np.sort(own_s), [np.inf]])
    after = np.searchsorted(around, when)
    extra: NDArray[np.float64] = when[np.minimum(when - around[after - 1], around[after] - when) > _APART_S]
    return extra
