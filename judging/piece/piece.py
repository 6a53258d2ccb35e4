"""The value that says what should be rung: rows, strokes, and labels a ringer knows.

Conventions
-----------
``rows`` has shape (R, n): ``rows[r, p]`` is the bell (1 = treble) that strikes in place ``p + 1`` of row ``r``.
Row indices count from 0 and include the opening rounds. *Changes* are for people: change 1 is the first row
after the opening rounds, and odd changes are handstrokes unless the piece starts at backstroke.
"""

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Stroke = Literal["hand", "back"]

#: Bells as the Framework for Method Ringing writes them, up to sixteen.
SYMBOLS = "1234567890ETABCD"


@dataclass(frozen=True, slots=True)
class Label:
    """A word beside a row: a call, a lead head, a part end, a named row.

    Parameters
    ----------
    row : int
        Index into ``Piece.rows`` of the row the word belongs to.
    kind : {"call", "lead head", "part end", "named row"}
        What kind of word it is.
    text : str
        The word itself, such as ``"bob"`` or ``"Queens"``.
    """

    row: int
    kind: Literal["call", "lead head", "part end", "named row"]
    text: str


@dataclass(frozen=True, slots=True)
class Piece:
    """What should be rung, row by row.

    Parameters
    ----------
    title : str
        As it is printed, such as ``"120 Plain Bob Doubles"``.
    rows : ndarray of int8, shape (R, n)
        Bell at each place of each row, opening and closing rounds included; read-only.
    opening : int
        How many rows come before the first change (they are not changes and have no number).
    closing : int
        How many rows follow the return to rounds (or the last row of the piece); 0 where the piece just ends.
    first_change_stroke : {"hand", "back"}
        Stroke of change 1.
    labels : tuple of Label
        Calls, lead heads, part ends and named rows, in order of row.
    free_lengths : bool
        True where each distinct row is held until the next call at a moment unknown beforehand: ``rows`` then
        gives the order of rows once each, not how long they last.
    """

    title: str
    rows: NDArray[np.int8]
    opening: int = 0
    closing: int = 0
    first_change_stroke: Stroke = "hand"
    labels: tuple[Label, ...] = field(default=())
    free_lengths: bool = False

    def __post_init__(self) -> None:
        """Make the rows read-only."""
        self.rows.setflags(write=False)

    @property
    def bells(self) -> int:
        """Number of bells, covers included."""
        return int(self.rows.shape[1])

    @property
    def is_hand(self) -> NDArray[np.bool_]:
        """Whether each row is a handstroke; shape (R,)."""
        odd_change: NDArray[np.bool_] = (np.arange(len(self.rows)) - self.opening) % 2 == 0
        return odd_change if self.first_change_stroke == "hand" else ~odd_change

    @property
    def is_change(self) -> NDArray[np.bool_]:
        """Whether each row is one of the changes, from the first to the return to rounds; shape (R,)."""
        index = np.arange(len(self.rows))
        return (index >= self.opening) & (index < len(self.rows) - self.closing)

    def change_of(self, row: int) -> int | None:
        """Number of the change at a row index (the first is 1), None in the opening rows."""
        return None if row < self.opening else row - self.opening + 1
