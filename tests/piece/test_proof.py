"""Proof, and what a contest asks of the length of a piece."""

from collections.abc import Callable
from itertools import pairwise, permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from slow_ringing import is_true as slowly_true

from judging.piece import LengthRule, Piece, prove, read_rows, row_text, unmet

Read = Callable[[str], Piece]

FOUR = ["".join(str(bell) for bell in row) for row in permutations([1, 2, 3, 4])]


def _piece(changes: list[str]) -> Piece:
    return read_rows("\n".join(["1234", *changes]), name="four.txt")


def test_a_repeated_row_is_named_with_where_it_comes() -> None:
    proof = prove(_piece(["2143", "2413", "2143", "1234"]))
    assert not proof.true
    assert [(repeat.row, repeat.changes) for repeat in proof.repeats] == [("2143", (1, 3))]
    assert proof.sentences[0] == "4 changes, false: 2143 comes at changes 1 and 3."


@settings(max_examples=150, deadline=None)
@given(st.lists(st.sampled_from(FOUR), min_size=2, max_size=20))
def test_truth_agrees_with_looking_for_every_row_among_the_rest(changes: list[str]) -> None:
    """Up to the extent of 24, where every row may come once; rows that stay one row are held, so they are left out."""
    if changes[0] == "1234" or any(a == b for a, b in pairwise(changes)):
        return
    if len({row.index(bell) for row in ["1234", *changes] for bell in "4"}) == 1:
        return
    proof = prove(_piece(changes))
    moving = sum(len({row[place] for row in ["1234", *changes]}) > 1 for place in range(4))
    if len(changes) <= {2: 2, 3: 6, 4: 24}.get(moving, 1) and changes[-2:] != ["1234"] * 2:
        assert proof.true == slowly_true(changes)


def test_an_extent_rung_twice_may_have_every_row_twice_and_must(read: Read) -> None:
    twice = prove(read('method = "Plain Bob Minimus"\ncalling = "ppp"\nrepeat = 2'))
    assert (twice.changes, twice.allowed, twice.true) == (48, 2, True)
    lopsided = prove(_piece([*["2143", "2413"] * 23, "4231", "1234"]))
    assert not lopsided.true


def test_a_touch_longer_than_the_extent_must_leave_no_row_out() -> None:
    """Framework for Method Ringing: beyond an extent each row comes once, and some a second time."""
    changes = [*FOUR[1:23], *FOUR[1:4], "1234"]
    proof = prove(_piece(changes))
    assert (proof.changes, proof.allowed, proof.repeats, proof.true) == (26, 2, (), False)
    assert "some row left out" in proof.sentences[0]


def test_a_cover_does_not_count_towards_the_extent(read: Read) -> None:
    covered = prove(read('method = "Plain Bob Doubles"\ncover = "tenor"\ncalling = "pppb"\nrepeat = 6'))
    assert (covered.changes, covered.allowed, covered.true) == (240, 2, True)


def test_a_row_held_counts_once() -> None:
    held = prove(_piece(["2143", "2143", "2413", "2413", "4231", "4231"]))
    assert (held.held, held.true) == (True, True)
    again = prove(_piece(["2143", "2143", "2413", "2413", "2143", "2143"]))
    assert (again.held, again.true) == (True, False)
    assert again.sentences[0] == "6 changes; 2143 is called more than once, at changes 1 and 5."


def test_rows_are_held_where_all_but_the_last_come_twice_or_more() -> None:
    assert prove(_piece(["2143", "2143", "1234"])).held
    assert prove(_piece(["2143", "2143"])).held
    assert not prove(_piece(["2143"])).held
    assert not prove(_piece(["2143", "2413", "2413"])).held


def test_rounds_before_the_end_is_pointed_out() -> None:
    proof = prove(_piece(["2143", "1234", "2413", "1234"]))
    assert proof.early == 2
    assert "Comes into rounds at change 2, before the end." in proof.sentences


def test_bells_that_never_lead_are_named(read: Read) -> None:
    proof = prove(read('bells = 6\nrows = ["213456", "213546", "123456"]'))
    assert proof.never_lead == (3, 4, 5)
    assert "Not every bell but the tenor leads: 3, 4, 5 never do." in proof.sentences
    all_lead = prove(read('method = "Plain Bob Doubles"\ncover = "tenor"'))
    assert all_lead.every_bell_but_tenor_leads
    assert all_lead.leading_sentence == "Every bell but the tenor leads."


def test_a_bell_that_moves_two_places_is_pointed_out() -> None:
    proof = prove(_piece(["2143", "2431", "1234"]))
    assert proof.jumps == (2, 3)
    assert any("change 2 a bell moves more than one place" in sentence for sentence in proof.sentences)


def test_a_piece_of_rounds_is_true_and_comes_round() -> None:
    proof = prove(read_rows("1234\n" * 20, name="rounds.txt"))
    assert (proof.changes, proof.true, proof.comes_round, proof.early) == (20, True, True, None)


@pytest.mark.parametrize(
    ("rule", "lacking"),
    [
        (LengthRule(), ()),
        (LengthRule(least_changes=120, most_changes=120, true=True, comes_round=True), ()),
        (LengthRule(least_changes=224), ("120 changes are 104 short of the 224 asked for.",)),
        (LengthRule(most_changes=100), ("120 changes are 20 more than the 100 allowed.",)),
        (LengthRule(least_s=300), ("It lasts about 3 min 49 s; 5 min are asked for.",)),
        (LengthRule(least_s=200), ()),
        (LengthRule(every_bell_but_tenor_leads=True), ()),
    ],
)
def test_a_contest_says_what_it_misses_in_a_120(rule: LengthRule, lacking: tuple[str, ...], read: Read) -> None:
    """At a peal speed of 2 h 40 a row lasts 1.905 s and 120 rows 229 s (5,040 rows = 160 min)."""
    piece = read('method = "Plain Bob Doubles"\ncover = "tenor"\ncalling = "pppb"\nrepeat = 3')
    assert unmet(piece, rule, row_s=160 * 60 / 5040) == lacking


def test_a_rule_in_minutes_is_left_open_where_no_pace_is_known(read: Read) -> None:
    assert unmet(read('method = "Plain Bob Minor"'), LengthRule(least_s=10_000)) == ()


def test_a_contest_says_what_it_misses_in_a_false_touch_that_does_not_come_round(read: Read) -> None:
    piece = read('method = "Plain Bob Minor"\ncalling = "b"\nrepeat = 4')
    said = unmet(piece, LengthRule(true=True, comes_round=True, every_bell_but_tenor_leads=True))
    assert said[0].startswith("48 changes, false")
    assert said[1] == f"It does not come round: it ends on {row_text(piece.rows[-1])}."


def test_the_length_of_call_changes_is_left_open_until_they_are_rung(read: Read) -> None:
    free = read('bells = 4\ncalled = "up"\ncall_changes = ["1 to 2"]\nwhole_pulls_each = "until the next call"')
    said = unmet(free, LengthRule(least_changes=100, least_s=300, every_bell_but_tenor_leads=True), row_s=2.0)
    assert said == ("Not every bell but the tenor leads: 1, 3 never do.",)
