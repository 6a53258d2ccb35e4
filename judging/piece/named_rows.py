"""Named rows: Queens, Kings, Tittums and the rest, on so many bells.

On an odd number of bells a name means the row it means with a tenor behind, the tenor left out. Names are used
differently from tower to tower: a contest that means another row writes it out.
"""

from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import NDArray

from judging.errors import InputError
from judging.piece.piece import SYMBOLS
from judging.piece.rows import read_row, rounds, row_text


def _queens(bells: int) -> list[int]:
    return [*range(1, bells + 1, 2), *range(2, bells + 1, 2)]


def _kings(bells: int) -> list[int]:
    return [*range(bells - 1, 0, -2), *range(2, bells + 1, 2)]


def _tittums(bells: int) -> list[int]:
    half = bells // 2
    return [bell for low in range(1, half + 1) for bell in (low, low + half)]


#: Rows by a rule of the (even) number of bells. Queens, Kings and Tittums are published on six and eight bells (contest
#: rules of youth and novice competitions); on other numbers they follow the same pattern, from memory.
_PATTERNS: Mapping[str, Callable[[int], list[int]]] = {"Queens": _queens, "Kings": _kings, "Tittums": _tittums}

#: Rows published for one number of bells and no other; on ten and twelve the published Whittingtons differ.
_WRITTEN: Mapping[str, Mapping[int, str]] = {
    "Whittingtons": {6: "531246", 8: "12753468"},
    "Princes": {6: "532146"},
}

NAMES: tuple[str, ...] = ("Rounds", "Back rounds", *_PATTERNS, *_WRITTEN)


def named_row(name: str, bells: int, *, where: str = "row") -> NDArray[np.int8]:
    """Row that a name means.

    Parameters
    ----------
    name : str
        One of `NAMES`; capitals do not matter.
    bells : int
        How many bells.
    where : str
        Where it was asked for, for the message.

    Returns
    -------
    ndarray of int8, shape (bells,)
        Bell at each place.

    Raises
    ------
    InputError
        Where the name is unknown, or means no one row on so many bells.
    """
    known = next((known for known in NAMES if known.casefold() == " ".join(name.split()).casefold()), None)
    if known is None:
        raise InputError(where, f"{name!r} is not a row that has a name here ({', '.join(NAMES)}): write its bells")
    if known == "Rounds":
        return rounds(bells)
    if known == "Back rounds":
        return rounds(bells)[::-1].copy()
    if known in _PATTERNS:
        even = _PATTERNS[known](bells + bells % 2)
        return np.array([bell for bell in even if bell <= bells], dtype=np.int8)
    if bells not in _WRITTEN[known]:
        on = " and ".join(str(number) for number in _WRITTEN[known])
        raise InputError(where, f"{known} is one agreed row only on {on} bells, not on {bells}: write its bells")
    return np.array([SYMBOLS.index(symbol) + 1 for symbol in _WRITTEN[known][bells]], dtype=np.int8)


def name_of(row: NDArray[np.int8]) -> str | None:
    """Name of a row; None where it has none. Of two names (Kings and Whittingtons on six) the first of `NAMES`."""
    bells, text = len(row), row_text(row)
    for name in NAMES:
        if (name not in _WRITTEN or bells in _WRITTEN[name]) and row_text(named_row(name, bells)) == text:
            return name
    return None


def row_said(text: str, bells: int, *, where: str = "row") -> NDArray[np.int8]:
    """Row that a person means: by its name, or written out.

    Parameters
    ----------
    text : str
        One of `NAMES`, or so many bells.
    bells : int
        How many bells.
    where : str
        Where it was asked for, for the message.

    Returns
    -------
    ndarray of int8, shape (bells,)

    Raises
    ------
    InputError
        It is neither.
    """
    if any(text.strip().casefold() == name.casefold() for name in NAMES):
        return named_row(text.strip(), bells, where=where)
    return read_row(text, where=where, bells=bells)
