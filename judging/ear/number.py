"""Is it on another number of bells than is said: asked of the sound, whatever has been decoded from it.

Voices learnt from a single whole pull answer to whatever they were taught, so they cannot say. But the same bells sound
again after a row, and between the two as many blows come evenly as there are bells.
"""

import numpy as np
from numpy.typing import NDArray

from judging.ear.features import FRAME_S
from judging.ear.pace import LONGEST_ROW_S, SHORTEST_ROW_S
from judging.ear.reading import Start
from judging.ear.repeats import alike_after_blows, even_blows, row_length_s

#: How much more alike blows must be after another number of gaps: in whole pulls of 5 to 12 bells they are 0.25 to 0.7
#: more alike after as many as there are bells than after any other.
_FEWEST, _MORE_ALIKE = 3, 0.15
#: How many times better another number of even blows must fit a row of a whole pull, and how far off it may be: at a
#: spread of 30 ms the true number is beaten by 1.18 at most, and others are mostly by 1.2 to 3.
_BETTER, _OFF, _WHOLE_PULL = 1.2, 2, 2


def another_number(loud: NDArray[np.float32], rises: NDArray[np.float32], start: Start) -> int | None:
    """Tell after how many blows the same bells sound again, where that is plainly another number.

    Parameters
    ----------
    loud, rises
        The picture and the sign of onsets.
    start : Start
        The reading that is believed; its first rows are looked at, and a row either side.
    """
    bells = start.taught_s.shape[1]
    gap_s = float(np.median(start.pulls.gaps_s))
    first_s, last_s = start.taught_s.min() - bells * gap_s, start.taught_s.max() + bells * gap_s
    here = slice(max(0, int(first_s / FRAME_S)), int(last_s / FRAME_S))
    # fewer than two rows: blows of one stroke are more alike than those of the other
    alike = alike_after_blows(loud[here], rises[here], gap_s, 2 * bells - 1)
    again = _FEWEST + int(alike[_FEWEST:].argmax())
    if alike[again] > alike[bells] + _MORE_ALIKE:
        return again
    row_s = row_length_s(loud[here], rises[here], SHORTEST_ROW_S, LONGEST_ROW_S)
    if row_s is None or len(start.taught_s) > _WHOLE_PULL:
        return None
    counts = np.arange(max(_FEWEST, bells - _OFF), bells + _OFF + 1)
    fit = even_blows(rises[here], row_s, counts)
    best = int(fit.argmax())
    return int(counts[best]) if fit[best] > _BETTER * float(fit[counts == bells][0]) else None
