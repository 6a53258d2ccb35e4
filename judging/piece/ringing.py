"""Rows as they are rung: what every part of a piece adds to, one after the other.

A part (a touch of a method, call changes, written rows) is rung on a `Ringing`, which knows the row the last part
ended on and gathers rows and labels. Nothing outside the room needs it.
"""

from dataclasses import dataclass
from typing import Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from judging.errors import InputError
from judging.piece.piece import Label
from judging.piece.rows import MOST_CHANGES, rounds, row_keys

Ending = Literal["exactly", "before the next call", "at rounds"]

LabelKind = Literal["call", "lead head", "part end", "named row"]


class Ringing:
    """Changes so far, from a start row.

    Parameters
    ----------
    start : ndarray of int8, shape (n,)
        The row rung before the first change.
    begin_at : int
        How many changes of the first lead are left out (0 for a usual start).
    where : str
        The piece, for messages.

    Attributes
    ----------
    row : ndarray of int8, shape (n,)
        The row reached.
    changes : int
        How many changes so far.
    method : object
        The lead being rung; None before the first and after rows that follow no method.
    begin_at : int
        How many changes the first lead still to be begun leaves out.
    at_in_lead : int
        How many changes of the lead are over.
    ends : {"exactly", "before the next call", "at rounds"}
        Where the ringing may end if nothing more is called: just there; as soon as rounds comes before another call
        could be made; or wherever rounds comes.
    """

    def __init__(self, start: NDArray[np.int8], *, begin_at: int, where: str) -> None:
        self.row = start
        self.changes = 0
        self.begin_at = begin_at
        self.at_in_lead = 0
        self.method: object = None
        self.ends: Ending = "exactly"
        self._homes = {int(key) for key in row_keys(np.stack([start, rounds(len(start))]))}
        self._blocks: list[NDArray[np.int8]] = []
        self._labels: list[tuple[int, LabelKind, str]] = []
        self._where = where

    def add(self, rows: NDArray[np.int8]) -> None:
        """Add rows, shape (m, n), m at least 1."""
        refuse_too_many(self.changes + len(rows), self._where)
        self._blocks.append(rows)
        self.changes += len(rows)
        self.row = rows[-1]

    def leave_method(self) -> None:
        """Rows that follow no method come next."""
        self.method, self.ends = None, "exactly"

    def label(self, kind: LabelKind, text: str, *, ahead: int = 0) -> None:
        """Put a word beside the last row so far, or beside one that many rows ahead of it."""
        self._labels.append((self.changes + ahead, kind, text))

    def home_in(self, rows: NDArray[np.int8]) -> int | None:
        """How many of these rows are rung up to rounds, or to the row started from; None where neither comes."""
        home = [int(key) in self._homes for key in row_keys(rows)]
        return home.index(True) + 1 if True in home else None

    def stop_at_home(self) -> bool:
        """Leave out what follows rounds, or the row started from, in the stretch added last; say whether it came."""
        count = self.home_in(self._blocks[-1])
        if count is None:
            return False
        self.leave_out(len(self._blocks[-1]) - count)
        return True

    def leave_out(self, over: int) -> None:
        """Leave out the last rows of the stretch added last, and their labels; at least one row of it stays."""
        self._blocks[-1] = self._blocks[-1][: len(self._blocks[-1]) - over]
        self.changes -= over
        self.row = self._blocks[-1][-1]
        self._labels = [label for label in self._labels if label[0] <= self.changes]

    def rows(self) -> NDArray[np.int8]:
        """All changes so far, shape (changes, n)."""
        return np.concatenate(self._blocks)

    def labels(self, opening: int) -> tuple[Label, ...]:
        """Labels in order of row, rows counted with so many opening rows before change 1."""
        return tuple(
            Label(change - 1 + opening, kind, text)
            for change, kind, text in sorted(self._labels, key=lambda label: label[0])
        )


class Part(Protocol):
    """Something that can be rung from any row."""

    def ring(self, ringing: Ringing) -> None:
        """Add its rows and labels."""

    def about(self) -> int:
        """About how many changes it comes to, known before any is made."""


@dataclass(frozen=True, slots=True)
class Passes:
    """Parts in sequence, all of it rung so many times.

    Parameters
    ----------
    parts : tuple of Part
        In order.
    repeat : int
        How many times; at least 1.
    mark_ends : bool
        Whether the end of each pass (of each part, where there is one pass only) is labelled as a part end.
    """

    parts: tuple[Part, ...]
    repeat: int = 1
    mark_ends: bool = False

    def ring(self, ringing: Ringing) -> None:
        """Add every pass."""
        ends = 0
        for _ in range(self.repeat):
            for number, part in enumerate(self.parts, start=1):
                part.ring(ringing)
                ends_a_part = self.repeat == 1 or number == len(self.parts)
                if self.mark_ends and ends_a_part and len(self.parts) * self.repeat > 1:
                    ends += 1
                    ringing.label("part end", f"part {ends}")

    def about(self) -> int:
        """About how many changes all passes come to."""
        return self.repeat * sum(part.about() for part in self.parts)


def refuse_too_many(changes: int, where: str) -> None:
    """Refuse more changes than a piece may have.

    Raises
    ------
    InputError
        Where there are more than `MOST_CHANGES`.
    """
    if changes > MOST_CHANGES:
        raise InputError(
            where, f"comes to {changes:,} changes or more; the most is {MOST_CHANGES:,}: is a repeat or a length right?"
        )
