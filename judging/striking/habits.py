"""What is done again and again: who is late or early where, what it costs, how the pace goes, and what is done well.

The pattern that would save most faults is told first and taken out before the next is looked for, so that one habit is
not told twice. A pattern must be larger than chance could make the largest of them all, and large enough to be heard.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray

from judging.striking.faults import Levels
from judging.striking.lessons import handstroke_gap, pace, praise
from judging.striking.passing_on import passing_on
from judging.striking.patterns import Family, families
from judging.striking.rules import CountingRules
from judging.striking.values import Count, Habit

Array = NDArray[np.float64]

#: Blows that make a habit, and how many standard errors its mean must be from nothing: with some hundred and
#: fifty patterns looked at, chance passes 4 once in a hundred pieces.
LEAST_BLOWS, SURE = 6, 4.0

#: A habit smaller than this is not worth a sentence, in gaps and ms.
WORTH_GAPS, WORTH_MS = 0.06, 15.0

#: A blow shows the habit when it is out by this share of a blemish.
SHOWS = 0.5

#: Most habits told.
MOST = 6


@dataclass(frozen=True, slots=True)
class _Found:
    family: Family
    group: int
    mean: float
    blows: NDArray[np.bool_]
    saves: Decimal

    @property
    def rank(self) -> tuple[Decimal, float]:
        return self.saves, abs(self.mean) * float(np.sqrt(self.blows.sum()))


@dataclass(frozen=True, slots=True)
class _Costs:
    """Own errors, lines and prices, to say what a band would have been charged without a habit."""

    own: Array
    lines: Array
    prices: Array
    now: Array

    def saved(self, blows: NDArray[np.bool_], mean: float) -> Decimal:
        """Faults less if the blows had been so much earlier."""
        own = np.abs(self.own[blows] - mean)
        lines = np.broadcast_to(self.lines[:, None, :], (*self.own.shape, 3))[blows]
        then = self.prices[(own[:, None] >= lines).sum(axis=1)]
        halves = round(2 * float(np.maximum(self.now[blows] - then, 0).sum()))
        return Decimal(halves) / 2


def habits(count: Count, rules: CountingRules, far: Levels) -> tuple[Habit, ...]:
    """Habits of a band, most worth working on first, then what was done well.

    Parameters
    ----------
    count : Count
        Faults and evidence.
    rules : CountingRules
        What it was counted under.
    far : Levels
        How far out each blow is.

    Returns
    -------
    tuple of Habit
        Faults saved are those that would not be charged if the habit's mean were taken away.
    """
    rung = count.rung
    there = (rung.strike >= 0) & count.judged[:, None]
    if not there.any():
        return ()
    left = np.where(there, count.deviations.gaps, np.nan)
    lines = rules.bands.lines_gaps(count.rhythm.gap_s)
    prices = np.array([0.0, 0.0, float(rules.scheme.half), float(rules.scheme.whole)])
    costs = _Costs(np.nan_to_num(count.deviations.own_gaps), lines, prices, np.minimum(prices[far.level], count.charge))
    gap_ms = float(np.median(count.rhythm.gap_s[count.judged])) * 1000
    known = [(family, np.where(there, family.group, -1)) for family in families(rung)]
    told: list[Habit] = []
    for _ in range(MOST):
        best = max(
            (found for family, group in known for found in _in_family(family, group, left, costs, gap_ms)),
            key=lambda found: found.rank,
            default=None,
        )
        if best is None:
            break
        told.append(_as_habit(best, left, lines, gap_ms, count.rhythm.handstroke_gap))
        left[best.blows] -= best.mean
    told.sort(key=lambda habit: -habit.saves)
    lessons = (*pace(count), *handstroke_gap(count), *passing_on(count, there), *praise(count, there))
    return (*told, *sorted(lessons, key=lambda lesson: lesson.praise))


def _in_family(family: Family, group: NDArray[np.int64], left: Array, costs: _Costs, gap_ms: float) -> Iterator[_Found]:
    """Groups of a family whose mean is sure and large."""
    inside = group >= 0
    if inside.sum() < LEAST_BLOWS:
        return
    number, out = group[inside], left[inside]
    blows = np.bincount(number)
    many = np.maximum(blows, 1)
    mean = np.bincount(number, out) / many
    usual = 1.4826 * float(np.median(np.abs(out - np.median(out))))  # of all blows: a few may agree by chance
    spread = np.maximum(np.sqrt(np.maximum(np.bincount(number, out**2) / many - mean**2, 0)), usual)
    sure = (blows >= LEAST_BLOWS) & (np.abs(mean) >= np.maximum(SURE * spread / np.sqrt(many), WORTH_GAPS))
    for which in np.flatnonzero(sure & (np.abs(mean) * gap_ms >= WORTH_MS)).tolist():
        members = group == which
        yield _Found(family, which, float(mean[which]), members, costs.saved(members, float(mean[which])))


def _as_habit(found: _Found, left: Array, lines: Array, gap_ms: float, handstroke: float) -> Habit:
    """A pattern in words, with the rows that show it; of handstroke leads, with the gap that they leave."""
    late = "late" if found.mean > 0 else "early"
    shown = found.blows & (np.sign(found.mean) * np.nan_to_num(left) >= SHOWS * lines[:, :1])
    bells = found.family.bells(found.group)
    own_gap = ""
    if found.family.unit == "leads" and bells and found.group % 2:
        own_gap = f", a handstroke gap of {handstroke + found.mean:.1f} of a blow where the band's is {handstroke:.1f}"
    what = found.family.told(found.group, late)
    return Habit(
        bells=bells,
        sentence=f"{what}: {int(shown.sum())} of {int(found.blows.sum())} "
        f"{found.family.unit}, {abs(found.mean) * gap_ms:.0f} ms on average{own_gap}",
        rows=tuple(np.flatnonzero(shown.any(axis=1)).tolist()),
        saves=found.saves,
        what=what,
        late_ms=found.mean * gap_ms,
    )
