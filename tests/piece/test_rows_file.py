"""Written-out rows: what is opening, what is closing, and what a wrong line is told."""

import numpy as np
import pytest

from judging.errors import InputError
from judging.piece import read_rows, row_text

HUNT_ON_FOUR = ["2143", "2413", "4231", "4321", "3412", "3142", "1324", "1234"]


def _texts(rows: np.ndarray) -> list[str]:
    return [row_text(row) for row in rows]


def test_rounds_before_the_first_change_are_opening_and_rounds_after_the_return_are_closing() -> None:
    piece = read_rows("\n".join(["1234", "1234", *HUNT_ON_FOUR, "1234"]), name="hunt.txt")
    assert (piece.opening, piece.closing, piece.title) == (2, 1, "hunt")
    assert _texts(piece.rows[piece.is_change]) == HUNT_ON_FOUR


def test_a_single_row_of_rounds_is_already_opening() -> None:
    piece = read_rows("\n".join(["1234", *HUNT_ON_FOUR]), name="hunt.txt")
    assert (piece.opening, piece.closing) == (1, 0)


def test_rows_that_begin_with_the_first_change_have_no_opening() -> None:
    piece = read_rows("\n".join(HUNT_ON_FOUR), name="hunt.txt")
    assert (piece.opening, piece.closing) == (0, 0)
    assert piece.is_hand.tolist() == [True, False] * 4


def test_a_start_from_another_row_needs_two_of_it() -> None:
    assert read_rows("1324\n1324\n3142\n3412", name="queens.txt").opening == 2
    assert read_rows("1324\n3142\n3412", name="queens.txt").opening == 0


def test_where_every_row_is_the_same_every_row_is_a_change() -> None:
    piece = read_rows("1234\n" * 10, name="rounds.txt")
    assert (piece.opening, piece.closing, int(piece.is_change.sum())) == (0, 0, 10)


def test_blank_lines_comments_spaces_small_letters_and_line_ends_of_any_machine_are_allowed() -> None:
    text = "# six rows\r\n\r\n1 2 3 4 5 6 7 8 9 0 e t\r\n2143658709TE # the first change\r\n"
    assert _texts(read_rows(text, name="twelve.txt").rows) == ["1234567890ET", "2143658709TE"]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", r"^p\.txt: no rows: write one row a line"),
        ("# only words\n\n", r"^p\.txt: no rows"),
        pytest.param("1234\n" * 100_001, r"^p\.txt: 100,001 rows; the most a piece may have is 100,000", id="endless"),
        ("12\n21", r"^p\.txt, line 1: '12' has 2 bells; a row has from 3 to 16"),
        ("1234\n\n2134\n214", r"^p\.txt, line 4: '214' has 3 bells where 4 are expected: is a bell missing\?"),
        ("1234\n21433", r"^p\.txt, line 2: '21433' has 5 bells where 4 are expected: is a bell written twice"),
        ("1234\n2243", r"^p\.txt, line 2: '2243' has bell 2 twice but not bell 1"),
        ("1234\n2153", r"^p\.txt, line 2: '2153' has bell 5 but not bell 4"),
        ("1234\n21é3", r"^p\.txt, line 2: '21é3' is not a row: 'é' is no bell"),
        ("time_s,bell\n0.0,1", r"^p\.txt, line 1: 'time_s,bell' is not a row: 'i' is no bell"),
    ],
)
def test_a_line_that_is_no_row_is_named(text: str, message: str) -> None:
    with pytest.raises(InputError, match=message):
        read_rows(text, name="p.txt")
