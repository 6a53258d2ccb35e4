"""Rows as text and as numbers: ``"135246"`` ⇄ an array of bells.

Conventions
-----------
A row is an int8 array of shape (n,): the bell (1 = treble) at each place. As text each bell is one symbol of
`SYMBOLS`, as the Framework for Method Ringing writes them: 1 to 9, then 0 E T A B C D for 10 to 16.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from judging.errors import InputError
from judging.piece.piece import SYMBOLS

#: A ring that changes; two bells only alternate, and the Framework's symbols end at sixteen.
FEWEST_BELLS, MOST_BELLS = 3, 16

#: The most rows a piece may have: twice the longest extent anybody rings at one go (40,320 of Major) and some more.
MOST_CHANGES = 100_000

_BYTES = np.frombuffer(SYMBOLS.encode("ascii"), dtype=np.uint8)
_AS_WRITTEN = str.maketrans("etabcd", "ETABCD", " \t\r\ufeff")


def rounds(bells: int) -> NDArray[np.int8]:
    """Rounds on so many bells.

    Parameters
    ----------
    bells : int
        How many bells.

    Returns
    -------
    ndarray of int8, shape (bells,)
        1, 2, ..., bells.
    """
    return np.arange(1, bells + 1, dtype=np.int8)


def row_text(row: Sequence[int] | NDArray[np.integer[Any]]) -> str:
    """One row as ringers write it.

    Parameters
    ----------
    row : sequence of int
        Bell at each place.

    Returns
    -------
    str
        Such as ``"135246"``.
    """
    return "".join(SYMBOLS[bell - 1] for bell in row)


def rows_text(rows: NDArray[np.int8]) -> list[str]:
    """Many rows as ringers write them.

    Parameters
    ----------
    rows : ndarray of int8, shape (R, n)
        Bell at each place of each row.

    Returns
    -------
    list of str
        One text a row.
    """
    bells = rows.shape[1]
    text = _BYTES[rows - 1].tobytes().decode("ascii")
    return [text[at : at + bells] for at in range(0, len(text), bells)]


def row_keys(rows: NDArray[np.int8]) -> NDArray[np.uint64]:
    """One number a row, the same for equal rows only.

    Parameters
    ----------
    rows : ndarray of int8, shape (R, n)
        Bell at each place of each row; at most sixteen bells.

    Returns
    -------
    ndarray of uint64, shape (R,)
        Four bits a place.
    """
    keys = np.zeros(len(rows), dtype=np.uint64)
    for place in range(rows.shape[1]):
        keys = (keys << np.uint64(4)) | (rows[:, place] - 1).astype(np.uint64)
    return keys


def tidy(text: str) -> str:
    """Text of a row without its spaces, small letters made capital: ``"1 3 5 e"`` is ``"135E"``."""
    return text.translate(_AS_WRITTEN)


def read_row(text: str, *, where: str, bells: int | None = None) -> NDArray[np.int8]:
    """Row from its text.

    Parameters
    ----------
    text : str
        Such as ``"135246"``; spaces between the bells and small letters are allowed.
    where : str
        Where it was written, for the message.
    bells : int or None
        How many bells it must have; None to take the number from the text.

    Returns
    -------
    ndarray of int8, shape (n,)
        Bell at each place.

    Raises
    ------
    InputError
        Where the text is not each bell of the ring once.
    """
    symbols = tidy(text)
    for symbol in symbols:
        if symbol not in SYMBOLS:
            raise InputError(
                where, f"{text!r} is not a row: {symbol!r} is no bell (they are written 1 to 9, then 0 E T A B C D)"
            )
    count = len(symbols)
    if bells is None and not FEWEST_BELLS <= count <= MOST_BELLS:
        raise InputError(where, f"{text!r} has {count} bells; a row has from {FEWEST_BELLS} to {MOST_BELLS}")
    if bells is not None and count != bells:
        reason = "is a bell missing?" if count < bells else "is a bell written twice, or are two rows on one line?"
        raise InputError(where, f"{text!r} has {count} bells where {bells} are expected: {reason}")
    row = [SYMBOLS.index(symbol) + 1 for symbol in symbols]
    missing = [bell for bell in range(1, count + 1) if bell not in row]
    if missing:
        wrong = [bell for bell in dict.fromkeys(row) if row.count(bell) > 1 or bell > count]
        has = " and ".join(f"bell {bell} twice" if row.count(bell) > 1 else f"bell {bell}" for bell in wrong)
        lacks = " and ".join(f"bell {bell}" for bell in missing)
        raise InputError(where, f"{text!r} has {has} but not {lacks}")
    return np.array(row, dtype=np.int8)
