"""Habits over years: which came back and which went, and how often chance is taken for a habit that went."""

from datetime import date, timedelta
from decimal import Decimal
from itertools import combinations

import numpy as np
import pytest
from scipy import stats

from judging.striking.habits_over_time import HabitOverTime, habit_in_words, habits_over_time
from judging.striking.touch_figures import HabitKept

FIRST = date(2019, 6, 1)


def night(number: int) -> date:
    """Two nights a year."""
    return FIRST + timedelta(days=183 * number)


def late(what: str, ms: float = 40.0) -> HabitKept:
    return HabitKept(what, (5,), ms, Decimal(2))


def followed(on: list[int], nights: int, *, ms: float = 40.0) -> HabitOverTime:
    """The one habit of a band that had it on some of its nights."""
    touches = [(night(at), [late("5 strikes late", ms)] if at in on else []) for at in range(nights)]
    (found,) = habits_over_time(touches)
    return found


def test_a_habit_that_is_there_on_the_last_night_comes_back() -> None:
    found = followed([0, 3, 7], 8)
    assert (found.verdict, len(found.on_days), found.nights, found.since) == ("comes back", 3, 8, 0)


def test_a_habit_that_stays_away_longer_than_chance_would_have_it_went() -> None:
    found = followed([0, 1, 2, 3], 10)
    assert found.verdict == "went"
    assert found.since == 6
    assert "on none of the last 6, which chance would do once in 210 such books" in habit_in_words(found)


def test_two_nights_without_it_are_too_few_to_say_that_it_went() -> None:
    found = followed([0, 2, 3], 6)
    assert found.verdict == "not lately"
    assert "not on the last 2 nights, which is too few to say that it went" in habit_in_words(found)


def test_the_chance_is_that_of_dealing_its_nights_anywhere() -> None:
    """Against all ways to deal it, one by one, and against scipy's hypergeometric distribution."""
    for nights, on in ((7, [1, 2]), (9, [0, 3, 4]), (10, [0, 1, 2, 3])):
        found = followed(on, nights)
        ways = [max(way) <= on[-1] for way in combinations(range(nights), len(on))]
        assert found.chance == pytest.approx(np.mean(ways))
        none_at_the_end = stats.hypergeom(nights, len(on), found.since).pmf(0)
        assert found.chance == pytest.approx(none_at_the_end)


def test_chance_is_seldom_taken_for_a_habit_that_went() -> None:
    """Twelve nights whose five habits come and go by luck: one book in twenty at most tells of one that went."""
    random = np.random.default_rng(8)
    told = 0
    for _ in range(600):
        has = random.random((12, 5)) < 0.4
        touches = [
            (night(at), [late(f"{bell} strikes late") for bell in range(5) if has[at, bell]]) for at in range(12)
        ]
        told += any(habit.verdict == "went" for habit in habits_over_time(touches))
    assert told / 600 <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / 600)


def test_two_touches_of_a_night_are_one_night_and_the_larger_is_told() -> None:
    touches = [(night(0), [late("5 strikes late", 40)]), (night(0), [late("5 strikes late", 70)]), (night(1), [])]
    (found,) = habits_over_time(touches)
    assert (len(found.on_days), found.nights, found.first_ms, found.verdict) == (1, 2, 70, "once")


def test_years_are_told_as_spans() -> None:
    assert "on 4 of 10 nights, in 2019, 2021 to 2023, 40 ms" in habit_in_words(followed([0, 4, 6, 9], 10))
    assert "on 2 of 4 nights, in 2019 and 2020, 40 ms" in habit_in_words(followed([0, 3], 4))


def test_what_is_not_about_lateness_has_no_milliseconds() -> None:
    assert "ms" not in habit_in_words(followed([0, 1], 2, ms=0.0))
    assert "40 ms at first and 40 ms when last heard" in habit_in_words(followed([0, 1], 2))


def test_the_order_of_the_touches_does_not_matter() -> None:
    touches = [(night(at), [late("a"), late("b")] if at % 3 else [late("b")]) for at in range(9)]
    assert habits_over_time(touches) == habits_over_time(touches[::-1])
