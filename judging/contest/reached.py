"""MOMENTS → CHANGES: which change the ringing had reached when a judge touched the pad.

The judge marks the first change and, if they like, lead heads and the end; between marks the rows go on evenly. Thumbs
are late for marks as they are for faults, so that the one delay takes the other out.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

#: A mark that makes the rows so much quicker or slower than before is a slip of the thumb, or belongs elsewhere.
#: Peal speeds of one stage lie within a tenth of each other (trade tables), so this only refuses what cannot be.
_MOST_OFF = 1.5


@dataclass(frozen=True, slots=True)
class Reached:
    """The ringing's way through the changes, as a judge marked it.

    Parameters
    ----------
    marks : tuple of (float, float)
        Moments in milliseconds and the change that began there (1 = first), ascending; at least one.
    row_ms : float
        How long a row lasts after the last mark.
    changes : int or None
        How many there are; None where nobody knows beforehand.
    """

    marks: tuple[tuple[float, float], ...]
    row_ms: float
    changes: int | None

    def change(self, at_ms: float) -> int:
        """Change that was being rung at a moment, the first before it and the last after the end."""
        begun = max(int(self._place(at_ms) // 1), 1)
        return begun if self.changes is None else min(begun, self.changes)

    def moment(self, change: int) -> float:
        """Moment in the middle of a change, in milliseconds."""
        wanted = change + 0.5
        for (from_ms, first), (to_ms, last) in pairwise(self.marks):
            if wanted < last:
                return from_ms + (wanted - first) * (to_ms - from_ms) / (last - first)
        at_ms, last = self.marks[-1]
        return at_ms + (wanted - last) * self.row_ms

    def _place(self, at_ms: float) -> float:
        for (from_ms, first), (to_ms, last) in pairwise(self.marks):
            if at_ms < to_ms:
                return first + (last - first) * (at_ms - from_ms) / (to_ms - from_ms)
        from_ms, first = self.marks[-1]
        return first + (at_ms - from_ms) / self.row_ms


def reached(
    start_ms: float,
    leads_ms: Iterable[float],
    stop_ms: float | None,
    *,
    row_ms: float,
    heads: Sequence[int],
    changes: int | None,
) -> Reached:
    """Way through the changes from what a judge marked.

    Parameters
    ----------
    start_ms : float
        When the first change began.
    leads_ms : iterable of float
        When a lead head was marked, in any order; each is the one that is nearest to where the rows must be.
    stop_ms : float or None
        When the last change was over.
    row_ms : float
        How long a row lasts, before any mark tells better.
    heads : sequence of int
        Changes that are lead heads, ascending.
    changes : int or None
        How many changes the piece has.

    Returns
    -------
    Reached
        Marks that cannot be are left out.
    """
    marks = [(start_ms, 1.0)]
    for at_ms in sorted(leads_ms):
        row_ms = _add(marks, at_ms, [float(head) for head in heads], row_ms)
    if stop_ms is not None and changes is not None:
        row_ms = _add(marks, stop_ms, [changes + 1.0], row_ms)
    return Reached(tuple(marks), row_ms, changes)


def _add(marks: list[tuple[float, float]], at_ms: float, places: Sequence[float], row_ms: float) -> float:
    """Add a mark where it can be; return how long a row lasts from there on."""
    last_ms, last = marks[-1]
    ahead = [place for place in places if place > last]
    if not ahead or at_ms <= last_ms:
        return row_ms
    foretold = last + (at_ms - last_ms) / row_ms
    place = min(ahead, key=lambda one: abs(one - foretold))
    lasted_ms = (at_ms - last_ms) / (place - last)
    if not row_ms / _MOST_OFF <= lasted_ms <= row_ms * _MOST_OFF:
        return row_ms
    marks.append((at_ms, place))
    return (at_ms - marks[0][0]) / (place - 1.0)
