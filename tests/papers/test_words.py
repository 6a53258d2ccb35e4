"""Places and times as people read them."""

from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.marks.rules import Policy
from judging.papers import words


@given(st.floats(min_value=0, max_value=36000))
def test_a_time_is_never_printed_with_sixty_seconds(time_s: float) -> None:
    minutes, seconds = words.clock(time_s).split(":")
    assert 0 <= float(seconds) < 60
    assert abs(60 * int(minutes) + float(seconds) - time_s) <= 0.0501


@given(st.floats(min_value=0, max_value=1))
def test_a_place_is_never_said_to_be_safer_than_it_is(safety: float) -> None:
    share = int(words.safety_in_words(safety).split(" in ")[1].split()[0])
    assert share / 100 <= safety + 1e-9
    assert safety - share / 100 < 0.01 + 1e-9


@pytest.mark.parametrize(
    ("place", "word"), [(1, "First"), (12, "Twelfth"), (20, "Twentieth"), (21, "21st"), (112, "112th")]
)
def test_places_are_in_words_as_far_as_words_are_read_at_a_glance(place: int, word: str) -> None:
    assert words.place_in_words(place) == word


def test_every_way_of_combining_has_its_words() -> None:
    assert set(words.POLICIES) == set(get_args(Policy))
