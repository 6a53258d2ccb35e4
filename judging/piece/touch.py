"""Method + calling → rows: leads rung plain or called, a few table look-ups for each.

A *stretch* is what is rung from one point of the lead at which a call may be made to the next: a whole lead where calls
are made at the lead head, a six in Stedman. A calling has one call (or plain) for each stretch.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from judging.errors import InputError
from judging.piece.methods import Method
from judging.piece.notation import read_notation
from judging.piece.ringing import Ringing
from judging.piece.rows import row_text

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
                made = " or ".join(str(point) for point in self.made[call])
                problem = f"a {call} of {self.title} is made after {made} changes of the lead, not after {after}"
                raise InputError(where, f"{problem}, or there is no room for it so soon after the start")
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
    problem = f"{method.title} is on {method.stage} bells, but {free} of {bells} are free to change"
    if free == method.stage + 1:
        return f'{problem}: does the tenor cover (cover = "tenor")?'
    return f"{problem}: set bells, or name the bells that keep their places (fixed = [...])"


def join(ringing: Ringing, lead: Lead, where: str) -> None:
    """Go on in the method, or begin it: where another was rung before, the conductor calls its name."""
    if ringing.method is lead:
        return
    if ringing.begin_at >= len(lead.changes):
        problem = f"is change {ringing.begin_at + 1}, but a lead of {lead.title} has {len(lead.changes)}"
        raise InputError(f"{where}, begin_at_change", problem)
    if ringing.method is not None:
        ringing.label("call", lead.title, ahead=1)
    ringing.method = lead
    ringing.at_in_lead, ringing.begin_at = ringing.begin_at, 0


def ring_stretch(ringing: Ringing, lead: Lead, call: str, where: str) -> None:
    """Ring to the next calling point, with labels."""
    stretch = lead.stretch(ringing.at_in_lead, call, where)
    if call != PLAIN:
        ringing.label("call", call, ahead=stretch.call_at + 1)
    rows = ringing.row[stretch.table]
    if stretch.lead_head_at is not None:
        ringing.label("lead head", row_text(rows[stretch.lead_head_at]), ahead=stretch.lead_head_at + 1)
    ringing.add(rows)
    ringing.at_in_lead = stretch.ends_at
    ringing.ends_exactly = False


@dataclass(frozen=True, slots=True)
class Called:
    """A method with a call, or plain, for each stretch.

    Parameters
    ----------
    lead : Lead
        The method.
    calling : tuple of str
        Names of calls and ``"plain"``.
    where : str
        Where the calling was written.
    """

    lead: Lead
    calling: tuple[str, ...]
    where: str

    def ring(self, ringing: Ringing) -> None:
        """Add the rows of every stretch."""
        join(ringing, self.lead, self.where)
        for number, call in enumerate(self.calling, start=1):
            ring_stretch(ringing, self.lead, call, f"{self.where}, call {number}")

    def about(self) -> int:
        """About how many changes."""
        return len(self.calling) * self.lead.shortest


@dataclass(frozen=True, slots=True)
class PlainCourse:
    """A method rung plain until the row it began from comes again.

    Parameters
    ----------
    lead : Lead
        The method.
    where : str
        Where it was written.
    """

    lead: Lead
    where: str

    def ring(self, ringing: Ringing) -> None:
        """Add the course."""
        join(ringing, self.lead, self.where)
        begin, at, length = ringing.row, ringing.at_in_lead, len(self.lead.changes)
        back = False
        while not back:
            before = ringing.at_in_lead
            stretch = self.lead.stretch(before, PLAIN, self.where)
            index = (at - before - 1) % length
            back = index < len(stretch.table) and bool((ringing.row[stretch.table[index]] == begin).all())
            ring_stretch(ringing, self.lead, PLAIN, self.where)
        ringing.leave_out(len(stretch.table) - 1 - index)
        ringing.at_in_lead = at
        ringing.ends_exactly = True

    def about(self) -> int:
        """At least one lead."""
        return len(self.lead.changes)


def come_home(ringing: Ringing) -> None:
    """End a called touch where rounds (or the row started from) comes in its last stretch, or before the next call.

    So a touch may come round at handstroke or in the middle of a lead; where it comes round in neither place it is
    left as it was called.
    """
    lead = ringing.method
    if ringing.ends_exactly or not isinstance(lead, Lead) or ringing.stop_at_home():
        return
    ahead = ringing.row[lead.stretch(ringing.at_in_lead, PLAIN, lead.title).table]
    longest = max((len(called) for made in lead.made.values() for called in made.values()), default=1)
    count = ringing.home_in(ahead[: len(ahead) - longest])
    if count is not None:
        ring_stretch(ringing, lead, PLAIN, lead.title)
        ringing.leave_out(len(ahead) - count)
