"""Call changes and written rows."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from piece_facts import EIGHT_AND_FORTY, EIGHT_AND_FORTY_SHA256_12, SIXTY_ON_THIRDS, sha256_12

from judging.errors import InputError
from judging.piece import (
    Piece,
    after_call,
    prove,
    read_rows,
    rounds,
    row_text,
    rows_text,
    with_lengths,
    without_lengths,
)

Read = Callable[[str], Piece]

UP = ", ".join(f'"{call}"' for call, _ in SIXTY_ON_THIRDS)
UNTIL_CALLED = 'whole_pulls_each = "until the next call"'


def test_the_published_calls_of_sixty_on_thirds_make_the_published_rows(read: Read) -> None:
    piece = read(f'bells = 6\ncalled = "up"\ncall_changes = [{UP}]\n{UNTIL_CALLED}')
    assert rows_text(piece.rows)[1:] == [row for _, row in SIXTY_ON_THIRDS]
    assert piece.free_lengths
    assert (piece.opening, piece.closing) == (1, 0)
    called = [label.text for label in piece.labels if label.kind == "call"]
    assert called == [call for call, _ in SIXTY_ON_THIRDS]


def test_rows_that_have_names_are_named_as_they_are_called(read: Read) -> None:
    piece = read(f'bells = 6\ncalled = "up"\ncall_changes = [{UP}]\n{UNTIL_CALLED}')
    named = {label.text: row_text(piece.rows[label.row]) for label in piece.labels if label.kind == "named row"}
    assert named == {"Queens": "135246", "Princes": "532146", "Kings": "531246"}


def test_the_same_rows_called_down_name_the_other_bell(read: Read) -> None:
    """As a published glossary of calls has it: up, "2 to 3" is the same swap as "3 to 1" down."""
    up = read('bells = 6\ncalled = "up"\ncall_changes = ["2 to 3", "1 to 3"]\nwhole_pulls_each = 2')
    down = read('bells = 6\ncalled = "down"\ncall_changes = ["3 to 1", "3 to lead"]\nwhole_pulls_each = 2')
    assert (up.rows == down.rows).all()


@settings(max_examples=60, deadline=None)
@given(st.permutations(range(1, 9)), st.integers(0, 6))
def test_every_swap_of_neighbours_can_be_called_up_and_called_down(order: list[int], front: int) -> None:
    row = np.array(order, dtype=np.int8)
    swapped = row.copy()
    swapped[[front, front + 1]] = row[[front + 1, front]]
    before = str(row[front - 1]) if front else "lead"
    assert (after_call(row, (f"{row[front]} to {row[front + 1]}",), up=True, where="call") == swapped).all()
    assert (after_call(row, (f"{row[front + 1]} to {before}",), up=False, where="call") == swapped).all()


def test_several_calls_may_be_made_at_once(read: Read) -> None:
    piece = read('bells = 6\ncalled = "up"\ncall_changes = [["1 to 2", "3 to 4", "5 to 6"]]\nrows_each = 2')
    assert rows_text(piece.rows) == ["214365", "214365"]
    backwards = read('bells = 6\ncalled = "up"\ncall_changes = [["5 to 6", "3 to 4", "1 to 2"]]\nrows_each = 2')
    assert (backwards.rows == piece.rows).all()


def test_bells_of_two_figures_are_called_by_their_numbers(read: Read) -> None:
    piece = read('bells = 12\ncalled = "up"\ncall_changes = ["10 to 11"]\nrows_each = 2')
    assert rows_text(piece.rows)[0] == "123456789E0T"


def test_the_treble_and_the_tenor_may_be_called_by_name(read: Read) -> None:
    piece = read('bells = 4\ncalled = "up"\ncall_changes = ["Treble to 2", "3 to tenor"]\nrows_each = 1')
    assert rows_text(piece.rows) == ["2134", "2143"]


def test_each_row_is_held_for_the_whole_pulls_that_are_said(read: Read) -> None:
    piece = read(f'bells = 6\ncalled = "up"\ncall_changes = [{UP}]\nwhole_pulls_each = 3\nopening_rows = 8')
    assert len(piece.rows) == 8 + 23 * 6
    assert not piece.free_lengths
    assert prove(piece).held
    assert prove(piece).true


def test_rounds_held_at_the_end_is_one_change_and_then_closing(read: Read) -> None:
    piece = read(
        'bells = 6\ncalled = "up"\ncall_changes = ["2 to 3", "3 to 2"]\nwhole_pulls_each = 4\nclosing_rows = 2'
    )
    assert (int(piece.is_change.sum()), piece.closing) == (9, 7 + 2)
    assert prove(piece).comes_round


def test_a_piece_of_free_lengths_takes_the_lengths_it_was_rung_with_and_gives_them_back(read: Read) -> None:
    free = read(f'bells = 6\ncalled = "up"\ncall_changes = ["2 to 3", "3 to 2"]\n{UNTIL_CALLED}')
    rung = with_lengths(free, [8, 4, 6])
    assert rows_text(rung.rows) == ["123456"] * 8 + ["132456"] * 4 + ["123456"] * 6
    assert (rung.opening, rung.closing, rung.free_lengths) == (8, 5, False)
    assert [(label.row, label.text) for label in rung.labels if label.kind == "call"] == [(8, "2 to 3"), (12, "3 to 2")]
    again = without_lengths(rung)
    assert (again.rows == free.rows).all()
    assert again.labels == free.labels
    assert without_lengths(again) is again
    assert (again.opening, again.closing, again.free_lengths) == (free.opening, free.closing, True)


def test_a_row_that_was_left_out_has_no_rows_and_no_words(read: Read) -> None:
    free = read(f'bells = 6\ncalled = "up"\ncall_changes = ["2 to 3", "4 to 5", "2 to 5"]\n{UNTIL_CALLED}')
    rung = with_lengths(free, [4, 2, 0, 2])
    assert rows_text(rung.rows) == ["123456"] * 4 + ["132456"] * 2 + ["135246"] * 2
    assert [label.text for label in rung.labels if label.kind == "call"] == ["2 to 3", "2 to 5"]


def test_rows_after_the_last_change_stay_closing_whatever_their_lengths(read: Read) -> None:
    free = read(f'bells = 6\nrows = ["Queens", "Rounds", "Rounds"]\n{UNTIL_CALLED}')
    rung = with_lengths(replace(free, closing=1), [2, 4, 2, 6])
    assert (rung.opening, rung.closing, int(rung.is_change.sum())) == (2, 7, 5)


def test_lengths_must_be_one_for_each_row(read: Read) -> None:
    free = read(f'bells = 6\ncalled = "up"\ncall_changes = ["2 to 3"]\n{UNTIL_CALLED}')
    with pytest.raises(InputError, match="1 lengths for 2 rows"):
        with_lengths(free, [8])
    with pytest.raises(InputError, match="2 lengths for 2 rows: give one, 0 or more, for each"):
        with_lengths(free, [0, 0])
    with pytest.raises(InputError, match="have their lengths already"):
        with_lengths(with_lengths(free, [8, 2]), [1] * 10)


def test_the_eight_and_forty_of_1668_are_true_single_swaps(read: Read) -> None:
    rows = EIGHT_AND_FORTY.split()
    assert sha256_12(rows[1:]) == EIGHT_AND_FORTY_SHA256_12
    piece = read_rows("\n".join(rows), name="eight-and-forty.txt")
    proof = prove(piece)
    assert (proof.changes, proof.true, proof.comes_round, proof.jumps) == (48, True, True, ())
    assert set(proof.never_lead) == {4}
    assert (np.sort((piece.rows[1:] != piece.rows[:-1]).sum(axis=1)) == 2).all()
    last = set(piece.rows[piece.is_change][:-1, 4].tolist())
    assert last.isdisjoint({1, 2})
    in_keys = ", ".join(f'"{row}"' for row in rows[1:])
    assert (read(f"rows = [{in_keys}]\nopening_rows = 1").rows == piece.rows).all()


def test_twenty_all_over_on_five_leads_each_bell_to_the_back_in_twenty_true_rows(read: Read) -> None:
    """Value from memory: each bell in turn is called from the lead to behind, back to rounds at the end."""
    row, calls = list(range(1, 6)), []
    for bell in range(1, 6):
        calls += [f"{bell} to {behind}" for behind in row[1:]]
        row = [*row[1:], bell]
    assert row == [1, 2, 3, 4, 5]
    written = ", ".join(f'"{call}"' for call in calls)
    piece = read(f'bells = 5\ncalled = "up"\ncall_changes = [{written}]\n{UNTIL_CALLED}')
    proof = prove(piece)
    assert (proof.changes, proof.true, proof.comes_round, proof.never_lead) == (20, True, True, ())


def _plain_changes(bells: int) -> list[list[int]]:
    """Plain changes as of old: the treble hunts through each row of the bells behind it, which do the same."""
    if bells == 1:
        return [[1]]
    rows: list[list[int]] = []
    for number, others in enumerate(_plain_changes(bells - 1)):
        above = [bell + 1 for bell in others]
        hunt = [[*above[:place], 1, *above[place:]] for place in range(bells)]
        rows += hunt if number % 2 == 0 else hunt[::-1]
    return rows


def test_plain_changes_on_five_are_the_extent_by_single_swaps() -> None:
    rows = _plain_changes(5)
    piece = read_rows("\n".join(row_text(row) for row in [*rows, rows[0]]), name="plain-changes.txt")
    proof = prove(piece)
    assert (proof.changes, proof.true, proof.comes_round, proof.jumps) == (120, True, True, ())
    assert ((piece.rows[1:-1] != piece.rows[:-2]).sum(axis=1) == 2).all()


def test_named_rows_are_held_in_order(read: Read) -> None:
    """A novice contest's test piece: Rounds, Queens, Tittums, Rounds, six rows each."""
    piece = read('bells = 6\nrows = ["Queens", "Tittums", "Rounds"]\nwhole_pulls_each = 3\nopening_rows = 6')
    assert piece.title == "Written rows"
    assert rows_text(piece.rows[piece.is_change]) == ["135246"] * 6 + ["142536"] * 6 + ["123456"]
    assert [(piece.change_of(label.row), label.text) for label in piece.labels] == [
        (1, "Queens"),
        (7, "Tittums"),
        (13, "Rounds"),
    ]


