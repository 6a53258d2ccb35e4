"""The psychometric fit: against another program's maximum, and against listeners whose hearing is known."""

import itertools

import numpy as np
import pytest
from scipy.optimize import brentq, minimize
from scipy.special import expit

from judging.errors import InputError
from judging.marks.half_heard import (
    HALF_PRIOR,
    LAPSE,
    SPREAD_PRIOR,
    Heard,
    floor_ms,
    half_heard,
    half_in_words,
    of_way,
)

FLOOR_MS = 7.3


def listened(half_ms: float, spread: float, guess: float, *, seed: int, faults: int) -> list[Heard]:
    """Answers of a listener whose curve is known."""
    random = np.random.default_rng(seed)
    sizes = np.geomspace(15, 120, faults)
    shares = guess + (1 - guess - LAPSE) * expit(np.log(sizes / half_ms) / spread)
    return [Heard(float(size), bool(random.random() < share)) for size, share in zip(sizes, shares, strict=True)]


def minus_log_likelihood(at: np.ndarray, heard: list[Heard], guess: float) -> float:
    """The same likelihood and priors as the module states, written again with scipy's logistic function."""
    log_half, log_spread = at
    sizes = np.array([abs(one.late_ms) for one in heard])
    was_heard = np.array([one.was_heard for one in heard])
    share = guess + (1 - guess - LAPSE) * expit((np.log(sizes) - log_half) / np.exp(log_spread))
    priors = ((log_half - HALF_PRIOR[0]) / HALF_PRIOR[1]) ** 2 + ((log_spread - SPREAD_PRIOR[0]) / SPREAD_PRIOR[1]) ** 2
    return float(priors / 2 - np.log(np.where(was_heard, share, 1 - share)).sum())


@pytest.mark.parametrize(("half_ms", "spread", "seed"), [(25, 0.3, 1), (40, 0.2, 2), (60, 0.5, 3)])
def test_the_maximum_and_its_interval_are_those_that_scipy_finds(half_ms: float, spread: float, seed: int) -> None:
    heard = listened(half_ms, spread, 0.04, seed=seed, faults=25)

    found = half_heard(heard, guess=0.04, floor_ms=FLOOR_MS)

    begins = [np.array([log_half, log_spread]) for log_half in (3.0, 3.7, 4.3) for log_spread in (-2.0, -1.0, 0.0)]
    best = min(
        (minimize(minus_log_likelihood, at, (heard, 0.04), "Nelder-Mead") for at in begins), key=lambda it: it.fun
    )
    assert found.half_ms == pytest.approx(np.exp(best.x[0]), rel=0.01)  # the grid's own step is 0.8 %

    def fallen(log_half: float) -> float:
        """Fall of the profile likelihood, past the 95th percentile of chi-squared with one degree of freedom."""
        of_spread = [
            minimize(
                lambda at: minus_log_likelihood(np.array([log_half, at[0]]), heard, 0.04), [begin], method="Nelder-Mead"
            )
            for begin in (-2.0, -1.0, 0.0)
        ]
        return min(float(one.fun) for one in of_spread) - float(best.fun) - 1.9207

    low = brentq(fallen, np.log(FLOOR_MS), best.x[0], xtol=1e-3)
    high = brentq(fallen, best.x[0], np.log(600), xtol=1e-3)
    assert found.low_ms == pytest.approx(np.exp(low), rel=0.01)
    assert found.high_ms == pytest.approx(np.exp(high), rel=0.01)


def test_thirty_listeners_of_any_kind_are_told_what_scipy_finds() -> None:
    random = np.random.default_rng(26)
    for seed in range(30):
        half_ms, spread = np.exp(random.uniform(np.log(12), np.log(90))), np.exp(random.normal(np.log(0.4), 0.4))
        guess, faults = float(random.uniform(0, 0.15)), int(random.choice([12, 25]))
        heard = listened(half_ms, spread, guess, seed=seed, faults=faults)
        ends = [(np.log(FLOOR_MS), np.log(600)), (np.log(0.05), np.log(2))]
        begins = [np.array([log_half, -1.0]) for log_half in (2.5, 3.5, 4.5)]
        best = min(
            (minimize(minus_log_likelihood, at, (heard, guess), "L-BFGS-B", bounds=ends) for at in begins),
            key=lambda it: it.fun,
        )
        found = half_heard(heard, guess=guess, floor_ms=FLOOR_MS)
        assert found.half_ms == pytest.approx(np.exp(best.x[0]), rel=0.01)


