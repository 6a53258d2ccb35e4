"""Leads: how wide the gap before them is, by who leads."""

from dataclasses import dataclass

import numpy as np

from judging.striking.values import Count


@dataclass(frozen=True, slots=True)
class Leading:
    """One bell leading at one stroke.

    Parameters
    ----------
    bell : int
        Which.
    is_hand : bool
        Handstroke or backstroke.
    leads : int
        How often, in the rows that are marked.
    gap, gap_se : float
        Extra space before its leads in blows, from the last blow in its own place: the handstroke gap, and nothing at
        backstroke, in even ringing; and its standard error (0 of a single lead).
    """

    bell: int
    is_hand: bool
    leads: int
    gap: float
    gap_se: float


def leads_of(count: Count) -> tuple[Leading, ...]:
    """How wide the gap is before each bell's leads.

    Parameters
    ----------
    count : Count
        The count.

    Returns
    -------
    tuple of Leading
        In order of bell, handstroke first; bells that never lead are left out.
    """
    late = np.where(count.judged, count.deviations.gaps[:, 0], np.nan)
    bells, hand = count.rung.bells[:, 0], count.rung.piece.is_hand
    found = []
    for bell in range(1, count.rung.piece.bells + 1):
        for is_hand in (True, False):
            own = late[(bells == bell) & (hand == is_hand)]
            own = own[~np.isnan(own)]
            if len(own):
                error = float(own.std(ddof=1) / np.sqrt(len(own))) if len(own) > 1 else 0.0
                gap = float(own.mean()) + (count.rhythm.handstroke_gap if is_hand else 0.0)
                found.append(Leading(bell, is_hand, len(own), gap, error))
    return tuple(found)
