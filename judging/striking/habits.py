"""What is done again and again: who is late or early where, what it costs, and what is done well.

Patterns are looked for in one tested set: a bell at a stroke or both, leads at a stroke, a bell leading. The one that
would save most faults is told first and taken out before the next is looked for, so that one habit is not told twice.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray

from judging.striking.faults import Levels
from judging.striking.rules import CountingRules
from judging.striking.values import Count, Habit

#: Blows that make a habit, and how many standard errors its mean must be from nothing.
LEAST_BLOWS, SURE = 6, 4.0

#: A habit smaller than this is not worth a sentence, in gaps and ms.
WORTH_GAPS, WORTH_MS = 0.06, 15.0

#: Most habits told.
MOST = 6


@dataclass(frozen=True, slots=True)
class _Pattern:
    bells: tuple[int, ...]
    who: str
    unit: str
    blows: NDArray[np.bool_]


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
    rung, gap_ms = count.rung, count.rhythm.gap_s[:, None] * 1000
    there = (rung.strike >= 0) & count.judged[:, None]
    if not there.any():
        return ()
    left = np.where(there, count.deviations.gaps, np.nan)
    cost = _costs(count, rules, far)
    patterns = list(_patterns(count, there))
    found = []
    for _ in range(MOST):
        best = None
        for pattern in patterns:
            out = left[pattern.blows]
            mean = float(out.mean())
            mean_ms = float((out * np.broadcast_to(gap_ms, left.shape)[pattern.blows]).mean())
            error = float(out.std(ddof=1)) / len(out) ** 0.5
            if abs(mean) < max(SURE * error, WORTH_GAPS) or abs(mean_ms) < WORTH_MS:
                continue
            saved = cost.saved(pattern.blows, mean)
            rank = (saved, abs(mean) * len(out) ** 0.5)
            if best is None or rank > best[0]:
                best = (rank, pattern, mean, mean_ms, saved)
        if best is None:
            break
        _, pattern, mean, mean_ms, saved = best
        side = np.sign(mean) * left > 0
        left[pattern.blows] -= mean
        times = int((pattern.blows & side).sum())
        late = "late" if mean > 0 else "early"
        found.append(
            Habit(
                bells=pattern.bells,
                sentence=f"{pattern.who.format(late=late)}: {times} of {int(pattern.blows.sum())} {pattern.unit}, "
                f"{abs(mean_ms):.0f} ms on average",
                rows=tuple(np.flatnonzero((pattern.blows & side).any(axis=1)).tolist()),
                saves=saved,
            )
        )
    found.sort(key=lambda habit: -habit.saves)
    return (*found, *_praise(count, there))


@dataclass(frozen=True, slots=True)
class _Costs:
    own: NDArray[np.float64]
    lines: NDArray[np.float64]
    prices: NDArray[np.float64]
    now: NDArray[np.float64]

    def saved(self, blows: NDArray[np.bool_], mean: float) -> Decimal:
        """Faults less if the blows had been so much earlier."""
        own = np.abs(self.own[blows] - mean)
        lines = np.broadcast_to(self.lines[:, None, :], (*self.own.shape, 3))[blows]
        then = self.prices[(own[:, None] >= lines).sum(axis=1)]
        halves = round(2 * float(np.maximum(self.now[blows] - then, 0).sum()))
        return Decimal(halves) / 2


def _costs(count: Count, rules: CountingRules, far: Levels) -> _Costs:
    scheme = rules.scheme
    prices = np.array([0.0, 0.0, float(scheme.half), float(scheme.whole)])
    own = np.nan_to_num(count.deviations.own_gaps)
    return _Costs(own, rules.bands.lines_gaps(count.rhythm.gap_s), prices, np.minimum(prices[far.level], count.charge))


def _patterns(count: Count, there: NDArray[np.bool_]) -> Iterator[_Pattern]:
    """Every group of blows that has a name among ringers."""
    hand = count.rung.piece.is_hand
    bells = count.rung.bells
    strokes = (("at handstroke", hand), ("at backstroke", ~hand))
    groups = []
    for bell in range(1, count.rung.piece.bells + 1):
        mine = there & (bells == bell)
        groups.append(_Pattern((bell,), f"{bell} strikes {{late}}", "blows", mine))
        groups.extend(
            _Pattern((bell,), f"{bell} strikes {{late}} {stroke}", "blows", mine & rows[:, None])
            for stroke, rows in strokes
        )
        lead = mine.copy()
        lead[:, 1:] = False
        groups.extend(
            _Pattern((bell,), f"{bell} leads {{late}} {stroke}", "leads", lead & rows[:, None])
            for stroke, rows in strokes
        )
    leads = there.copy()
    leads[:, 1:] = False
    groups.extend(
        _Pattern((), f"Leads are {{late}} {stroke}", "leads", leads & rows[:, None]) for stroke, rows in strokes
    )
    for pattern in groups:
        if pattern.blows.sum() >= LEAST_BLOWS:
            yield pattern


def _praise(count: Count, there: NDArray[np.bool_]) -> Iterator[Habit]:
    """The steadiest bell, where it is steady indeed."""
    bells = count.rung.bells
    spreads = {}
    for bell in range(1, count.rung.piece.bells + 1):
        mine = there & (bells == bell)
        if mine.sum() >= LEAST_BLOWS:
            spreads[bell] = float(np.sqrt(np.mean(count.deviations.ms[mine] ** 2)))
    if len(spreads) > 2:
        best = min(spreads, key=spreads.__getitem__)
        rows = tuple(np.flatnonzero((there & (bells == best)).any(axis=1)).tolist())
        yield Habit(
            (best,), f"{best} is the steadiest bell: {spreads[best]:.0f} ms from even on average", rows, praise=True
        )
