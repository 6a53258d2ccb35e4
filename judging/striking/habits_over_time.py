"""Habits over years: which come back, which went, and whether their staying away is more than chance.

A night counts once, as in `over_time`. That a habit went is only said where chance would hardly have put every night
that had it before every night that had not: of all ways to deal m nights among n, the share that leaves the last k free
is C(n - k, m) / C(n, m) (hypergeometric; counting).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from math import comb
from typing import Final, Literal

from judging.striking.touch_figures import HabitKept

#: So often, for all habits together, one may be said to have gone that has not.
SURE: Final = 0.05

Verdict = Literal["comes back", "went", "not lately", "once"]


@dataclass(frozen=True, slots=True)
class HabitOverTime:
    """One habit over all nights.

    Parameters
    ----------
    what : str
        Who does what.
    on_days : tuple of date
        When it was heard, ascending.
    nights : int
        How many there were in all.
    since : int
        Nights since it was heard last.
    first_ms, last_ms : float
        How late it was when heard first and last, - early; 0 where it is not about lateness.
    chance : float
        How often chance alone would leave so many nights free at the end.
    verdict : {"comes back", "went", "not lately", "once"}
        What can be said of it.
    """

    what: str
    on_days: tuple[date, ...]
    nights: int
    since: int
    first_ms: float
    last_ms: float
    chance: float
    verdict: Verdict


def habits_over_time(touches: Sequence[tuple[date, Sequence[HabitKept]]]) -> tuple[HabitOverTime, ...]:
    """Follow every habit through the nights.

    Parameters
    ----------
    touches : sequence of (date, sequence of HabitKept)
        Day and habits of each touch on as many bells, in any order.

    Returns
    -------
    tuple of HabitOverTime
        Those that come back first; within a verdict the most frequent first.
    """
    nights = sorted({day for day, _ in touches})
    heard: dict[str, dict[date, float]] = {}
    for day, habits in touches:
        for habit in habits:
            on = heard.setdefault(habit.what, {})
            on[day] = max(on.get(day, 0.0), habit.late_ms, key=abs)
    level = SURE / max(sum(len(on) > 1 for on in heard.values()), 1)
    found = [_followed(what, on, nights, level) for what, on in heard.items()]
    order: tuple[Verdict, ...] = ("comes back", "went", "not lately", "once")
    return tuple(sorted(found, key=lambda habit: (order.index(habit.verdict), -len(habit.on_days), habit.what)))


def _followed(what: str, on: dict[date, float], nights: Sequence[date], level: float) -> HabitOverTime:
    days = sorted(on)
    since = len(nights) - 1 - nights.index(days[-1])
    chance = comb(len(nights) - since, len(days)) / comb(len(nights), len(days))
    verdict: Verdict = "not lately" if since else "comes back"
    if len(days) == 1:
        verdict = "once"
    elif chance <= level:
        verdict = "went"
    return HabitOverTime(what, tuple(days), len(nights), since, on[days[0]], on[days[-1]], chance, verdict)


def habit_in_words(habit: HabitOverTime) -> str:
    """Tell a habit's years, without claiming more than the nights allow."""
    years = _listed(sorted({day.year for day in habit.on_days}))
    size = _size(habit)
    told = f"{habit.what}: on {len(habit.on_days)} of {_nights(habit.nights)}, in {years}{size}"
    if habit.verdict == "went":
        return f"{told}; on none of the last {habit.since}, which chance would do {_chance(habit.chance)}"
    if habit.verdict == "not lately":
        return f"{told}; not on the last {_nights(habit.since)}, which is too few to say that it went"
    return told


def _size(habit: HabitOverTime) -> str:
    first, last = abs(habit.first_ms), abs(habit.last_ms)
    if not first:
        return ""
    if len(habit.on_days) == 1:
        return f", {first:.0f} ms"
    return f", {first:.0f} ms at first and {last:.0f} ms when last heard"


def _nights(number: int) -> str:
    return f"{number} {'night' if number == 1 else 'nights'}"


def _chance(chance: float) -> str:
    return f"once in {1 / chance:,.0f} such books"


def _listed(years: Sequence[int]) -> str:
    """Return years in words, those that follow each other as a span: ``"2021, 2023 to 2026"``."""
    breaks = [0, *(at for at, (year, after) in enumerate(pairwise(years), start=1) if after != year + 1), len(years)]
    spans = [years[begin:end] for begin, end in pairwise(breaks)]
    said = [
        f"{span[0]}" if len(span) == 1 else f"{span[0]}{' and ' if len(span) == 2 else ' to '}{span[-1]}"
        for span in spans
    ]
    return ", ".join(said)
