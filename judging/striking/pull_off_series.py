"""Several pull-offs together: each bell early or late at hand and at back, and whether they become better.

Whether a band becomes better is said only as surely as so few blows allow: to tell 45 ms of spread from 35 takes about
125 blows on each side, ten pull-offs on six bells and as many again.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, log
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from judging.striking.pull_off import TAKEN_UP
from judging.striking.pull_off_turns import Turn, spread_from_one_to_the_next_ms, turn_of
from judging.striking.values import PullOff

#: Standard errors beyond which a difference is no longer put down to chance (two-sided 5 %), and by how many more the
#: usual difference must lie beyond that to be seen four times in five (80 % power).
SURE, OFTEN = 1.96, 0.84

#: A bell is told to be late or early at a stroke from so many pull-offs, so many standard errors and so many ms on. The
#: spread is pooled over all bells, since a bell's own, of four blows, is hardly known; of the 24 places looked at on
#: twelve bells, chance then passes one in a hundred evenings.
LEAST_PULL_OFFS, BELL_SURE, BELL_MS = 4, 3.5, 15.0

#: More pull-offs than this are not told one by one.
ONE_BY_ONE = 12


@dataclass(frozen=True, slots=True)
class Progress:
    """The later half of the pull-offs beside the earlier.

    Parameters
    ----------
    before_ms, after_ms : float
        How far from even on average, in the earlier and in the later half.
    low, high : float
        95 % interval of the change as a share of the earlier half, such as −0.4 to −0.1.
    blows : int
        In each half, less what the yardsticks took up.
    verdict : {"better", "less even", "too few to tell"}
        What can be said.
    """

    before_ms: float
    after_ms: float
    low: float
    high: float
    blows: int
    verdict: Literal["better", "less even", "too few to tell"]


@dataclass(frozen=True, slots=True)
class BellInPullOffs:
    """One bell at one stroke, over several pull-offs.

    Parameters
    ----------
    bell : int
        Which.
    is_hand : bool
        Handstroke or backstroke.
    late_ms : tuple of float or None
        Of each pull-off in order, + late; None where it was not heard.
    mean_ms, se_ms : float
        On average, with its standard error from the spread of all bells (0 of a single pull-off).
    is_sure : bool
        Whether it is late or early surely, and by enough to be spoken of.
    turn : Turn or None
        When it changed, if that is more than chance; the average is then of neither.
    """

    bell: int
    is_hand: bool
    late_ms: tuple[float | None, ...]
    mean_ms: float
    se_ms: float
    is_sure: bool
    turn: Turn | None = None


def blows_to_tell(before_ms: float, after_ms: float) -> int:
    """How many blows on each side show a change of spread, four times in five.

    The logarithm of a spread found from N blows has a standard error of 1 / √(2 N).

    Parameters
    ----------
    before_ms, after_ms : float
        The spreads; different, and positive.

    Returns
    -------
    int
        Blows on each side.

    Examples
    --------
    >>> blows_to_tell(45, 35)
    125
    """
    return ceil(((SURE + OFTEN) / log(before_ms / after_ms)) ** 2)


def progress(series: Sequence[PullOff]) -> Progress | None:
    """Whether the later half is struck closer than the earlier, with its uncertainty.

    Parameters
    ----------
    series : sequence of PullOff
        In order of time; the middle one of an odd number is left out.

    Returns
    -------
    Progress or None
        None with fewer than two pull-offs, or where a half is exactly even.
    """
    half = len(series) // 2
    if not half:
        return None
    spreads, blows = [], []
    for part in (series[:half], series[-half:]):
        squares = sum(float(np.nansum(one.late_ms**2)) for one in part)
        free = sum(max(int((~np.isnan(one.late_ms)).sum()) - TAKEN_UP[one.settled], 1) for one in part)
        spreads.append(float(np.sqrt(squares / free)))
        blows.append(free)
    before, after = spreads
    if min(spreads) <= 0:
        return None
    change, error = float(np.log(after / before)), float(np.sqrt(sum(1 / (2 * count) for count in blows)))
    sure = abs(change) >= SURE * error
    low, high = (float(np.expm1(change + side * SURE * error)) for side in (-1, 1))
    return Progress(
        before_ms=before,
        after_ms=after,
        low=low,
        high=high,
        blows=min(blows),
        verdict="too few to tell" if not sure else "better" if change < 0 else "less even",
    )


def bells_of(series: Sequence[PullOff]) -> tuple[BellInPullOffs, ...]:
    """Each bell at handstroke and at backstroke, over a series.

    Parameters
    ----------
    series : sequence of PullOff
        In order of time, all of as many bells.

    Returns
    -------
    tuple of BellInPullOffs
        In order of bell, handstroke first; bells never heard are left out.
    """
    late = {
        (bell, stroke): tuple(_late_ms(one, stroke, bell) for one in series)
        for bell in sorted({int(bell) for one in series for bell in one.bells.ravel() if bell})
        for stroke in (0, 1)
    }
    heard = {place: np.array([one for one in each if one is not None]) for place, each in late.items()}
    spread_ms = _pooled_spread_ms([each for each in heard.values() if len(each)])
    next_ms = spread_from_one_to_the_next_ms(late.values())
    found = []
    for (bell, stroke), each in heard.items():
        if not len(each):
            continue
        mean, error = float(each.mean()), spread_ms / float(np.sqrt(len(each)))
        is_sure = len(each) >= LEAST_PULL_OFFS and abs(mean) >= max(BELL_SURE * error, BELL_MS)
        turn = turn_of(late[bell, stroke], next_ms, BELL_MS)
        found.append(BellInPullOffs(bell, stroke == 0, late[bell, stroke], mean, error, is_sure, turn))
    return tuple(found)


def _pooled_spread_ms(heard: Sequence[NDArray[np.float64]]) -> float:
    """How far a blow strays from its own bell's usual place, over all bells; 0 where each has one blow."""
    free = sum(len(each) - 1 for each in heard)
    squares = sum(float(((each - each.mean()) ** 2).sum()) for each in heard)
    return float(np.sqrt(squares / free)) if free else 0.0


