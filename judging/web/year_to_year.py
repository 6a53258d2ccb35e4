"""Touches beside each other from year to year: whether the striking becomes closer, which habits come back or went."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from judging.figures import figure
from judging.papers.drawings.over_time import over_time_svg
from judging.papers.words import day_in_words, peal_speed
from judging.striking.habits_over_time import HabitOverTime, habit_in_words, habits_over_time
from judging.striking.over_time import trend, trend_in_words
from judging.striking.touch_figures import TouchFigures

#: Habits by what can be said of them, as the page has them.
_HEADINGS = {
    "comes back": "Comes back",
    "went": "Went",
    "not lately": "Not on the last nights",
    "once": "Heard on one night only",
}


@dataclass(frozen=True, slots=True)
class TouchOfYears:
    """One touch among others.

    Parameters
    ----------
    when : date
        When it was rung.
    name, address : str
        What it is called beside its day, and its page.
    sheet : str
        Address of its fault sheet, where that may be seen and is not its page; empty where it may not.
    figures : TouchFigures
        What it was like.
    work_on : str
        Its first habit; empty where it has none.
    """

    when: date
    name: str
    address: str
    figures: TouchFigures
    sheet: str = ""

    @property
    def day(self) -> str:
        """The day in words."""
        return day_in_words(self.when)

    @property
    def a_hundred_rows(self) -> str:
        """Faults in a hundred rows."""
        return figure(self.figures.a_hundred_rows)

    @property
    def speed(self) -> str:
        """Its pace in words."""
        return peal_speed(self.figures.peal_minutes)

    @property
    def handstroke_gap(self) -> str:
        """Its handstroke gap."""
        gap = self.figures.handstroke_gap
        return "not seen" if gap is None else f"{gap:.2f}"

    @property
    def work_on(self) -> str:
        """Its first habit, with its size."""
        habit = next(iter(self.figures.habits), None)
        if habit is None:
            return ""
        return f"{habit.what}, {abs(habit.late_ms):.0f} ms" if habit.late_ms else habit.what


@dataclass(frozen=True, slots=True)
class OnBells:
    """All touches on so many bells, the newest first, with what can be said of them together.

    Parameters
    ----------
    bells : int
        How many rang.
    touches : tuple of TouchOfYears
        The newest first.
    sentence, drawn : str
        Whether the striking becomes closer, in words and drawn.
    habits : tuple of (str, tuple of str)
        A heading, and habits in sentences.
    """

    bells: int
    touches: tuple[TouchOfYears, ...]
    sentence: str
    drawn: str
    habits: tuple[tuple[str, tuple[str, ...]], ...]


def by_bells(touches: Sequence[TouchOfYears]) -> tuple[OnBells, ...]:
    """Return touches by how many bells rang, the fewest first."""
    in_order = sorted(touches, key=lambda touch: (touch.figures.bells, touch.when))
    return tuple(
        _together(bells, list(some)) for bells, some in groupby(in_order, key=lambda touch: touch.figures.bells)
    )


def _together(bells: int, touches: list[TouchOfYears]) -> OnBells:
    days = [touch.when for touch in touches]
    spreads = [touch.figures.spread_ms for touch in touches]
    found = trend([float(day.toordinal()) for day in days], spreads)
    told = trend_in_words(found, len(set(days)))
    drawn = over_time_svg(days, spreads, found, name=f"over-time-{bells}", told=told)
    habits = habits_over_time([(touch.when, touch.figures.habits) for touch in touches]) if len(set(days)) > 1 else ()
    return OnBells(bells, tuple(reversed(touches)), told, drawn, _under_headings(habits))


def _under_headings(habits: Sequence[HabitOverTime]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    return tuple(
        (heading, sentences)
        for verdict, heading in _HEADINGS.items()
        if (sentences := tuple(habit_in_words(habit) for habit in habits if habit.verdict == verdict))
    )
