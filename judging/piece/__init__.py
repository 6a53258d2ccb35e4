"""What should be rung: place notation, methods, calls, call changes and written rows → `Piece`.

The flow::

    text ─ piece_file, keys, parts ─▶ parts ─ lead, touch, positions, called_rows ─▶ ringing ─▶ Piece
    text ─ rows_file ──────────────────────────────────────────────────────────────────────────▶ Piece
    Piece ─▶ proof, lengths, document, paths, writing
"""

from judging.piece.called_rows import after_call
from judging.piece.document import document
from judging.piece.known_methods import METHODS, method_named
from judging.piece.lengths import LengthRule, unmet, with_lengths, without_lengths
from judging.piece.methods import STAGES, Call, Method
from judging.piece.named_rows import NAMES, name_of, named_row, row_said
from judging.piece.notation import read_notation
from judging.piece.parts import PART_KEYS
from judging.piece.paths import BellPath, Drawing, drawing
from judging.piece.piece import SYMBOLS, Label, Piece, Stroke
from judging.piece.piece_file import PIECE_KEYS, begins_with_a_row, piece_from_file, read_piece
from judging.piece.proof import Proof, Repeat, prove
from judging.piece.remarks import remarks
from judging.piece.rows import FEWEST_BELLS, MOST_BELLS, MOST_CHANGES, read_row, rounds, row_text, rows_text
from judging.piece.rows_file import read_rows
from judging.piece.writing import write_piece, write_rows

__all__ = [
    "FEWEST_BELLS",
    "METHODS",
    "MOST_BELLS",
    "MOST_CHANGES",
    "NAMES",
    "PART_KEYS",
    "PIECE_KEYS",
    "STAGES",
    "SYMBOLS",
    "BellPath",
    "Call",
    "Drawing",
    "Label",
    "LengthRule",
    "Method",
    "Piece",
    "Proof",
    "Repeat",
    "Stroke",
    "after_call",
    "begins_with_a_row",
    "document",
    "drawing",
    "method_named",
    "name_of",
    "named_row",
    "piece_from_file",
    "prove",
    "read_notation",
    "read_piece",
    "read_row",
    "read_rows",
    "remarks",
    "rounds",
    "row_said",
    "row_text",
    "rows_text",
    "unmet",
    "with_lengths",
    "without_lengths",
    "write_piece",
    "write_rows",
]