@pytest.mark.parametrize("faults", [12, 25])
@pytest.mark.parametrize(("half_ms", "spread"), [(20, 0.3), (35, 0.3), (60, 0.3), (90, 0.3), (35, 0.15), (35, 0.6)])
def test_the_interval_holds_the_truth_as_often_as_it_says(half_ms: float, spread: float, faults: int) -> None:
    """A 95 % interval; with 80 listeners, 88 % is three standard errors below that."""
    within = 0
    for seed in range(80):
        found = half_heard(listened(half_ms, spread, 0.04, seed=seed, faults=faults), guess=0.04, floor_ms=FLOOR_MS)
        within += found.low_ms <= half_ms <= found.high_ms
    assert within >= 0.88 * 80


def test_the_middle_listener_is_told_what_they_hear() -> None:
    half = [
        half_heard(listened(40, 0.3, 0.04, seed=seed, faults=25), guess=0.04, floor_ms=FLOOR_MS).half_ms
        for seed in range(80)
    ]
    assert np.median(half) == pytest.approx(40, rel=0.08)


def test_twice_the_faults_make_it_surer() -> None:
    def width(faults: int) -> float:
        found = [
            half_heard(listened(40, 0.3, 0.04, seed=at, faults=faults), guess=0.04, floor_ms=7) for at in range(40)
        ]
        return float(np.median([one.high_ms / one.low_ms for one in found]))

    assert width(50) < width(25) < width(12)


def test_luck_is_no_hearing() -> None:
    """Somebody who notes at random, at a rate of 40 %, is told no size within the test's own."""
    random = np.random.default_rng(4)
    told = 0
    for _ in range(60):
        heard = [Heard(float(size), bool(random.random() < 0.4)) for size in np.geomspace(15, 120, 25)]
        found = half_heard(heard, guess=0.4, floor_ms=FLOOR_MS)
        told += half_in_words(heard, found, "late").startswith("You heard half")
    assert told <= 6


def test_nothing_below_the_published_floor_is_claimed() -> None:
    heard = [Heard(float(size), was_heard=True) for size in np.geomspace(15, 120, 25)]

    found = half_heard(heard, guess=0.02, floor_ms=FLOOR_MS)

    assert min(found.half_ms, found.low_ms) >= FLOOR_MS * 0.999
    assert found.is_open_below
    assert "or less" in half_in_words(heard, found, "early")


def test_who_hears_none_is_told_only_that_it_is_larger() -> None:
    heard = [Heard(-float(size), was_heard=False) for size in np.geomspace(15, 120, 25)]

    found = half_heard(heard, guess=0.02, floor_ms=FLOOR_MS)

    assert "somewhere above" in half_in_words(heard, found, "early")


def test_too_few_and_too_much_luck_are_refused() -> None:
    with pytest.raises(InputError, match="too few to tell: 7 faults"):
        half_heard(listened(40, 0.3, 0.04, seed=1, faults=7), guess=0.04, floor_ms=7)
    with pytest.raises(InputError, match="60 % would be found by luck"):
        half_heard(listened(40, 0.3, 0.04, seed=1, faults=25), guess=0.6, floor_ms=7)


@pytest.mark.parametrize(("gap_s", "ms"), [(0.2, 6.0), (0.239, 6.0), (0.25, 6.25), (0.30, 7.5), (0.35, 8.75)])
def test_the_floor_is_that_of_friberg_and_sundberg(gap_s: float, ms: float) -> None:
    """JASA 98 (1995): 6 ms for intervals under about 240 ms, 2.5 % of the interval above."""
    assert floor_ms(gap_s) == pytest.approx(ms)


def test_early_and_late_are_told_apart() -> None:
    heard = [Heard(ms, was_heard=ms > 0) for ms in (-40.0, 30.0, -20.0, 10.0)]
    assert [one.late_ms for one in itertools.chain(of_way(heard, late=True), of_way(heard, late=False))] == [
        30,
        10,
        -40,
        -20,
    ]
