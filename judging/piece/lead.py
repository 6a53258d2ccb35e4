"""One lead of a method, ready to be rung: what each stretch of it does to any row, a table look-up each.

A *stretch* is what is rung from one point of the lead at which a call may be made to the next: a whole lead where calls
are made at the lead head, a six in Stedman.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from judging.errors import InputError
from judging.piece.methods import Method
from judging.piece.notation import read_notation

PLAIN = "plain"


@dataclass(frozen=True, slots=True)
class Stretch:
    """Changes from one calling point to the next.

    Parameters
    ----------
    table : ndarray of int8, shape (m, n)
        ``row[table[j]]`` is the row reached from ``row`` after j + 1 changes.
    ends_at : int
        How many changes of the lead are over at its end (0 at the lead head).
    call_at : int
        Index of the first row that the call makes; ``m`` where none is made.
    lead_head_at : int or None
        Index of the row that is a lead head; None where it has none.
    """

    table: NDArray[np.int8]
    ends_at: int
    call_at: int
    lead_head_at: int | None


@dataclass(frozen=True, slots=True)
class Lead:
    """One lead of a method, ready to be rung on some places of the ring.

    Parameters
    ----------
    title : str
        The method's.
    places : tuple of int
        Indices of the places that change, in order.
    changes : ndarray of int8, shape (L, n)
        The plain lead; ``new_row = row[change]``.
    made : dict
        For each call, the changes rung instead before each calling point (1 to L).
    """

    title: str
    places: tuple[int, ...]
    changes: NDArray[np.int8]
    made: dict[str, dict[int, NDArray[np.int8]]]
    _known: dict[tuple[int, str], Stretch] = field(default_factory=dict, repr=False, compare=False)

    @property
    def points(self) -> tuple[int, ...]:
        """Calling points: how many changes of the lead are over at each; the lead head where there are no calls."""
        return tuple(sorted({point for made in self.made.values() for point in made})) or (len(self.changes),)

    def can_call(self, call: str, begin: int) -> bool:
        """Whether a call may be made at the next calling point."""
        point = self.next_point(begin)
        called = self.made[call].get((point - 1) % len(self.changes) + 1)
        return called is not None and len(called) <= point - begin

    def next_point(self, begin: int) -> int:
        """Next calling point once so many changes are over; above L where it is in the lead after."""
        return next((point for point in self.points if point > begin), self.points[0] + len(self.changes))

    @property
    def shortest(self) -> int:
        """Fewest changes between two calling points."""
        points = self.points
        return min(b - a for a, b in zip(points, (*points[1:], points[0] + len(self.changes)), strict=True))

    def stretch(self, begin: int, call: str, where: str) -> Stretch:
        """Stretch from a point of the lead to the next calling point.

        Parameters
        ----------
        begin : int
            How many changes of the lead are over.
        call : str
            Name of a call, or ``"plain"``.
        where : str
            Where it was called, for the message.

        Returns
        -------
        Stretch
            The same object whenever it is asked for again.

        Raises
        ------
        InputError
            Where the call is not made at the next point, or begins before the stretch does.
        """
        known = self._known.get((begin, call))
        if known is None:
            known = self._known[begin, call] = self._make(begin, call, where)
        return known

    def _make(self, begin: int, call: str, where: str) -> Stretch:
        length = len(self.changes)
        point = self.next_point(begin)
        changes = self.changes[np.arange(begin, point) % length]
        call_at = len(changes)
        if call != PLAIN:
            after = (point - 1) % length + 1
            if not self.can_call(call, begin):
                raise InputError(where, self._why_not(call, after))
            called = self.made[call][after]
            call_at -= len(called)
            changes = np.concatenate([changes[:call_at], called])
        table = np.empty_like(changes)
        row = np.arange(changes.shape[1], dtype=np.int8)
        for index, change in enumerate(changes):
            row = row[change]
            table[index] = row
        table.setflags(write=False)
        lead_head_at = length - begin - 1 if point >= length else None
        return Stretch(table, point % length, call_at, lead_head_at)

    def _why_not(self, call: str, after: int) -> str:
        """Why a call is not made after so many changes of the lead."""
        if after in self.made[call]:
            return f"there is no room for a {call} so soon after the start"
        made = " or ".join(str(point) for point in self.made[call])
        points = " and ".join(str(point) for point in self.points)
        problem = f"a {call} of {self.title} is made after {made} changes of the lead, not after {after}"
        return f"{problem}; calls come after {points}, so a lead has {len(self.points)} letters or words of a calling"


def lead_of(method: Method, *, bells: int, fixed: frozenset[int], where: str) -> Lead:
    """Lead of a method on a ring in which some bells keep their places.

    Parameters
    ----------
    method : Method
        The method; as many places must be free as it has bells.
    bells : int
        How many bells ring.
    fixed : frozenset of int
        Places (from 1) that do not change, cover included.
    where : str
        Where the method was asked for, for messages.

    Returns
    -------
    Lead
        Ready to ring.

    Raises
    ------
    InputError
        Where the notation of the method or of a call cannot be rung, or the number of bells does not fit.
    """
    places = tuple(place for place in range(bells) if place + 1 not in fixed)
    if len(places) != method.stage:
        raise InputError(where, _does_not_fit(method, bells, len(places)))
    changes = _on_places(read_notation(method.notation, method.stage, where=f"{where}, {method.title}"), places, bells)
    made: dict[str, dict[int, NDArray[np.int8]]] = {}
    for call in method.calls:
        made[call.name] = {}
        for ends_after, notation in call.made:
            at = f"{where}, {call.name} of {method.title}"
            called = _on_places(read_notation(notation, method.stage, where=at), places, bells)
            if ends_after > len(changes):
                raise InputError(at, f"made after {ends_after} changes, but a lead has {len(changes)}")
            made[call.name][ends_after or len(changes)] = called
    return Lead(method.title, places, changes, made)


def _on_places(changes: NDArray[np.int8], places: tuple[int, ...], bells: int) -> NDArray[np.int8]:
    """The same changes on some places of a larger ring."""
    wide = np.tile(np.arange(bells, dtype=np.int8), (len(changes), 1))
    index = np.array(places, dtype=np.int8)
    wide[:, index] = index[changes]
    return wide


def _does_not_fit(method: Method, bells: int, free: int) -> str:
    kept = f", {bells - free} of them in their own places" if free < bells else ""
    problem = f"{method.title} is on {method.stage} bells, but {bells} ring{kept}"
    if free == method.stage + 1:
        return f'{problem}: does the tenor cover (cover = "tenor")?'
    return f"{problem}: set bells, or name those that keep their places (fixed = [...])"
