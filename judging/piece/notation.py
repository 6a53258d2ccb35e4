"""Place notation → changes, as the Framework for Method Ringing (Appendix A) writes it.

A change is written as the places made in it; the other bells swap in neighbouring pairs. ``x``, ``X`` or ``-`` is
the cross, in which every bell swaps. A dot parts two changes that are both written as places. A first or last place
that must be made is understood (``4`` on six is ``14``). A comma joins two parts, each of which is rung forward and
then back again without repeating its last change: ``5.1.5.1.5,125`` is ``5.1.5.1.5.1.5.1.5.125``.

Conventions
-----------
A change is an int8 array of shape (n,) that says from which index each bell comes: ``new_row = row[change]``.
"""

import re
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from judging.errors import InputError
from judging.piece.piece import SYMBOLS
from judging.piece.rows import MOST_CHANGES, row_text

_CHANGE_OR_DOT = re.compile(r"\.|[X-]|[^.X-]+")
_SPACES = re.compile(r"\s+")


def ordinal_place(place: int) -> str:
    """Place in the trade's words: 2nds, 3rds, 4ths; the first is the lead."""
    return {1: "lead", 2: "2nds", 3: "3rds"}.get(place, f"{place}ths")


def read_notation(text: str, stage: int, *, where: str = "notation") -> NDArray[np.int8]:
    """Changes written in place notation.

    Parameters
    ----------
    text : str
        Such as ``"x16x16x16,12"``.
    stage : int
        How many bells change.
    where : str
        Where it was written, for the message.

    Returns
    -------
    ndarray of int8, shape (L, stage)
        For each change, from which index (0 = lead) each bell comes.

    Raises
    ------
    InputError
        Where a change cannot be rung; the message names its number as written, and the change.
    """
    parts = _SPACES.sub("", text).upper().split(",")
    if len(parts) > 2:
        raise InputError(where, f"{text!r} has {len(parts) - 1} commas; place notation has at most one")
    changes: list[NDArray[np.int8]] = []
    written = 0
    for part in parts:
        forward = [
            _change(written_as, stage, f"{where}, change {written + at}") for at, written_as in _written(part, where)
        ]
        written += len(forward)
        changes += forward + forward[-2::-1] if len(parts) > 1 else forward
    if len(changes) > MOST_CHANGES:
        raise InputError(where, f"{len(changes):,} changes in one lead; the most is {MOST_CHANGES:,}")
    return np.array(changes, dtype=np.int8)


def _written(part: str, where: str) -> list[tuple[int, str]]:
    """Each change of one side of the comma with its number from 1; dots are checked and dropped."""
    found = _CHANGE_OR_DOT.findall(part)
    if not found:
        raise InputError(where, "no place notation here: a method needs at least one change on each side of the comma")
    changes: list[tuple[int, str]] = []
    after_dot = True
    for symbols in found:
        if symbols == ".":
            if after_dot:
                raise InputError(where, f"a dot with no change before it (after {len(changes)} changes): one too many?")
            after_dot = True
        else:
            changes.append((len(changes) + 1, symbols))
            after_dot = False
    if after_dot:
        raise InputError(where, f"ends with a dot after change {len(changes)}: is the last change missing?")
    return changes


def _change(symbols: str, stage: int, where: str) -> NDArray[np.int8]:
    """One change from the places written, the understood first and last place added."""
    shown = "x" if symbols in "X-" else symbols
    places = [] if symbols in "X-" else [_place(symbol, shown, stage, where) for symbol in symbols]
    if any(later <= earlier for earlier, later in pairwise(places)):
        raise InputError(where, f"'{shown}' is not in rising order: is a dot missing between two changes?")
    if places and places[0] % 2 == 0:
        places.insert(0, 1)
    if places and (stage - places[-1]) % 2 == 1:
        places.append(stage)
    change = np.arange(stage, dtype=np.int8)
    place = 1
    while place <= stage:
        if place in places:
            place += 1
        elif place == stage or place + 1 in places:
            raise InputError(where, _left_alone(shown, place, places, stage))
        else:
            change[place - 1], change[place] = place, place - 1
            place += 2
    return change


def _place(symbol: str, shown: str, stage: int, where: str) -> int:
    place = SYMBOLS.find(symbol) + 1
    if place == 0:
        raise InputError(
            where,
            f"'{shown}' has {symbol!r}, which is no place (places are 1 to 9, then 0 E T A B C D; x is the cross)",
        )
    if place > stage:
        raise InputError(where, f"'{shown}' makes place {symbol}, but only {stage} bells change")
    return place


def _left_alone(shown: str, place: int, places: list[int], stage: int) -> str:
    alone = f"'{shown}' leaves the bell in {ordinal_place(place)} alone, with no neighbour to change places with"
    if not places:
        return f"{alone}: a cross needs an even number of bells, and {stage} change here"
    return f"{alone}: did you mean '{row_text(sorted({*places, place}))}'?"
