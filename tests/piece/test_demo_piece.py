"""The test piece of the demo contest."""

import hashlib
from pathlib import Path

from judging.piece import piece_from_file, prove, row_text

DEMO = Path(__file__).parents[2] / "demo_contest" / "pieces" / "plain-bob-doubles.toml"


def test_the_demo_piece_is_120_true_changes_between_eight_rows_of_rounds_and_two() -> None:
    piece = piece_from_file(DEMO.name, DEMO.read_text(encoding="utf-8"))
    proof = prove(piece)
    assert (piece.title, piece.bells, piece.opening, piece.closing) == ("120 Plain Bob Doubles", 6, 8, 2)
    assert (proof.changes, proof.true, proof.comes_round) == (120, True, True)
    assert len(piece.rows) == 130
    assert bool(piece.is_hand[8])


def test_the_tenor_covers_throughout_and_the_five_ring_the_known_120() -> None:
    """SHA-256 of the 120 called pppb three times, of two published lessons; computed with another program."""
    piece = piece_from_file(DEMO.name, DEMO.read_text(encoding="utf-8"))
    assert (piece.rows[:, 5] == 6).all()
    rows = "\n".join(row_text(row[:5]) for row in piece.rows[piece.is_change])
    assert hashlib.sha256(rows.encode()).hexdigest()[:12] == "86d19ef71f11"
