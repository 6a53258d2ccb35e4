"""Striking over months: the line and its interval against another program, and how often chance is taken for change."""

import numpy as np
import pytest
from scipy import stats

from judging.striking.over_time import LEAST_NIGHTS, trend, trend_in_words


def test_the_line_and_its_interval_are_those_of_scipy() -> None:
    random = np.random.default_rng(3)
    days = np.array([0.0, 7, 14, 30, 61, 90, 200])
    spread = np.exp(3.6 - 0.001 * days + random.normal(0, 0.1, len(days)))

    found = trend(days.tolist(), spread.tolist())

    line = stats.linregress(days, np.log(spread))
    width = stats.t.ppf(0.975, len(days) - 2) * line.stderr
    assert found is not None
    assert found.first_ms == pytest.approx(np.exp(line.intercept))
    assert found.last_ms == pytest.approx(np.exp(line.intercept + 200 * line.slope))
    assert found.low == pytest.approx(np.expm1(200 * (line.slope - width)))
    assert found.high == pytest.approx(np.expm1(200 * (line.slope + width)))


def test_a_night_counts_once_however_many_touches_it_had() -> None:
    once = trend([0, 7, 14, 21], [40, 38, 37, 35])
    many = trend([0, 0, 0, 7, 14, 21, 21], [40, 40, 40, 38, 37, 35, 35])
    assert once is not None
    assert many is not None
    assert many.low == pytest.approx(once.low)
    assert many.nights == 4


def test_chance_is_taken_for_change_one_time_in_twenty() -> None:
    """Bands that do not change, with three touches a night that share the night; 400 of them, three standard errors."""
    random = np.random.default_rng(5)
    sure = 0
    for _ in range(400):
        nights = np.repeat(random.normal(0, 0.15, 8), 3)
        found = trend(
            np.repeat(np.arange(8) * 7.0, 3).tolist(), np.exp(3.6 + nights + random.normal(0, 0.05, 24)).tolist()
        )
        sure += found is not None and found.verdict != "too few to tell"
    assert 0.017 <= sure / 400 <= 0.083


def test_a_band_that_becomes_closer_is_told_so_and_the_other_way() -> None:
    days = [7.0 * night for night in range(10)]
    wobble = [0.03, -0.02, 0.01, -0.03, 0.02] * 2
    for way, verdict in ((-0.05, "closer"), (0.05, "less even")):
        found = trend(days, [float(40 * np.exp(way * at + wobble[at])) for at in range(10)])
        assert found is not None
        assert found.verdict == verdict
        assert f"becomes {verdict}" in trend_in_words(found, 10)


def test_few_nights_are_too_few_to_tell() -> None:
    assert trend([0.0, 7.0, 14.0], [40, 30, 20]) is None
    assert trend_in_words(None, 3).startswith("3 nights: too few to tell")
    assert LEAST_NIGHTS == 4
