"""Touches over months and years: does a band strike closer than it did, said only as surely as so few nights allow.

An evening has its own weather: touches of one night are more alike than touches of two. So a night counts once, and
what is between nights, not between blows, says how sure a trend is.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.special import stdtrit

from judging.striking.values import Count

#: Fewer nights leave a line nothing to be measured by.
LEAST_NIGHTS = 4

#: Two-sided 5 %.
_SURE = 0.975


@dataclass(frozen=True, slots=True)
class Trend:
    """How the spread of striking went from the first night to the last.

    Parameters
    ----------
    first_ms, last_ms : float
        The fitted spread on the first and on the last night.
    low, high : float
        95 % interval of the change over that time, as a share, such as −0.4 to −0.1.
    nights : int
        How many.
    verdict : {"closer", "less even", "too few to tell"}
        What can be said.
    """

    first_ms: float
    last_ms: float
    low: float
    high: float
    nights: int
    verdict: Literal["closer", "less even", "too few to tell"]


def struck_ms(count: Count) -> float:
    """How far from even a touch was struck: root mean square of its blows' own errors in the judged rows, in ms."""
    return float(np.sqrt(np.nanmean(np.square(count.deviations.own_ms[count.judged]))))


def trend(days: Sequence[float], spread_ms: Sequence[float]) -> Trend | None:
    """Fit a straight line to the logarithm of the spread, night by night.

    Parameters
    ----------
    days : sequence of float
        Day of each touch, counted from anywhere; touches of one day are one night.
    spread_ms : sequence of float
        Of each touch, positive.

    Returns
    -------
    Trend or None
        None with fewer than `LEAST_NIGHTS` nights.
    """
    nights = np.unique(np.asarray(days, dtype=np.float64))
    if len(nights) < LEAST_NIGHTS:
        return None
    log_ms = np.array([np.log(np.array(spread_ms)[np.asarray(days) == night]).mean() for night in nights])
    apart = nights - nights.mean()
    slope = float(apart @ log_ms) / float(apart @ apart)
    left = log_ms - log_ms.mean() - slope * apart
    free = len(nights) - 2
    error = float(np.sqrt(left @ left / free / (apart @ apart)))
    span = float(nights[-1] - nights[0])
    width = float(stdtrit(free, _SURE)) * error
    low, high = (float(np.expm1(span * (slope + side * width))) for side in (-1, 1))
    first, last = (float(np.exp(log_ms.mean() + slope * at)) for at in (apart[0], apart[-1]))
    verdict: Literal["closer", "less even", "too few to tell"] = "too few to tell"
    if abs(slope) > width:
        verdict = "closer" if slope < 0 else "less even"
    return Trend(first, last, low, high, len(nights), verdict)


def trend_in_words(found: Trend | None, nights: int) -> str:
    """Tell a trend, or why there is none to tell."""
    if found is None:
        return (
            f"{nights} {'night' if nights == 1 else 'nights'}: too few to tell; from {LEAST_NIGHTS} on a line is drawn."
        )
    went = f"from {found.first_ms:.0f} to {found.last_ms:.0f} ms over {found.nights} nights"
    between = f"{_percent(found.low)} to {_percent(found.high)}"
    if found.verdict == "too few to tell":
        return f"Too few to tell whether the striking changes ({went}, which may be anything from {between})."
    return f"The striking becomes {found.verdict}, {went} ({between})."


def _percent(change: float) -> str:
    return f"{100 * abs(change):.0f} % {'less' if change < 0 else 'more'}"
