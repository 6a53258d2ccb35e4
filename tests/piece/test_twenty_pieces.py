"""An organiser's twenty likely test pieces, as the rules of contests ask for them: each reads, proves and prints right.

Lengths and lead counts follow from the lead of each method (trade practice: 120 changes on six, 224 or 160 on eight,
168 of Triples, 200 and more on ten, five minutes of call changes, named rows of six rows each, a contest of rounds).
"""

from typing import NamedTuple

import pytest
from slow_ringing import is_true as slowly_true

from judging.piece import LengthRule, Proof, document, piece_from_file, prove, read_rows, rows_text, unmet, write_rows


class Wanted(NamedTuple):
    """One piece, and what is known of it beforehand."""

    bells: int
    changes: int
    title: str
    last: str
    text: str


OPENING = "opening_rows = 8\nclosing_rows = 2\n"

PIECES = {
    "a 120 of Doubles with a tenor covering": Wanted(
        6,
        120,
        "120 Plain Bob Doubles",
        "123456",
        f'{OPENING}method = "Plain Bob Doubles"\ncover = "tenor"\ncalling = "pppb"\nrepeat = 3',
    ),
    "a 120 of Grandsire Doubles": Wanted(
        6,
        120,
        "120 Grandsire Doubles",
        "123456",
        f'{OPENING}method = "Grandsire Doubles"\ncover = "tenor"\ncalling = "pbpbps"\nrepeat = 2',
    ),
    "a 120 of Stedman Doubles": Wanted(
        6,
        120,
        "120 Stedman Doubles",
        "123456",
        f'{OPENING}method = "Stedman Doubles"\ncover = "tenor"\ncalling = "ppppppppps"\nrepeat = 2',
    ),
    "a 120 of Bob Minor by positions": Wanted(
        6,
        120,
        "120 Plain Bob Minor",
        "123456",
        f'{OPENING}method = "Bob Minor"\ncalls_at = ["Wrong", "Home"]\nrepeat = 2',
    ),
    "a plain course of Kent": Wanted(6, 120, "120 Kent Treble Bob Minor", "123456", f'{OPENING}method = "Kent Minor"'),
    "a plain course of Cambridge Minor": Wanted(
        6, 120, "120 Cambridge Surprise Minor", "123456", f'{OPENING}method = "Cambridge Minor"'
    ),
    "a 240 of Doubles, each row twice": Wanted(
        5,
        240,
        "Two 120s of St Simon's",
        "12345",
        f'title = "Two 120s of St Simon\'s"\n{OPENING}method = "St Simon\'s Doubles"\ncalling = "pppb"\nrepeat = 6',
    ),
    "two methods spliced in a 120": Wanted(
        6,
        120,
        "120 St Simon's Bob Doubles and St Martin's Bob Doubles",
        "123456",
        f'{OPENING}cover = "tenor"\nrepeat = 3\n[[part]]\nmethod = "St Simon\'s Doubles"\ncalling = "pp"\n'
        '[[part]]\nmethod = "St Martin\'s Doubles"\ncalling = "bp"',
    ),
    "168 of Grandsire Triples": Wanted(
        8,
        168,
        "168 Grandsire Triples",
        "12345678",
        f'{OPENING}method = "Grandsire Triples"\ncover = "tenor"\ncalling = "bbpp"\nrepeat = 3',
    ),
    "168 of Stedman Triples": Wanted(
        8,
        168,
        "168 Stedman Triples",
        "12345678",
        f'{OPENING}method = "Stedman Triples"\ncover = "tenor"\ncalling = "ppppppppppppps"\nrepeat = 2',
    ),
    "224 of Plain Bob Major": Wanted(
        8,
        224,
        "224 Plain Bob Major",
        "12345678",
        f'{OPENING}method = "Bob Major"\ncalls_at = [{{single = "Home"}}]\nrepeat = 2',
    ),
    "a plain course of Yorkshire": Wanted(
        8, 224, "224 Yorkshire Surprise Major", "12345678", f'{OPENING}method = "Yorkshire Major"'
    ),
    "a method nobody knows by name": Wanted(
        8,
        224,
        "224 Somebody's Delight Major",
        "12345678",
        f'{OPENING}method = "Somebody\'s Delight Major"\nnotation = "x38x14x58x16x12x38x14x78,12"',
    ),
    "a course of Royal": Wanted(
        10, 360, "360 Cambridge Surprise Royal", "1234567890", f'{OPENING}method = "Cambridge Royal"'
    ),
    "a twelve-bell touch": Wanted(
        12,
        528,
        "528 Bristol Surprise Maximus",
        "1234567890ET",
        f'{OPENING}method = "Bristol Maximus"\nchanges = 528',
    ),
    "a start from Queens": Wanted(
        6, 60, "60 Plain Bob Minor", "135246", 'opening_rows = 6\nstart = "Queens"\nmethod = "Plain Bob Minor"'
    ),
    "Minor on the middle six of eight": Wanted(
        8, 60, "60 Plain Bob Minor", "12345678", f'{OPENING}bells = 8\nfixed = [1, 8]\nmethod = "Plain Bob Minor"'
    ),
    "rounds, Queens, Tittums, rounds": Wanted(
        8,
        13,
        "Rounds, Queens and Tittums",
        "12345678",
        'title = "Rounds, Queens and Tittums"\nbells = 8\nopening_rows = 6\nrows = ["Queens", "Tittums", "Rounds"]\n'
        "whole_pulls_each = 3",
    ),
    "call changes with lengths": Wanted(
        6,
        41,
        "Call changes",
        "123456",
        f'{OPENING}bells = 6\ncalled = "up"\nwhole_pulls_each = 4\n'
        'call_changes = ["2 to 3", "4 to 5", ["1 to 3", "2 to 5"], ["3 to 1", "5 to 2"], "3 to 2", "5 to 4"]',
    ),
    "call changes until the next call": Wanted(
        6,
        20,
        "Twenty all over",
        "123456",
        'title = "Twenty all over"\nbells = 6\ncalled = "up"\nwhole_pulls_each = "until the next call"\n'
        "call_changes = ["
        + ", ".join(f'"{moved} to {(moved + step - 1) % 5 + 1}"' for moved in range(1, 6) for step in range(1, 5))
        + "]",
    ),
    "a contest of rounds": Wanted(
        6, 40, "Rounds", "123456", 'title = "Rounds"\nbells = 6\nopening_rows = 20\nrows = ["rounds"]\nrows_each = 40'
    ),
}


