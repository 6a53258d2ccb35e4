"""Piece → proof: whether it is true, comes round, and lets every bell lead.

Rows are counted from change 1 to the end of the changes, opening and closing rounds left out. A row that is held
(call changes) counts once for as long as it is held. Where a piece is longer than the extent of the bells that move,
each row may come once more for every extent begun (Framework for Method Ringing: truth of a touch longer than the
extent).
"""

from dataclasses import dataclass
from math import factorial

import numpy as np
from numpy.typing import NDArray

from judging.piece.piece import Piece
from judging.piece.rows import rounds, row_keys, row_text


@dataclass(frozen=True, slots=True)
class Repeat:
    """A row that comes more often than truth allows.

    Parameters
    ----------
    row : str
        The row.
    changes : tuple of int
        The changes at which it comes (where it begins to be held).
    """

    row: str
    changes: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Proof:
    """What can be said of a piece before it is rung.

    Parameters
    ----------
    changes : int
        How many changes, the return to rounds included.
    true : bool
        No row comes more often than `allowed`, and none is left out of a finished extent.
    allowed : int
        How often a row may come: 1, or more where the piece is longer than an extent.
    repeats : tuple of Repeat
        Rows that come more often, in order of their first coming.
    held : bool
        Rows are held for a whole pull or more each, as in call changes.
    comes_round : bool
        The last change is rounds, or the row the piece started from.
    ends_on : str
        The last change.
    early : int or None
        The change at which rounds first comes up, where that is before the end.
    leads : tuple of int
        Bells that lead in some change, in order of number.
    bells : int
        How many bells.
    jumps : tuple of int
        Changes at which some bell moves more than one place, as no method does.
    """

    changes: int
    true: bool
    allowed: int
    repeats: tuple[Repeat, ...]
    held: bool
    comes_round: bool
    ends_on: str
    early: int | None
    leads: tuple[int, ...]
    bells: int
    jumps: tuple[int, ...]

    @property
    def never_lead(self) -> tuple[int, ...]:
        """Bells other than the tenor that never lead."""
        return tuple(bell for bell in range(1, self.bells) if bell not in self.leads)

    @property
    def every_bell_but_tenor_leads(self) -> bool:
        """Whether each bell leads at least once, the tenor excepted."""
        return not self.never_lead

    @property
    def leading_sentence(self) -> str:
        """Which bells lead, in a ringer's words."""
        if not self.never_lead:
            return "Every bell but the tenor leads."
        names = ", ".join(str(bell) for bell in self.never_lead)
        return f"Not every bell but the tenor leads: {names} never {'does' if len(self.never_lead) == 1 else 'do'}."

    @property
    def sentences(self) -> tuple[str, ...]:
        """The proof in a ringer's words, most important first."""
        said = [self._truth()]
        if not self.comes_round:
            said.append(f"Does not come round: it ends on {self.ends_on}.")
        if self.early is not None:
            said.append(f"Comes into rounds at change {self.early}, before the end.")
        if self.never_lead:
            said.append(self.leading_sentence)
        if self.jumps:
            said.append(f"At change {self.jumps[0]} a bell moves more than one place: is a row missing or mistyped?")
        return tuple(said)

    def _truth(self) -> str:
        length = f"{self.changes:,} change{'' if self.changes == 1 else 's'}"
        if self.repeats:
            worst, others = self.repeats[0], len(self.repeats) - 1
            comes = " and ".join(str(change) for change in worst.changes[:3])
            comes += " and more" if len(worst.changes) > 3 else ""
            more = f", and {others} more row{' comes' if others == 1 else 's come'} again" if others else ""
            if self.held:
                return f"{length}; {worst.row} is called more than once, at changes {comes}{more}."
            return f"{length}, false: {worst.row} comes at changes {comes}{more}."
        if self.held:
            return f"{length}; no row is called twice."
        return f"{length}, true." if self.true else f"{length}, false: more than an extent, with some row left out."


def prove(piece: Piece) -> Proof:
    """Proof of a piece.

    Parameters
    ----------
    piece : Piece
        The piece; at least one change.

    Returns
    -------
    Proof
        Truth, return to rounds, and which bells lead.
    """
    rows = piece.rows[piece.is_change]
    start = piece.rows[piece.opening - 1] if piece.opening else rounds(piece.bells)
    keys = row_keys(rows)
    begins = np.flatnonzero(np.concatenate([[True], keys[1:] != keys[:-1]]))
    held = piece.free_lengths or _is_held(begins, len(keys))
    counted = begins if held else np.arange(len(keys))
    extent = factorial(int(np.count_nonzero((rows != rows[0]).any(axis=0) | (start != rows[0]))))
    allowed = max(1, -(-len(counted) // extent))
    repeats, distinct, fewest = _repeats(rows, keys, counted, allowed)
    owed = len(counted) // extent
    round_key = row_keys(rounds(piece.bells)[None])[0]
    at_rounds = np.flatnonzero((keys == round_key) & (np.arange(len(keys)) < begins[-1]))
    return Proof(
        changes=len(rows),
        true=not repeats and (owed == 0 or (distinct == extent and fewest >= owed)),
        allowed=allowed,
        repeats=repeats,
        held=held,
        comes_round=bool(keys[-1] == round_key or (rows[-1] == start).all()),
        ends_on=row_text(rows[-1]),
        early=int(at_rounds[0]) + 1 if len(at_rounds) else None,
        leads=tuple(int(bell) for bell in np.unique(rows[:, 0])),
        bells=piece.bells,
        jumps=_jumps(np.concatenate([start[None], rows])),
    )


def _is_held(begins: NDArray[np.intp], count: int) -> bool:
    """Whether every row is rung twice or more before the next; the last may be cut short by the end."""
    lengths = np.diff(np.append(begins, count))
    return count > 1 and bool((lengths[:-1] > 1).all())


def _repeats(
    rows: NDArray[np.int8], keys: NDArray[np.uint64], counted: NDArray[np.intp], allowed: int
) -> tuple[tuple[Repeat, ...], int, int]:
    """Rows that come too often, how many different rows there are, and how often the rarest comes."""
    kept = keys[counted]
    distinct, which, counts = np.unique(kept, return_inverse=True, return_counts=True)
    often = np.flatnonzero(counts[which] > allowed)
    comings: dict[int, list[int]] = {}
    for at in often.tolist():
        comings.setdefault(int(which[at]), []).append(int(counted[at]))
    repeats = tuple(Repeat(row_text(rows[at[0]]), tuple(change + 1 for change in at)) for at in comings.values())
    return repeats, len(distinct), int(counts.min())


def _jumps(rows: NDArray[np.int8]) -> tuple[int, ...]:
    """Changes, numbered from 1, by which some bell moves more than one place; the first row is the start."""
    places = np.argsort(rows, axis=1)
    moved = np.abs(np.diff(places, axis=0)).max(axis=1)
    return tuple(int(at) + 1 for at in np.flatnonzero(moved > 1))