def test_a_contest_of_rounds_is_a_piece_of_rounds(read: Read) -> None:
    piece = read('bells = 6\nrows = ["rounds"]\nrows_each = 40\nopening_rows = 20')
    assert (piece.rows == rounds(6)).all()
    assert (int(piece.is_change.sum()), piece.opening, piece.closing) == (40, 20, 0)


def test_call_changes_and_a_method_may_follow_each_other(read: Read) -> None:
    piece = read(
        'bells = 6\n[[part]]\ncalled = "up"\ncall_changes = ["2 to 3", "3 to 2"]\nwhole_pulls_each = 1\n'
        '[[part]]\nmethod = "Plain Bob Minor"'
    )
    assert int(piece.is_change.sum()) == 4 + 60
    assert prove(piece).comes_round


@pytest.mark.parametrize(
    ("call", "direction", "message"),
    [
        ("2 to 5", "up", r"'2 to 5' cannot be called up here: 2 is in 2nds, 5 in 5ths, and up it .* '2 to 3'"),
        ("2 to 5", "down", r"cannot be called down here: .*, and down it can only be called '2 to lead'"),
        ("4 to 2", "up", r"'4 to 2' cannot be called up here: .*; are the calls called down\?"),
        ("2 to 3", "down", r"; are the calls called up\?"),
        ("6 to 1", "up", r"and up it can only be called 'nothing, for 6 is last'"),
        ("1 to 4", "down", r"1 is in lead.*it cannot move down any further"),
        ("4 to 1", "down", r"4 is in 4ths, 1 in lead, and down it can only be called '4 to 2'"),
        ("2 to 777", "up", r"names '777'; the bells here are 1 to 6"),
        ("2 to 7", "up", r"'2 to 7' names '7'; the bells here are 1 to 6"),
        ("swap 2 and 3", "up", r"'swap 2 and 3' is no call: write it as \"2 to 3\""),
    ],
)
def test_a_call_that_cannot_be_made_says_what_could_be(call: str, direction: str, message: str, read: Read) -> None:
    with pytest.raises(InputError, match=r"^p\.toml, call_changes, call 1: .*" + message):
        read(f'bells = 6\ncalled = "{direction}"\ncall_changes = ["{call}"]\nrows_each = 2')


def test_one_bell_cannot_be_called_twice_at_once(read: Read) -> None:
    with pytest.raises(InputError, match="'1 to 2 and 2 to 3' moves one bell twice at once"):
        read('bells = 6\ncalled = "up"\ncall_changes = [["1 to 2", "2 to 3"]]\nrows_each = 2')
