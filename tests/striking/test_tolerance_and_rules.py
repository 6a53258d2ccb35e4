from decimal import Decimal

import numpy as np
import pytest
from made_bands import hunt, rounds

from judging.errors import InputError
from judging.striking import CountingRules, Marked, ToleranceBands


def test_the_shipped_lines_are_those_declared_in_the_design() -> None:
    lines = ToleranceBands().lines_gaps(np.array([0.3]))[0]
    assert lines.tolist() == [0.15, 0.25, 0.40]
    assert ToleranceBands().clash_gaps == 0.25


def test_quick_ringing_is_measured_by_the_floors_in_milliseconds() -> None:
    lines_ms = ToleranceBands().lines_gaps(np.array([0.150]))[0] * 150
    assert lines_ms == pytest.approx([30, 45, 70])


def test_the_lines_stand_above_the_published_hearing_floor_at_every_tempo() -> None:
    """6 ms for gaps below 240 ms, 2.5 % above (Friberg & Sundberg 1995)."""
    gaps_s = np.linspace(0.1, 0.6, 50)
    blemish_ms = ToleranceBands().lines_gaps(gaps_s)[:, 0] * gaps_s * 1000
    assert (blemish_ms >= np.maximum(6.0, 25.0 * gaps_s)).all()


@pytest.mark.parametrize(
    ("lines", "says"),
    [
        ({"blemish_gaps": 0.02}, "blemish_gaps: 0.02 is below the hearing floor of 0.025"),
        ({"blemish_ms": 5}, "blemish_ms: 5 is below the hearing floor of 6"),
        ({"half_gaps": 0.15}, "must ascend"),
        ({"whole_ms": 40}, "must ascend"),
        ({"whole_gaps": 1.2}, "nothing would be charged"),
        ({"whole_ms": 900}, "nothing would be charged"),
        ({"clash_gaps": 0}, "between 0 and 1 gap"),
        ({"half_gaps": float("nan")}, "not a number"),
        ({"half_gaps": "wide"}, "not a number"),
        ({"half_ms": True}, "not a number"),
    ],
)
def test_lines_that_no_fair_count_could_use_are_refused(lines: dict[str, float], says: str) -> None:
    with pytest.raises(InputError, match=says):
        ToleranceBands(**lines)


def test_marked_by_default_are_the_changes_up_to_the_return_to_rounds() -> None:
    piece = hunt(6, 12, opening=4)
    assert np.flatnonzero(Marked().rows(piece)).tolist() == list(range(4, 16))


def test_what_is_marked_can_be_switched() -> None:
    piece = hunt(4, 8, opening=4)
    assert np.flatnonzero(Marked(pull_off=True).rows(piece)).tolist() == [0, 1, *range(4, 12)]
    assert np.flatnonzero(Marked(opening=True).rows(piece)).tolist() == list(range(2, 12))
    assert Marked(opening=True, pull_off=True).rows(piece).all()
    assert np.flatnonzero(Marked(most_changes=3).rows(piece)).tolist() == [4, 5, 6]


def test_closing_rounds_are_marked_only_where_the_rules_say_so() -> None:
    piece = hunt(4, 8, opening=2)
    closed = type(piece)("t", np.concatenate([piece.rows, piece.rows[:2]]), opening=2, closing=2)
    assert Marked().rows(closed)[-2:].tolist() == [False, False]
    assert Marked(closing=True).rows(closed)[-2:].tolist() == [True, True]


def test_a_rounds_contest_may_leave_its_first_rows_free() -> None:
    marked = Marked(free_rows=20).rows(rounds(6, 60))
    assert marked.sum() == 40
    assert not marked[:20].any()


def test_a_piece_without_changes_is_marked_throughout() -> None:
    assert Marked().rows(rounds(6, 2)).all()
    all_opening = type(rounds(6, 4))("t", rounds(6, 4).rows.copy(), opening=4)
    assert Marked().rows(all_opening).all()


@pytest.mark.parametrize("wrong", [{"free_rows": -1}, {"most_changes": 0}])
def test_impossible_switches_are_refused(wrong: dict[str, int]) -> None:
    with pytest.raises(InputError, match="must"):
        Marked(**wrong)


def test_rules_refuse_an_unknown_way_with_doubt_and_an_impossible_handstroke_gap() -> None:
    with pytest.raises(InputError, match="'guess' must be one of 'count', 'lower', 'leave out'"):
        CountingRules(doubtful="guess")  # type: ignore[arg-type]  # as a rules file might say
    with pytest.raises(InputError, match="closed"):
        CountingRules(handstroke_gap=-0.1)


def test_rules_have_sensible_defaults() -> None:
    rules = CountingRules()
    assert rules.scheme.half == Decimal("0.5")
    assert rules.handstroke_gap is None
    assert rules.doubtful == "count"
