"""One recording of the whole day, cut by the steward's times, whatever the two clocks say."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.contest.day_file import (
    MARGIN_S,
    Cut,
    NotedTime,
    clock_text,
    cut_day,
    cuts_text,
    read_clock,
    read_cuts,
    read_times,
)
from judging.errors import InputError

#: A morning: practice and touch of three bands, at waits that are not the same.
PRACTICE = [(60.0, 110.0), (600.0, 640.0), (1500.0, 1550.0)]
TOUCHES = [(150.0, 420.0), (700.0, 965.0), (1600.0, 1880.0)]
RINGING = sorted(PRACTICE + TOUCHES)
TEN = 36_000.0


def noted(touches: list[tuple[float, float]], clock_s: float = TEN, late_s: float = 0.0) -> list[NotedTime]:
    return [NotedTime(f"band-{k}", a + clock_s + late_s, b + clock_s + late_s) for k, (a, b) in enumerate(touches, 1)]


def spans(cuts: tuple[Cut, ...]) -> list[tuple[float, float]]:
    return [(cut.begin_s + MARGIN_S, cut.end_s - MARGIN_S) for cut in cuts]


def test_each_band_gets_its_touch_and_practice_is_left_to_nobody() -> None:
    day = cut_day(RINGING, noted(TOUCHES))
    assert spans(day.cuts) == TOUCHES
    assert day.clock_s == TEN
    assert list(day.unclaimed) == PRACTICE


def test_a_false_start_within_the_times_is_left_out_and_named() -> None:
    false_start = (675.0, 687.0)
    times = noted([TOUCHES[0], (670.0, 965.0), TOUCHES[2]])
    day = cut_day(sorted([*RINGING, false_start]), times)
    assert spans(day.cuts) == TOUCHES
    assert day.cuts[1].left_out == (false_start,)


def test_a_band_whose_touch_is_not_in_the_recording_is_named() -> None:
    day = cut_day(RINGING, [*noted(TOUCHES), NotedTime("band-4", TEN + 2500, TEN + 2760)])
    assert day.silent == ("band-4",)
    assert spans(day.cuts) == TOUCHES


def test_touches_at_even_times_fit_in_more_than_one_way_and_the_recorders_clock_is_asked_for() -> None:
    even = [(600.0 * k, 600.0 * k + 270) for k in range(1, 6)]
    with pytest.raises(InputError, match=r"fits the times noted in more than one way .* say when it began"):
        cut_day(even, noted(even[:3]))
    assert spans(cut_day(even, noted(even[:3]), clock_s=TEN).cuts) == even[:3]


def test_a_recording_without_ringing_is_said_to_have_none() -> None:
    with pytest.raises(InputError, match="no ringing was found in it"):
        cut_day([], noted(TOUCHES))


@st.composite
def days(draw: st.DrawFn) -> tuple[list[tuple[float, float]], list[tuple[float, float]]]:
    """All ringing of a day, and the touches in it: waits drawn to the second, so that no two days are alike."""
    now, ringing, touches = draw(st.integers(0, 600)), [], []
    for _ in range(draw(st.integers(1, 14))):
        practice = draw(st.integers(0, 90))
        if practice >= 20:
            ringing.append((float(now), float(now + practice)))
            now += practice + draw(st.integers(30, 90))
        touch = (float(now), float(now + draw(st.integers(230, 300))))
        touches.append(touch)
        ringing.append(touch)
        now = int(touch[1]) + draw(st.integers(60, 900))
    return ringing, touches


@given(days(), st.integers(-3600, 80_000), st.lists(st.floats(-6, 6), min_size=28, max_size=28))
def test_a_day_is_cut_right_or_refused_whatever_the_clocks_and_the_stewards_thumb(
    day: tuple[list[tuple[float, float]], list[tuple[float, float]]], clock_s: int, thumb: list[float]
) -> None:
    ringing, touches = day
    times = [
        NotedTime(f"band-{k}", a + clock_s + thumb[2 * k], b + clock_s + thumb[2 * k + 1])
        for k, (a, b) in enumerate(touches)
    ]
    try:
        found = cut_day(ringing, times)
    except InputError as refused:
        assert "more than one way" in str(refused)  # noqa: PT017 - a refusal is one of two right answers
        return
    begun = [cut.begin_s for cut in found.cuts]
    assert begun == [max(0.0, touch[0] - MARGIN_S) for touch in touches]
    assert [cut.end_s for cut in found.cuts] == [touch[1] + MARGIN_S for touch in touches]


def test_the_stewards_times_are_read_as_a_clock_or_as_seconds() -> None:
    text = "entry,start,stop\nashby,14:03,14:07:30\nbrook,50850,51120.5\n"
    assert read_times(text, name="times.csv") == (
        NotedTime("ashby", 50_580, 50_850),
        NotedTime("brook", 50_850, 51_120.5),
    )


def test_cuts_written_are_read_back_the_same() -> None:
    cuts = (Cut("ashby", 10.0, 280.5), Cut("brook", 700.0, 975.0))
    assert read_cuts(cuts_text(cuts), name="cuts.csv") == cuts


@given(st.integers(0, 86_399))
def test_a_clocks_time_is_read_back_as_it_is_shown(second: int) -> None:
    assert read_clock(clock_text(second), "start") == second


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "times.csv: does not begin with the header entry,start,stop"),
        ("entry,start,stop\n", "times.csv: has nothing under its header"),
        ("entry,start\n", "times.csv: does not begin with the header"),
        ("entry,start,stop\nashby,14:03\n", "times.csv, line 2: 2 columns"),
        ("entry,start,stop\n../ashby,1,2\n", 'times.csv, line 2: "../ashby" is no identifier'),
        ("entry,start,stop\nashby,14:63,15:00\n", 'times.csv, line 2: "14:63" is no time such as 14:03:20'),
        ("entry,start,stop\nashby,nan,15:00\n", 'times.csv, line 2: "nan" is no time'),
        ("entry,start,stop\nashby,14:10,14:03\n", "times.csv, line 2: ashby stops at 14:03, not after"),
        ("entry,start,stop\nashby,1,2\n\nashby,3,4\n", "times.csv, line 4: ashby stands in the table already"),
    ],
)
def test_a_wrong_table_is_refused_by_its_line(text: str, told: str) -> None:
    with pytest.raises(InputError, match=f"^{re.escape(told)}"):
        read_times(text, name="times.csv")
