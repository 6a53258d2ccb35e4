"""Whether a bell that was late is still late is told plainly, and one pull-off is not taken for a change."""

from decimal import Decimal

import numpy as np
import pytest

from judging.striking import PullOff, series_in_words
from judging.striking.pull_off_since import since_before

CHANCE = np.random.default_rng(11)


def pulled(*, fifth_ms: float, spread_ms: float = 12.0) -> PullOff:
    late_ms = CHANCE.normal(0, spread_ms, (2, 6))
    late_ms[0, 4] += fifth_ms
    return PullOff(0.0, np.tile(np.arange(1, 7, dtype=np.int8), (2, 1)), late_ms, 30.0, Decimal(0), True, 0.0, "")


def test_a_bell_that_is_late_every_time_is_still_late() -> None:
    (said,) = since_before([pulled(fifth_ms=80) for _ in range(6)])
    assert said.startswith("5 is still late at handstroke: ")
    assert "ms on average over 6 pull-offs." in said


def test_a_bell_mended_after_three_pull_offs_is_told_so_on_the_sixth() -> None:
    series = [pulled(fifth_ms=90) for _ in range(3)] + [pulled(fifth_ms=0) for _ in range(3)]
    (said,) = since_before(series)
    assert said.startswith("5 is no longer late at handstroke: ")
    assert said.endswith(" late in the 3 before. That is more than chance.")
    words = series_in_words(series)
    assert "5 was " in words
    assert "late at handstroke on average in the first 3, and " in words
    assert "5 is late" not in words


def test_a_bell_that_has_become_late_or_less_late_is_told_so() -> None:
    worse = [pulled(fifth_ms=0) for _ in range(4)] + [pulled(fifth_ms=-90) for _ in range(3)]
    better = [pulled(fifth_ms=120) for _ in range(3)] + [pulled(fifth_ms=40, spread_ms=3.0) for _ in range(4)]
    assert since_before(worse)[0].startswith("5 has become early at handstroke: ")
    assert since_before(better)[0].startswith("5 is less late at handstroke: ")


def test_once_without_it_may_be_chance_and_three_times_is_not() -> None:
    series = [pulled(fifth_ms=80) for _ in range(6)]
    said = []
    for _ in range(3):
        series.append(pulled(fifth_ms=0, spread_ms=3.0))
        said.append(since_before(series)[0])
    assert said[0].startswith("5 was late at handstroke, by ")
    assert said[0].endswith("One pull-off may be chance.")
    assert said[1].endswith("Two pull-offs may be chance.")
    assert said[2].startswith("5 is no longer late at handstroke: ")
    assert "in the last 3 pull-offs" in said[2]


@pytest.mark.parametrize("count", [0, 1, 2, 3, 4])
def test_few_pull_offs_make_no_habit(count: int) -> None:
    assert since_before([pulled(fifth_ms=80) for _ in range(count)]) == ()


def test_a_band_without_habits_is_seldom_told_of_one() -> None:
    """Twelve places looked at, each said only where chance would say it in one evening of a hundred."""
    told = sum(bool(since_before([pulled(fifth_ms=0, spread_ms=25) for _ in range(8)])) for _ in range(100))
    assert told <= 4
