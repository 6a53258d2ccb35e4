"""What should be rung: place notation, methods, calls, call changes and written rows → `Piece`."""

from judging.piece.piece import SYMBOLS, Label, Piece, Stroke
from judging.piece.piece_file import piece_from_file, read_piece
from judging.piece.proof import Proof, Repeat, prove
from judging.piece.rows import row_text
from judging.piece.rows_file import read_rows

__all__ = [
    "SYMBOLS",
    "Label",
    "Piece",
    "Proof",
    "Repeat",
    "Stroke",
    "piece_from_file",
    "prove",
    "read_piece",
    "read_rows",
    "row_text",
]
