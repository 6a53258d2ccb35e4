"""Call changes and written rows → rows: each row held for a length, or until the next call.

A call names two bells: ``"2 to 3"`` says that 2 moves to follow 3. Called *up*, 2 is just in front of 3 and moves back
one place; called *down*, 2 is two places behind 3 and moves one place nearer the lead (``"2 to lead"`` where it
moves into the lead). Either way two neighbours change places.
"""

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from judging.errors import InputError
from judging.piece.named_rows import name_of
from judging.piece.notation import ordinal_place
from judging.piece.ringing import Ringing

_CALL = re.compile(r"(\w+)\s+to\s+(\w+)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class CallChanges:
    """Rows made by calls.

    Parameters
    ----------
    calls : tuple of tuple of str
        What is called at each call: one or more pairs, made together.
    up : bool
        Called up; otherwise down.
    rows_each : int
        How many rows each row made is held; 1 where it is held until the next call.
    where : str
        Where the calls were written.
    """

    calls: tuple[tuple[str, ...], ...]
    up: bool
    rows_each: int
    where: str

    def ring(self, ringing: Ringing) -> None:
        """Add the rows, with what is called beside the first row that each call makes."""
        ringing.leave_method()
        for number, pairs in enumerate(self.calls, start=1):
            row = after_call(ringing.row, pairs, up=self.up, where=f"{self.where}, call {number}")
            ringing.label("call", " and ".join(pairs), ahead=1)
            name = name_of(row)
            if name is not None:
                ringing.label("named row", name, ahead=1)
            ringing.add(np.tile(row, (self.rows_each, 1)))

    def about(self) -> int:
        """Exactly how many changes."""
        return len(self.calls) * self.rows_each


@dataclass(frozen=True, slots=True)
class WrittenRows:
    """Rows written one by one.

    Parameters
    ----------
    rows : ndarray of int8, shape (R, n)
        In order.
    names : tuple of str
        The name each was given by; empty where its bells were written.
    rows_each : int
        How many rows each is held; 1 where it is held until the next call.
    """

    rows: NDArray[np.int8]
    names: tuple[str, ...]
    rows_each: int

    def ring(self, ringing: Ringing) -> None:
        """Add the rows, with their names beside them."""
        ringing.leave_method()
        for index, name in enumerate(self.names):
            if name:
                ringing.label("named row", name, ahead=index * self.rows_each + 1)
        ringing.add(np.repeat(self.rows, self.rows_each, axis=0))

    def about(self) -> int:
        """Exactly how many changes."""
        return len(self.rows) * self.rows_each


def after_call(row: NDArray[np.int8], pairs: tuple[str, ...], *, up: bool, where: str) -> NDArray[np.int8]:
    """Row that a call makes.

    Parameters
    ----------
    row : ndarray of int8, shape (n,)
        The row being rung.
    pairs : tuple of str
        What is called, such as ``("2 to 3",)``; several are made together.
    up : bool
        Called up; otherwise down.
    where : str
        Where it was written, for the message.

    Returns
    -------
    ndarray of int8, shape (n,)
        The next row.

    Raises
    ------
    InputError
        Where the words are no call, a bell does not ring, the two bells do not stand so, or two calls of one moment
        move the same bell.
    """
    made, moved = row.copy(), set[int]()
    for pair in pairs:
        front = _front_of_swap(row, pair, up=up, where=where)
        if {front, front + 1} & moved:
            raise InputError(where, f"{' and '.join(pairs)!r} moves one bell twice at once")
        moved |= {front, front + 1}
        made[[front, front + 1]] = row[[front + 1, front]]
    return made


def _front_of_swap(row: NDArray[np.int8], pair: str, *, up: bool, where: str) -> int:
    """Index of the front one of the two places that change."""
    words = _CALL.fullmatch(pair.strip())
    if words is None:
        raise InputError(where, f'{pair!r} is no call: write it as "2 to 3", or "2 to lead"')
    moving = _index_of(row, words[1], pair, where)
    following = -1 if words[2].casefold() == "lead" else _index_of(row, words[2], pair, where)
    if up and following == moving + 1:
        return moving
    if not up and following == moving - 2:
        return following + 1
    raise InputError(where, _not_so(row, pair, moving, following, up=up))


def _index_of(row: NDArray[np.int8], word: str, pair: str, where: str) -> int:
    bell = 1 if word.casefold() == "treble" else len(row) if word.casefold() == "tenor" else 0
    bell = int(word) if word.isdecimal() and len(word) <= 2 else bell
    if not 1 <= bell <= len(row):
        raise InputError(where, f"{pair!r} names {word!r}; the bells here are 1 to {len(row)}")
    return int(np.flatnonzero(row == bell)[0])


def _not_so(row: NDArray[np.int8], pair: str, moving: int, following: int, *, up: bool) -> str:
    """Why two bells cannot be called so, and what was probably meant."""
    bell, other = (
        int(row[moving]),
        "the lead" if following < 0 else f"{row[following]} in {ordinal_place(following + 1)}",
    )
    stands = (
        f"{pair!r} cannot be called {'up' if up else 'down'} here: {bell} is in {ordinal_place(moving + 1)}, {other}"
    )
    if up and following == moving - 2:
        return f"{stands}; are the calls called down?"
    if not up and following == moving + 1:
        return f"{stands}; are the calls called up?"
    if up:
        meant = f"{bell} to {row[moving + 1]}" if moving + 1 < len(row) else f"nothing, for {bell} is last"
        return f"{stands}, and up it can only be called '{meant}'"
    if moving == 0:
        return f"{stands}, and it cannot move down any further"
    meant = "lead" if moving == 1 else str(row[moving - 2])
    return f"{stands}, and down it can only be called '{bell} to {meant}'"
