"""What is written reads as the same piece; the document for machines; the drawing of the bells' paths."""

import json
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.errors import InputError
from judging.piece import (
    Label,
    Piece,
    document,
    drawing,
    read_piece,
    read_rows,
    row_text,
    rows_text,
    write_piece,
    write_rows,
)

Read = Callable[[str], Piece]

TOUCH = (
    'method = "Plain Bob Doubles"\ncover = "tenor"\ncalling = "pppb"\nrepeat = 3\nopening_rows = 8\nclosing_rows = 2'
)
KEYS = [
    TOUCH,
    'method = "Plain Bob Minor"',
    'method = "Grandsire Triples"\ncalling = "bbpp"\nrepeat = 3\nfirst_stroke = "back"\nopening_rows = 3',
    'start = "Queens"\nmethod = "Plain Bob Minor"\nopening_rows = 6\nclosing_rows = 2',
    'bells = 6\ncalled = "up"\ncall_changes = ["2 to 3", "3 to 2"]\nwhole_pulls_each = 2\nopening_rows = 4',
    'bells = 6\ncalled = "down"\ncall_changes = ["3 to 1"]\nwhole_pulls_each = "until the next call"',
    'bells = 8\nrows = ["Queens", "Tittums", "Rounds"]\nwhole_pulls_each = 3\nopening_rows = 6',
    'bells = 6\nrows = ["rounds"]\nrows_each = 30\nopening_rows = 20',
    'title = "Odd \\"words\\" \\\\ and \\u007f ☧"\nbells = 16\nrows = ["Back rounds"]',
]


def _same(one: Piece, other: Piece) -> bool:
    return bool(np.array_equal(one.rows, other.rows)) and replace(one, rows=other.rows) == other


@pytest.mark.parametrize("keys", KEYS)
def test_a_piece_written_in_keys_reads_as_the_same_piece(keys: str, read: Read) -> None:
    piece = read(keys)
    assert _same(read_piece(write_piece(piece), name="p.toml"), piece)


@pytest.mark.parametrize("keys", [keys for keys in KEYS if "opening_rows" in keys and "rounds" not in keys])
def test_a_piece_written_as_rows_has_the_same_rows_opening_and_closing(keys: str, read: Read) -> None:
    piece = read(keys)
    again = read_rows(write_rows(piece), name="p.txt")
    assert np.array_equal(again.rows, piece.rows)
    assert again.opening == piece.opening
    assert again.closing == (0 if "Queens" in keys and "start" in keys else piece.closing)


def test_calls_stand_beside_the_rows_that_are_written(read: Read) -> None:
    lines = write_rows(read(TOUCH)).splitlines()
    assert lines[0] == "123456"
    assert lines[17] == "135246  # lead head"
    assert lines[47] == "142356  # bob, lead head, part 1"


_ROWS = st.integers(3, 16).flatmap(
    lambda bells: st.lists(st.permutations(range(1, bells + 1)), min_size=1, max_size=12).map(
        lambda rows: "\n".join(row_text(row) for row in rows)
    )
)


@settings(max_examples=100, deadline=None)
@given(_ROWS)
def test_any_rows_written_either_way_read_as_the_same_piece(text: str) -> None:
    piece = read_rows(text, name="p.txt")
    assert _same(read_rows(write_rows(piece), name="p.txt"), piece)
    assert _same(read_piece(write_piece(piece), name="p.toml"), piece)


def test_a_piece_whose_opening_differs_cannot_be_written_in_keys(read: Read) -> None:
    piece = read(TOUCH)
    with pytest.raises(InputError, match="its opening or closing rows differ"):
        write_piece(replace(piece, opening=9))
    with pytest.raises(InputError, match="its opening or closing rows differ"):
        write_piece(replace(piece, closing=3))
    with pytest.raises(InputError, match="'look to' stands beside row 0, which is no change"):
        write_piece(replace(piece, labels=(Label(0, "call", "look to"),)))


