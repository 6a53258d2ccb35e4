"""Until when a protest may be handed in. Ten minutes is what a published county rule allows (value from memory)."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.contest import refuse_outside, window_of
from judging.contest.declared import Protest
from judging.errors import InputError, RuleError

RULES = Protest(minutes=10, to="the secretary")
ANNOUNCED = datetime(2026, 6, 20, 16, 0, 30, tzinfo=UTC)
LATER = ANNOUNCED + timedelta(hours=2)


@given(st.integers(-3600, 7200))
def test_exactly_what_is_handed_in_within_the_window_is_taken(seconds: int) -> None:
    """Counted in seconds from the announcement; the minute in which it was made counts, as clocks on walls show it."""
    handed_in = ANNOUNCED + timedelta(seconds=seconds)
    window = window_of(RULES, ANNOUNCED)

    if -30 <= seconds <= 600:
        refuse_outside(RULES, window, handed_in, now=LATER)
    else:
        with pytest.raises(RuleError, match="within 10 minutes of the provisional result: from 16:00 to 16:10"):
            refuse_outside(RULES, window, handed_in, now=LATER)


def test_without_a_window_the_rule_is_named() -> None:
    with pytest.raises(RuleError, match="the judges' decision is final"):
        refuse_outside(Protest(minutes=0), None, ANNOUNCED, now=LATER)
    with pytest.raises(RuleError, match="which is not announced"):
        refuse_outside(RULES, window_of(RULES, None), ANNOUNCED, now=LATER)


def test_a_time_that_has_not_come_is_a_slip() -> None:
    with pytest.raises(InputError, match="has not come yet"):
        refuse_outside(RULES, window_of(RULES, ANNOUNCED), ANNOUNCED + timedelta(minutes=5), now=ANNOUNCED)


def test_minutes_begun_are_counted_until_it_closes() -> None:
    window = window_of(RULES, ANNOUNCED)

    assert window is not None
    assert [window.minutes_left(ANNOUNCED + timedelta(seconds=s)) for s in (0, 1, 540, 541, 600, 900)] == [
        10,
        10,
        1,
        1,
        0,
        0,
    ]
