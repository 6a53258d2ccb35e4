"""A judge's taps laid on the machine's faults: the lag is found, pairs are one to one, and no lag is invented."""

from decimal import Decimal

import mir_eval
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.marks import Sheet, Tap, compare_taps, heard_by_sort, heard_in_words
from judging.marks.taps import WINDOW_S, find_lag, heard_beside_others, pair_up, reaction_in_words
from judging.striking.values import Fault, FaultKind, Level

HALF, ONE = Decimal("0.5"), Decimal(1)


def fault(time_s: float, *, place: int = 3, bell: int = 3, own_ms: float = 80.0, charge: Decimal = HALF) -> Fault:
    change = int(time_s // 2) + 1
    level: Level = "whole" if charge >= ONE else "half"
    kind: FaultKind = "late" if own_ms > 0 else "early"
    return Fault(change + 7, place, bell, change, change % 2 == 1, kind, level, own_ms, time_s, False, True, charge, "")


def sheet(times_s: list[float]) -> Sheet:
    taps = tuple(Tap(None, HALF, time_s) for time_s in times_s)
    return Sheet("j", "a", HALF * len(taps), taps)


SERIES = st.lists(st.floats(0, 60), max_size=25).map(sorted)


@given(SERIES, SERIES)
@settings(max_examples=100)
def test_pairs_are_as_many_as_an_independent_matching_finds(first: list[float], second: list[float]) -> None:
    pairs = pair_up(np.array(first), np.array(second), 0.5)
    expected = mir_eval.util.match_events(np.array(first), np.array(second), 0.5) if first and second else []

    assert len(pairs) == len(expected)
    assert len({i for i, _ in pairs}) == len({j for _, j in pairs}) == len(pairs)
    assert all(abs(first[i] - second[j]) <= 0.5 for i, j in pairs)


@pytest.mark.parametrize("lag", [0.4, -17.3, 212.0])
@pytest.mark.parametrize("seed", range(5))
def test_the_lag_is_found_though_a_third_of_each_is_noted_by_one_only(lag: float, seed: int) -> None:
    generator = np.random.default_rng(seed)
    faults_s = np.sort(generator.uniform(0, 240, 30))
    heard = generator.permutation(30)[:20]
    taps_s = np.sort(
        np.concatenate([faults_s[heard] + generator.normal(0, 0.12, 20), generator.uniform(0, 240, 10)]) + lag
    )

    found = find_lag(taps_s, faults_s)

    assert found is not None
    assert found == pytest.approx(lag, abs=0.15)


def test_no_lag_is_believed_between_taps_and_faults_that_have_nothing_to_do_with_each_other() -> None:
    believed = 0
    for seed in range(40):
        generator = np.random.default_rng(seed)
        taps_s, faults_s = np.sort(generator.uniform(0, 240, 25)), np.sort(generator.uniform(0, 240, 25))
        believed += find_lag(taps_s, faults_s) is not None

    assert believed <= 4


def test_each_tap_is_paired_once_and_what_one_alone_noted_is_told() -> None:
    faults = [fault(time_s) for time_s in (3.0, 10.0, 22.5, 41.0, 60.2, 75.0)]
    taps = sheet([3.5, 10.4, 22.9, 50.0, 60.8, 75.4])

    found = compare_taps(taps, [*faults, fault(50.0, charge=Decimal(0))])

    assert found is not None
    assert found.lag_s == pytest.approx(0.4, abs=0.05)
    assert [pair[1].time_s for pair in found.pairs] == [3.0, 10.0, 22.5, 60.2, 75.0]
    assert [tap.time_s for tap in found.judge_only] == [50.0]
    assert [one.time_s for one in found.machine_only] == [41.0]


def test_taps_without_times_are_paired_by_change() -> None:
    taps = Sheet("j", "a", Decimal(2), (Tap(2, ONE), Tap(40, ONE)))

    found = compare_taps(taps, [fault(3.0), fault(20.0)])

    assert found is not None
    assert found.lag_s is None
    assert [(tap.change, one.change) for tap, one in found.pairs] == [(2, 2)]
    assert [tap.change for tap in found.judge_only] == [40]


def test_taps_as_regular_as_a_clock_fit_at_many_lags_so_none_is_believed() -> None:
    assert find_lag(np.arange(12) * 10.0 + 0.5, np.arange(12) * 10.0) is None


def test_a_bare_total_or_a_faultless_count_has_nothing_to_be_laid_on() -> None:
    assert compare_taps(Sheet("j", "a", Decimal(18)), [fault(3.0)]) is None
    assert compare_taps(sheet([3.0]), []) is None


def test_taps_whose_times_lie_nowhere_and_that_name_no_change_are_not_forced_on_the_faults() -> None:
    assert compare_taps(sheet([5.0, 100.0]), [fault(3.0), fault(20.0), fault(70.0)]) is None


def test_what_a_judge_hears_more_or_less_is_said_where_there_is_enough_of_it() -> None:
    times_s = np.random.default_rng(1).uniform(0, 240, 20).tolist()
    leads = [fault(time_s, place=1, own_ms=-70) for time_s in times_s[:8]]
    others = [fault(time_s, charge=ONE) for time_s in times_s[8:]]
    taps = sheet(sorted(one.time_s + 0.5 for one in others))

    found = compare_taps(taps, leads + others)
    assert found is not None
    heard = heard_by_sort([found], 6)

    assert heard["in all"] == (12, 20)
    assert heard["leads"] == (0, 8)
    assert heard["whole faults"] == (12, 12)
    assert heard_in_words("The judge", heard) == (
        "The judge noted 12 of the machine's 20 faults.",
        "The judge hears leads less: 0 of 8.",
        "The judge hears clips less: 0 of 8.",
        "The judge hears wide more: 12 of 12.",
        "The judge hears whole faults more: 12 of 12.",
    )


def test_what_a_judge_hears_beside_colleagues_is_said_by_sort_and_only_where_it_differs() -> None:
    own = {"in all": (12, 20), "leads": (7, 8), "tenor": (1, 3)}
    theirs = [{"in all": (10, 20), "leads": (2, 8), "tenor": (3, 3)}, {"in all": (11, 20), "leads": (3, 8)}]

    said = heard_beside_others("The judge", own, [{**one, "tenor": (0, 0)} for one in theirs])

    assert said == ("The judge notes more of leads than colleagues do: 7 of 8, against 5 of 16.",)
    assert heard_beside_others("The judge", own, []) == ()


def test_how_steadily_taps_follow_the_blows_is_told_and_the_clocks_difference_is_not() -> None:
    generator = np.random.default_rng(4)
    faults = [fault(time_s) for time_s in np.sort(generator.uniform(0, 240, 40)).tolist()]
    taps = sheet([one.time_s + 100.4 + float(generator.normal(0, 0.1)) for one in faults])
    found = compare_taps(taps, faults)
    assert found is not None

    (said,) = reaction_in_words("The judge", [found])

    assert found.lag_spread_s == pytest.approx(0.1, abs=0.04)
    assert said == f"The judge's taps follow the blows after a steady delay, give or take {found.lag_spread_s:.2f} s."
    assert "100" not in said


def test_the_window_is_wider_than_any_reaction_and_narrower_than_a_row() -> None:
    assert 0.2 < WINDOW_S < 1.0
