"""Written-out rows (``.txt``) → piece: one row a line, blank lines and ``#`` comments allowed."""

from pathlib import PurePath

import numpy as np
from numpy.typing import NDArray

from judging.errors import InputError
from judging.piece.piece import SYMBOLS, Piece
from judging.piece.rows import MOST_CHANGES, read_row, rounds, tidy

_BELL_OF_BYTE = np.zeros(256, dtype=np.int8)
_BELL_OF_BYTE[list(SYMBOLS.encode("ascii"))] = np.arange(1, len(SYMBOLS) + 1)


def read_rows(text: str, *, name: str) -> Piece:
    """Piece written out row by row.

    Leading rows equal to the first are the opening: one is enough where it is rounds, two where it is another row.
    Where every row is the same there is no opening, and every row is a row of the piece. Rounds at the end, after the
    row that returns to them, are the closing.

    Parameters
    ----------
    text : str
        The file's text.
    name : str
        Its name, for the title and for messages.

    Returns
    -------
    Piece
        Titled by the name without its ending; the first change is a handstroke.

    Raises
    ------
    InputError
        Where there is no row, or a line is not a row of the same bells as the first; the line is named.
    """
    lines = [(number, line.partition("#")[0].strip()) for number, line in enumerate(text.split("\n"), start=1)]
    lines = [(number, line) for number, line in lines if tidy(line)]
    if not lines:
        raise InputError(name, "no rows: write one row a line, such as 213456")
    if len(lines) > MOST_CHANGES:
        raise InputError(name, f"{len(lines):,} rows; the most a piece may have is {MOST_CHANGES:,}")
    rows = _parse(lines, name)
    opening, closing = _ends(rows)
    return Piece(title=PurePath(name).stem or name, rows=rows, opening=opening, closing=closing)


def _parse(lines: list[tuple[int, str]], name: str) -> NDArray[np.int8]:
    """All rows at once; a line that is not a row is looked at again by itself for its message."""
    first = read_row(lines[0][1], where=f"{name}, line {lines[0][0]}")
    bells = len(first)
    tidied = [tidy(line).encode("ascii", "replace") for _, line in lines]
    written = [line[: bells + 1].ljust(bells + 1, b" ") for line in tidied]
    rows = _BELL_OF_BYTE[np.frombuffer(b"".join(written), dtype=np.uint8)].reshape(len(lines), bells + 1)
    good = (np.sort(rows, axis=1) == np.arange(bells + 1)).all(axis=1) & (rows[:, -1] == 0)
    good &= np.array([len(line) == bells for line in tidied])
    if not good.all():
        number, line = lines[int(np.argmin(good))]
        read_row(line, where=f"{name}, line {number}", bells=bells)
    return np.ascontiguousarray(rows[:, :-1])


def _ends(rows: NDArray[np.int8]) -> tuple[int, int]:
    """How many rows are opening, how many closing."""
    as_first = (rows == rows[0]).all(axis=1)
    if as_first.all():
        return 0, 0
    is_rounds = (rows == rounds(rows.shape[1])).all(axis=1)
    run = int(np.argmin(as_first))
    opening = run if is_rounds[0] or run > 1 else 0
    trailing = int(np.argmin(is_rounds[::-1]))
    return opening, max(trailing - 1, 0)
