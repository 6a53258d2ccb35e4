import pytest

from judging.piece import piece_from_file, remarks

WRITTEN = "piece = 1\nbells = 6\nrows = {rows}\nrows_each = 2\n{more}"


def told(rows: str, more: str = "") -> tuple[str, ...]:
    return remarks(piece_from_file("p.toml", WRITTEN.format(rows=rows, more=more)))


def test_rounds_written_first_are_changes_and_this_is_said() -> None:
    (remark,) = told('["Rounds", "Queens", "Rounds"]')
    assert remark == (
        "Changes 1 to 2 are rounds, and marked like any other: if they are opening rounds, leave them out and say "
        "opening_rows = 2"
    )


def test_rounds_written_first_after_opening_rounds_are_said_too() -> None:
    (remark,) = told('["Rounds", "Queens", "Rounds"]', "opening_rows = 4\n")
    assert remark.endswith("if they are opening rounds, leave them out of its rows")


@pytest.mark.parametrize(
    ("rows", "more"), [('["Queens", "Rounds"]', "opening_rows = 4"), ('["Queens", "Rounds"]', ""), ('["Rounds"]', "")]
)
def test_pieces_as_they_are_usually_written_need_no_remark(rows: str, more: str) -> None:
    assert told(rows, more) == ()


def test_written_out_rows_have_their_opening_rounds_known() -> None:
    assert remarks(piece_from_file("p.txt", "123456\n123456\n214356\n123456\n")) == ()
