"""WHAT A JUDGE'S PADS SENT → THE TALLY: a set of events, in whatever order and however often they came.

Every touch of a pad is one event with an identifier that the pad made up. The server keeps the set of them: an event
that comes twice is there once, and the tally depends on nothing but the set. Undoing names what it takes back, so that
it too may come early, late or twice.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from math import floor
from typing import Literal, get_args

from judging.contest.pad import Pad
from judging.contest.reached import Reached, reached
from judging.marks.values import Tap

Kind = Literal["start", "tap", "undo", "lead", "stop", "correct", "comment", "sign"]
KINDS: tuple[Kind, ...] = get_args(Kind)


@dataclass(frozen=True, slots=True)
class PadEvent:
    """One thing that a judge did on a pad.

    Parameters
    ----------
    id : str
        Made up by the pad; what tells one event from another.
    device : str
        Which pad.
    seq : int
        Number among the pad's events, from 1.
    kind : Kind
        A ``tap`` charges; ``undo`` takes another event back; ``start``, ``lead`` and ``stop`` mark first change, lead
        head and end; ``correct`` sets what a change is charged; ``comment`` is the words so far; ``sign`` signs.
    at_ms : int
        When, on the server's clock, in milliseconds since 1970.
    faults : Decimal or None
        Of a tap or a correction.
    change : int or None
        That is corrected.
    of : str
        Event that is taken back.
    text : str
        Reason of a correction, words of a comment.
    """

    id: str
    device: str
    seq: int
    kind: Kind
    at_ms: int
    faults: Decimal | None = None
    change: int | None = None
    of: str = ""
    text: str = ""


@dataclass(frozen=True, slots=True)
class Tally:
    """What a judge has counted so far.

    Parameters
    ----------
    lines : tuple of Tap
        What is charged, in order of time; a tap whose row was full is there with 0.
    lost : Decimal
        Faults in all, or marks lost.
    total : Decimal or None
        The figure to be signed; None where the judge gives it.
    comment : str
        Words so far.
    start_ms, stop_ms : int or None
        First change and end, on the server's clock; None where not marked.
    by_device : mapping of str to int
        How many taps that stand came from each pad; two pads in use are told to the judge.
    """

    lines: tuple[Tap, ...]
    lost: Decimal
    total: Decimal | None
    comment: str
    start_ms: int | None
    stop_ms: int | None
    by_device: Mapping[str, int]


def tally(
    events: Iterable[PadEvent], pad: Pad, *, began_ms: int | None = None, devices: Collection[str] | None = None
) -> Tally:
    """Tally of a set of events.

    Parameters
    ----------
    events : iterable of PadEvent
        In any order.
    pad : Pad
        Of the piece and the rules.
    began_ms : int or None
        When the steward saw the band begin; used where the judge marked no first change.
    devices : collection of str or None
        Pads that count, where the judge chose among several; all where None.

    Returns
    -------
    Tally
        Depends on the set alone.
    """
    kept = {event.id: event for event in events}
    chosen = sorted(
        (event for event in kept.values() if devices is None or event.device in devices),
        key=lambda event: (event.at_ms, event.device, event.seq, event.id),
    )
    undone = {event.of for event in chosen if event.kind == "undo"}
    standing: dict[Kind, list[PadEvent]] = defaultdict(list)
    for event in chosen:
        if event.id not in undone:
            standing[event.kind].append(event)
    taps = standing["tap"]
    start_ms = standing["start"][0].at_ms if standing["start"] else None
    stop_ms = standing["stop"][-1].at_ms if standing["stop"] else None
    begun_ms = _first_change(start_ms, began_ms, taps, pad)
    way = reached(
        begun_ms,
        [event.at_ms for event in standing["lead"]],
        stop_ms,
        row_ms=pad.row_ms,
        heads=pad.heads,
        changes=pad.changes,
    )
    lines = _charged(_lines(taps, standing["correct"], way, begun_ms), pad)
    lost = sum((line.faults for line in lines), Decimal(0))
    by_device: dict[str, int] = defaultdict(int)
    for tap in taps:
        by_device[tap.device] += 1
    return Tally(
        lines=lines,
        lost=lost,
        total=pad.total(lost),
        comment=standing["comment"][-1].text if standing["comment"] else "",
        start_ms=start_ms,
        stop_ms=stop_ms,
        by_device=by_device,
    )


def _first_change(start_ms: int | None, began_ms: int | None, taps: list[PadEvent], pad: Pad) -> float:
    """Return when the first change began: as marked, or after the opening rows since the steward's start."""
    if start_ms is not None:
        return start_ms
    if began_ms is not None:
        return began_ms + pad.opening * pad.row_ms
    return taps[0].at_ms if taps else 0


def _lines(taps: list[PadEvent], corrections: list[PadEvent], way: Reached, begun_ms: float) -> list[Tap]:
    """Return what is charged before any limit of a unit, in order of time."""
    corrected = {event.change: event.faults for event in corrections if event.change is not None}
    found = []
    for tap in taps:
        change = way.change(tap.at_ms)
        if change not in corrected:
            found.append(Tap(change, tap.faults or Decimal(0), _seconds(tap.at_ms - begun_ms)))
    for change, faults in corrected.items():
        if faults:
            found.append(Tap(change, faults, _seconds(way.moment(change) - begun_ms)))
    return sorted(found, key=lambda line: (line.time_s or 0.0, line.change or 0))


def _charged(lines: list[Tap], pad: Pad) -> tuple[Tap, ...]:
    """Return lines with what each adds to its unit, as the scheme limits it."""
    if pad.scheme.unit_rows == 0:
        return tuple(lines)
    units: dict[int, list[int]] = defaultdict(list)
    for index, line in enumerate(lines):
        units[pad.unit(line.change or 1)].append(index)
    charged = list(lines)
    for indices in units.values():
        shares = pad.scheme.shares(lines[index].faults for index in indices)
        for index, share in zip(indices, shares, strict=True):
            charged[index] = Tap(lines[index].change, share, lines[index].time_s)
    return tuple(charged)


def _seconds(ms: float) -> float:
    return max(floor(ms + 0.5) / 1000, 0.0)  # halves go up, as a browser rounds
