"""A bell that was late and is no longer: when it changed, over an evening of pull-offs, if that is more than chance.

Every way of cutting the evening in two is tried. The cut that parts the blows best is believed only as far as chance,
which was free to choose among as many, would hardly have gone.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

#: A ringer gets it right once by chance; on either side of a turn there are so many pull-offs.
LEAST = 3

#: Standard errors between the two sides: of six to twelve pull-offs on six to twelve bells without any habit, cut
#: wherever they part best, chance passes this in one evening of a hundred (simulated, `tests/striking`).
SURE = 3.9


@dataclass(frozen=True, slots=True)
class Turn:
    """One bell at one stroke changed.

    Parameters
    ----------
    before, after : int
        Pull-offs on either side.
    before_ms, after_ms : float
        On average, + late.
    """

    before: int
    after: int
    before_ms: float
    after_ms: float


def spread_from_one_to_the_next_ms(places: Iterable[Sequence[float | None]]) -> float:
    """How far blows stray, from how far each is from the one before at its own place: a turn hardly adds to that.

    Parameters
    ----------
    places : iterable of sequence of float or None
        How late each bell was at each stroke, pull-off by pull-off; None where it was not heard.

    Returns
    -------
    float
        Half the mean square of the differences (von Neumann), its root taken; in ms, 0 where there are none.
    """
    steps = [np.diff(_heard(place)) for place in places]
    all_steps = np.concatenate([*steps, np.zeros(0)])
    return float(np.sqrt((all_steps**2).mean() / 2)) if len(all_steps) else 0.0


def turn_of(late_ms: Sequence[float | None], spread_ms: float, least_ms: float) -> Turn | None:
    """Return the turn of one bell at one stroke.

    Parameters
    ----------
    late_ms : sequence of float or None
        Pull-off by pull-off; None where it was not heard.
    spread_ms : float
        From `spread_from_one_to_the_next_ms`.
    least_ms : float
        A smaller change is not spoken of.

    Returns
    -------
    Turn or None
        None where chance may have done it, or it is of the last pull-offs alone.
    """
    heard = _heard(late_ms)
    best, far = None, SURE * spread_ms
    for cut in range(1, len(heard)):
        before_ms, after_ms = float(heard[:cut].mean()), float(heard[cut:].mean())
        apart = abs(after_ms - before_ms)
        weighed = apart / float(np.sqrt(1 / cut + 1 / (len(heard) - cut)))
        if weighed > far and apart >= least_ms:
            best, far = Turn(cut, len(heard) - cut, before_ms, after_ms), weighed
    return best if best is not None and min(best.before, best.after) >= LEAST else None


def _heard(late_ms: Sequence[float | None]) -> NDArray[np.float64]:
    return np.array([one for one in late_ms if one is not None], np.float64)
