"""How well bells are told from their neighbours: worst pair first, whatever order the recordings come in."""

from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.web.told_apart import HARDLY, PLAINLY, told_apart

CLARITY = st.lists(
    st.tuples(st.floats(0, 1), st.integers(2, 6)).map(lambda told: (round(told[0], 3), told[1])),
    min_size=6,
    max_size=6,
).map(lambda told: [(bell, apart, like if like != bell else 1) for bell, (apart, like) in enumerate(told, 1)])


def test_nothing_is_said_where_no_recording_says_anything() -> None:
    assert told_apart([]) is None
    assert told_apart([[(1, 1.0, 0), (2, 1.0, 0), (3, 1.0, 0)]]) is None


def test_two_bells_that_name_each_other_are_one_pair_as_bad_as_the_worse() -> None:
    told = told_apart([[(1, 0.9, 2), (2, 0.6, 3), (3, 0.3, 2)]])
    assert told is not None
    assert [(pair.bells, pair.apart, pair.verdict) for pair in told.pairs] == [
        ((2, 3), 0.3, "hardly told"),
        ((1, 2), 0.9, "plainly told"),
    ]


def test_one_poor_recording_among_good_ones_does_not_make_a_pair_poor() -> None:
    good, poor = [(1, 0.9, 2), (2, 0.8, 1), (3, 0.9, 2)], [(1, 0.2, 2), (2, 0.1, 1), (3, 0.9, 2)]
    told = told_apart([good, poor, good])
    assert told is not None
    assert told.pairs[0].apart == pytest.approx(0.8)
    assert told.advice == ()
    assert "Leave the recorder where it is" in told.sentence


@pytest.mark.parametrize(("apart", "words"), [(0.2, "hardly told"), (0.6, "with some doubt"), (0.9, "plainly told")])
def test_the_worst_pair_is_said_with_what_to_do_where_that_is_wanted(apart: float, words: str) -> None:
    told = told_apart([[(1, 0.95, 3), (2, apart, 3), (3, 0.95, 2)]])
    assert told is not None
    assert words in told.sentence
    assert bool(told.advice) == (apart < PLAINLY)
    assert all("2 and 3" in line for line in told.advice[:2])


@given(st.lists(CLARITY, min_size=1, max_size=4))
def test_pairs_come_worst_first_and_the_order_of_recordings_does_not_matter(
    recordings: list[list[tuple[int, float, int]]],
) -> None:
    told = told_apart(recordings)
    assert told is not None
    assert [pair.apart for pair in told.pairs] == sorted(pair.apart for pair in told.pairs)
    assert all(told_apart(list(order)) == told for order in permutations(recordings))
    assert 0 < HARDLY < PLAINLY < 1