def _proof(wanted: Wanted) -> Proof:
    return prove(piece_from_file("piece.toml", f"piece = 1\n{wanted.text}"))


@pytest.mark.parametrize("name", PIECES)
def test_a_likely_piece_reads_as_it_is_meant(name: str) -> None:
    wanted = PIECES[name]
    piece = piece_from_file("piece.toml", f"piece = 1\n{wanted.text}")
    told = document(piece)
    assert (told["title"], told["bells"], told["changes"]) == (wanted.title, wanted.bells, wanted.changes)
    assert told["truth"]["ends_on"] == ["1234567890ETABCD".index(symbol) + 1 for symbol in wanted.last]
    assert told["truth"]["comes_round"]


@pytest.mark.parametrize("name", [name for name in PIECES if "rounds" not in name and "lengths" not in name])
def test_a_likely_piece_is_true(name: str) -> None:
    wanted = PIECES[name]
    proof = _proof(wanted)
    piece = piece_from_file("piece.toml", f"piece = 1\n{wanted.text}")
    assert proof.true
    if proof.allowed == 1:
        assert slowly_true(rows_text(piece.rows[piece.is_change]))


@pytest.mark.parametrize("name", PIECES)
def test_a_likely_piece_prints_and_its_rows_read_back(name: str) -> None:
    piece = piece_from_file("piece.toml", f"piece = 1\n{PIECES[name].text}")
    again = read_rows(write_rows(piece), name="piece.txt")
    assert rows_text(again.rows) == rows_text(piece.rows)


def test_call_changes_that_must_let_every_bell_lead_are_held_to_it() -> None:
    rule = LengthRule(every_bell_but_tenor_leads=True)
    lacking = PIECES["call changes with lengths"]
    assert unmet(piece_from_file("p.toml", f"piece = 1\n{lacking.text}"), rule) == (
        "Not every bell but the tenor leads: 2, 4, 5 never do.",
    )
    enough = PIECES["call changes until the next call"]
    assert unmet(piece_from_file("p.toml", f"piece = 1\n{enough.text}"), rule) == ()


def test_there_are_twenty_at_least() -> None:
    assert len(PIECES) >= 20
