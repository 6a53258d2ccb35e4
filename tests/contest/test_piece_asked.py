"""Test pieces against what the rules declare, and judges' faults against the changes that the piece has."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from judging.contest import check_pieces, describe, lacking, read_rules, read_sheets
from judging.errors import InputError
from judging.marks.values import Sheet
from judging.piece import Piece, piece_from_file

#: Plain Bob Minor: a lead has 12 changes, the plain course 60 and comes round (trade.md §4).
COURSE = 'piece = 1\nmethod = "Plain Bob Minor"\nopening_rows = 4\nclosing_rows = 2\nrepeat = {}\n'
CALLS = """
piece = 1
bells = 6
called = "up"
whole_pulls_each = "until the next call"
call_changes = ["2 to 3", "3 to 2"]
"""


def course(times: int = 1) -> Piece:
    return piece_from_file("minor.toml", COURSE.format(times))


def rules(section: str) -> str:
    return f'rules = 1\ntitle = "A contest"\n[[section]]\nname = "Method"\npiece = "minor"\n{section}\n'


@pytest.mark.parametrize(
    ("section", "says"),
    [
        ("changes = 120", r'section "Method", changes: 120 are declared, but the piece minor \(.*\) has 60: is it'),
        ("least_changes = 61", "60 changes are 1 short of the 61 asked for"),
        ("most_changes = 59", "60 changes are 1 more than the 59 allowed"),
    ],
)
def test_a_piece_that_is_not_what_the_rules_ask_is_refused(section: str, says: str) -> None:
    with pytest.raises(InputError, match=f"rules.toml, .*{says}"):
        check_pieces(read_rules(rules(section), name="rules.toml"), {"minor": course()}, name="rules.toml")


@pytest.mark.parametrize(
    "section",
    [
        "changes = 60",
        "least_changes = 60\nmost_changes = 60",
        "piece_is_true = true\npiece_comes_round = true\nevery_bell_leads = true",
    ],
)
def test_a_piece_that_is_what_they_ask_is_taken(section: str) -> None:
    assert list(lacking(read_rules(rules(section), name="rules.toml"), {"minor": course()})) == []


def test_truth_and_leading_are_asked_of_the_rows_themselves() -> None:
    asked = read_rules(rules("piece_is_true = true\nevery_bell_leads = true"), name="rules.toml")
    ((where, problem),) = lacking(asked, {"minor": piece_from_file("minor.txt", "123456\n213456\n123456\n213456\n")})
    assert where == 'section "Method"'
    assert "not what the rules ask" in problem
    assert "lead" in problem


def test_a_length_that_nobody_knows_beforehand_is_not_asked_for() -> None:
    asked = read_rules(rules("changes = 120\nleast_changes = 80"), name="rules.toml")
    assert list(lacking(asked, {"minor": piece_from_file("minor.toml", CALLS)})) == []


def test_limits_that_contradict_each_other_are_refused() -> None:
    with pytest.raises(InputError, match="most_changes: 80 is less than least_changes, 120"):
        read_rules(rules("least_changes = 120\nmost_changes = 80"), name="rules.toml")


def test_what_is_asked_is_said_in_one_sentence() -> None:
    asked = read_rules(rules("least_changes = 120\npiece_is_true = true\nevery_bell_leads = true"), name="rules.toml")
    assert (
        "The test piece of Method has at least 120 changes, repeats no row and lets every bell but the tenor lead."
    ) in [sentence for _, sentence in describe(asked)]


def keyed(change: int, piece: Piece) -> tuple[Sheet, ...]:
    return read_sheets(f"entry,change,faults\na,{change},1\n", name="one.csv", judge="one", pieces={"a": piece})


@given(change=st.integers(1, 200))
def test_a_fault_may_be_keyed_up_to_the_last_row_and_no_further(change: int) -> None:
    piece = course()
    if change <= len(piece.rows) - piece.opening:
        assert keyed(change, piece)[0].taps[0].change == change
    else:
        with pytest.raises(InputError, match=rf"one\.csv, line 2, change: {change} is beyond the piece, .*change 62"):
            keyed(change, piece)


def test_call_changes_of_unknown_length_have_no_last_change() -> None:
    assert keyed(5000, piece_from_file("calls.toml", CALLS))