def test_the_document_has_rows_calls_lead_heads_and_truth(read: Read) -> None:
    told = json.loads(json.dumps(document(read(TOUCH))))
    assert (told["title"], told["bells"], told["opening"], told["closing"]) == ("120 Plain Bob Doubles", 6, 8, 2)
    assert told["changes"] == 120
    assert len(told["rows"]) == 130
    assert told["rows"][8] == [2, 1, 4, 3, 5, 6]
    assert told["calls"][0] == {"row": 47, "change": 40, "text": "bob"}
    assert told["lead_heads"][0] == {"row": 17, "change": 10, "bells": [1, 3, 5, 2, 4, 6]}
    assert [part["change"] for part in told["part_ends"]] == [40, 80, 120]
    assert told["named_rows"] == []
    assert told["truth"]["true"] is True
    assert told["truth"]["comes_round"] is True
    assert told["truth"]["every_bell_but_tenor_leads"] is True
    assert told["truth"]["ends_on"] == [1, 2, 3, 4, 5, 6]
    assert told["truth"]["sentences"] == ["120 changes, true."]


def test_a_bell_is_a_number_throughout_the_document(read: Read) -> None:
    """Symbols such as 0, E and T are for rows on paper; a program reads 10, 11 and 12."""
    told = document(read("bells = 12\nrows = ['Rounds', 'Queens', 'Rounds', 'Queens']\nrows_each = 1\n"))
    queens = [1, 3, 5, 7, 9, 11, 2, 4, 6, 8, 10, 12]
    assert told["rows"][1] == queens
    assert told["truth"]["ends_on"] == queens
    assert {"bells": queens, "changes": [2, 4]} in told["truth"]["repeated"]


def test_the_document_of_a_false_touch_names_the_rows(read: Read) -> None:
    truth = document(read('method = "Grandsire Doubles"\ncalling = "ppbppbppb"'))["truth"]
    assert truth["true"] is False
    assert len(truth["repeated"]) == 30
    assert len(truth["repeated"][0]["changes"]) == 2


def test_each_bells_path_is_its_place_in_every_row(read: Read) -> None:
    piece = read(TOUCH)
    drawn = drawing(piece)
    assert len(drawn.paths) == 6
    for path in drawn.paths:
        assert [row[place - 1] for row, place in zip(drawn.rows, path.places, strict=True)] == [str(path.bell)] * 130
    assert list(drawn.rows) == rows_text(piece.rows)
    assert (drawn.first_change, drawn.last_change, drawn.hand[8]) == (8, 127, True)


def test_lines_drawn_from_corner_to_corner_pass_through_every_place(read: Read) -> None:
    for path in drawing(read(TOUCH)).paths:
        rows = [row for row, _ in path.corners]
        between = np.interp(np.arange(130), rows, [place for _, place in path.corners])
        assert np.allclose(between, path.places)
        assert len(rows) == len(set(rows))


def test_the_treble_and_one_chosen_bell_stand_out_and_are_drawn_last(read: Read) -> None:
    piece = read(TOUCH)
    assert [(path.bell, path.emphasis) for path in drawing(piece, chosen=2).paths][-2:] == [
        (1, "treble"),
        (2, "chosen"),
    ]
    assert drawing(piece).paths[-1].bell == 5
    assert drawing(piece, chosen=6).paths[-1].bell == 6
    assert [path.emphasis for path in drawing(piece, chosen=1).paths].count("chosen") == 1


def test_a_line_is_ruled_below_every_lead_end_and_before_the_first_change(read: Read) -> None:
    drawn = drawing(read(TOUCH))
    assert drawn.ruled_below == (7, *range(16, 128, 10))
    assert drawn.words[0] == (47, "bob, part 1")
    assert drawing(read('bells = 6\nnotation = "x"')).ruled_below == (0,)


def test_rounds_can_be_drawn_too(read: Read) -> None:
    drawn = drawing(read('bells = 4\nrows = ["rounds"]'))
    assert [path.corners for path in drawn.paths] == [((0, 2),), ((0, 3),), ((0, 1),), ((0, 4),)]


def test_a_bell_that_does_not_ring_cannot_be_followed(read: Read) -> None:
    with pytest.raises(InputError, match="bell: 7 does not ring in 120 Plain Bob Doubles; its bells are 1 to 6"):
        drawing(read(TOUCH), chosen=7)
