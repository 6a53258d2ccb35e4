"""Piece → file: plain keys with the rows written out, or the rows alone. What is written reads as the same piece."""

import json

import numpy as np

from judging.errors import InputError
from judging.piece.parts import UNTIL_CALLED
from judging.piece.piece import Piece
from judging.piece.piece_file import VERSION
from judging.piece.rows import row_text, rows_text


def write_rows(piece: Piece) -> str:
    """Rows of a piece, one a line, with calls and other words behind a ``#``.

    Parameters
    ----------
    piece : Piece
        The piece.

    Returns
    -------
    str
        A ``.txt`` piece. `read_rows` finds the same rows in it, and the same opening and closing where the piece opens
        with rounds and closes with no row but rounds; title, labels and strokes are not in it.
    """
    words: dict[int, list[str]] = {}
    for label in piece.labels:
        words.setdefault(label.row, []).append(label.text if label.kind != "lead head" else "lead head")
    lines = [
        f"{row}  # {', '.join(' '.join(word.split()) for word in words[at])}" if at in words else row
        for at, row in enumerate(rows_text(piece.rows))
    ]
    return "\n".join(lines) + "\n"


def write_piece(piece: Piece) -> str:
    """Piece in plain keys, its rows written out.

    Parameters
    ----------
    piece : Piece
        The piece, as a reader of this room makes it: the opening rows all the same, the closing rows as the last
        change.

    Returns
    -------
    str
        A ``.toml`` piece that `read_piece` reads as the same piece.

    Raises
    ------
    InputError
        Where opening or closing rows differ among themselves, or a label stands beside one of them.
    """
    _check_ends(piece)
    changes = piece.rows[piece.is_change]
    keys = [f"piece = {VERSION}", f"title = {_text(piece.title)}", f"bells = {piece.bells}"]
    if piece.opening:
        keys.append(f"start = {_text(row_text(piece.rows[0]))}")
    if piece.free_lengths:
        keys.append(f"whole_pulls_each = {_text(UNTIL_CALLED)}")
    else:
        keys += [f"opening_rows = {piece.opening}", f"closing_rows = {piece.closing}"]
    keys.append(f"first_stroke = {_text(piece.first_change_stroke)}")
    written = ",\n".join(f"    {_text(row)}" for row in rows_text(changes))
    keys.append(f"rows = [\n{written},\n]")
    if piece.labels:
        labels = ",\n".join(
            f"    {{change = {piece.change_of(label.row)}, kind = {_text(label.kind)}, text = {_text(label.text)}}}"
            for label in piece.labels
        )
        keys.append(f"labels = [\n{labels},\n]")
    return "\n".join(keys) + "\n"


def _text(text: str) -> str:
    """Text as TOML has it: as JSON, but that the last control character is written as its number too."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _check_ends(piece: Piece) -> None:
    opening, closing = piece.rows[: piece.opening], piece.rows[len(piece.rows) - piece.closing :]
    last_change = piece.rows[len(piece.rows) - piece.closing - 1]
    if not (np.all(opening == opening[:1]) and np.all(closing == last_change)):
        raise InputError(
            piece.title, "its opening or closing rows differ among themselves: write its rows alone (.txt)"
        )
    for label in piece.labels:
        if not piece.is_change[label.row]:
            raise InputError(piece.title, f"{label.text!r} stands beside row {label.row}, which is no change")