def series_in_words(series: Sequence[PullOff]) -> str:
    """What a band is told of its pull-offs.

    Parameters
    ----------
    series : sequence of PullOff
        In order of time.

    Returns
    -------
    str
        One sentence for one pull-off; for several how they went, which bells to listen to, and whether they became
        better, if that can be told.
    """
    if not series:
        return ""
    if len(series) == 1:
        return series[0].sentence
    sizes = [f"{one.off_ms:.0f}" for one in series]
    told = ", ".join(sizes) if len(sizes) <= ONE_BY_ONE else f"{sizes[0]} in the first and {sizes[-1]} in the last"
    bells = sorted((one for one in bells_of(series) if one.is_sure or one.turn), key=lambda one: -abs(one.mean_ms))
    habits = "".join(f". {_habit_in_words(one)}" for one in bells[:2])
    return f"{len(series)} pull-offs, {told} ms from even on average. {_progress_in_words(progress(series))}{habits}"


def lateness_in_words(late_ms: float) -> str:
    """Return how late a bell is, such as ``12 ms early``."""
    if abs(late_ms) < 0.5:
        return "even"
    return f"{abs(late_ms):.0f} ms {'late' if late_ms > 0 else 'early'}"


def _habit_in_words(one: BellInPullOffs) -> str:
    stroke = "handstroke" if one.is_hand else "backstroke"
    if one.turn is not None:
        return (
            f"{one.bell} was {lateness_in_words(one.turn.before_ms)} at {stroke} on average in the first "
            f"{one.turn.before}, and {lateness_in_words(one.turn.after_ms)} since"
        )
    way = "late" if one.mean_ms > 0 else "early"
    return f"{one.bell} is {way} at {stroke}, by {abs(one.mean_ms):.0f} ± {one.se_ms:.0f} ms on average"


def _late_ms(one: PullOff, stroke: int, bell: int) -> float | None:
    at = np.flatnonzero((one.bells[stroke] == bell) & ~np.isnan(one.late_ms[stroke]))
    return float(one.late_ms[stroke, at[0]]) if len(at) else None


def _progress_in_words(found: Progress | None) -> str:
    if found is None:
        return "Every blow of one half is exactly even, so nothing can be compared"
    low, high = (f"{100 * abs(change):.0f} %" for change in (found.low, found.high))
    if found.verdict == "too few to tell":
        return (
            f"They are too few to tell whether they become better: the later half may be anything from {low} less out "
            f"to {high} more"
        )
    size = f"{high} to {low} less" if found.verdict == "better" else f"{low} to {high} more"
    return (
        f"They become {found.verdict}: {found.before_ms:.0f} ms in the earlier half and {found.after_ms:.0f} in the "
        f"later, {size}"
    )
