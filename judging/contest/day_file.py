"""One recording of the whole day → a cut for each entry, by the steward's times.

The steward's clock and the recorder's need not agree: the time between them is the one at which most of the ringing
heard falls within the times noted. Practice and false starts lie outside the times, or are shorter than the touch
within them, and are left out and named.
"""

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from judging.contest.rules import check_identifier
from judging.errors import InputError

#: The steward's start and stop may be this far out, beside what the clocks differ by.
SLACK_S = 25.0
#: Sound kept before and after the ringing: the ear looks for the first blow itself.
MARGIN_S = 4.0
#: Another time between the clocks must explain at most this share of what the best one does.
_RIVAL_SHARE = 0.9
#: Ringing so like a time noted tells how far the steward's thumb was out.
_SURE = 0.5
#: Times between the clocks nearer than this are one.
_SAME_S = 45.0
_LATEST_S = 7 * 86_400.0
_CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}(?:\.\d+)?))?")
_TIMES, _CUTS = ["entry", "start", "stop"], ["entry", "begin_s", "end_s"]

Span = tuple[float, float]


@dataclass(frozen=True, slots=True)
class NotedTime:
    """When a band rang, by the steward's clock.

    Parameters
    ----------
    entry : str
        Whose.
    start_s, stop_s : float
        Seconds since midnight, or since anything else that is the same for the whole day.
    """

    entry: str
    start_s: float
    stop_s: float


@dataclass(frozen=True, slots=True)
class Cut:
    """One entry's part of the recording.

    Parameters
    ----------
    entry : str
        Whose.
    begin_s, end_s : float
        In the recording, with some sound before and after the ringing.
    left_out : tuple of (float, float)
        Other ringing within the times noted, such as a false start; begin and end, s.
    """

    entry: str
    begin_s: float
    end_s: float
    left_out: tuple[Span, ...] = ()


@dataclass(frozen=True, slots=True)
class DayCuts:
    """The whole day cut.

    Parameters
    ----------
    clock_s : float
        What to take off the steward's times to find them in the recording.
    cuts : tuple of Cut
        In order of time.
    silent : tuple of str
        Entries in whose times no ringing is heard.
    unclaimed : tuple of (float, float)
        Ringing outside all times noted: practice, or a band whose times are missing.
    """

    clock_s: float
    cuts: tuple[Cut, ...]
    silent: tuple[str, ...]
    unclaimed: tuple[Span, ...]


def cut_day(ringing: Sequence[Span], noted: Sequence[NotedTime], *, clock_s: float | None = None) -> DayCuts:
    """Cut a day's recording.

    Parameters
    ----------
    ringing : sequence of (float, float)
        Begin and end of each stretch of ringing, s, in order.
    noted : sequence of NotedTime
        The steward's.
    clock_s : float or None
        What to take off the times noted, where somebody knows; else it is found.

    Returns
    -------
    DayCuts

    Raises
    ------
    InputError
        There is no ringing, or it fits the times noted in more than one way.
    """
    if not ringing:
        raise InputError("day recording", "no ringing was found in it; was the recorder running, and near the bells?")
    times = sorted(noted, key=lambda time: time.start_s)
    clock_s = _clock(ringing, times) if clock_s is None else clock_s
    cuts, silent, claimed = [], [], set()
    for time in times:
        begin_s, end_s = time.start_s - clock_s - SLACK_S, time.stop_s - clock_s + SLACK_S
        inside = [
            span
            for span in ringing
            if span not in claimed and _shared(span, (begin_s, end_s)) > (span[1] - span[0]) / 2
        ]
        if not inside:
            silent.append(time.entry)
            continue
        touch = max(inside, key=lambda span: span[1] - span[0])
        claimed |= set(inside)
        others = tuple(span for span in inside if span != touch)
        cuts.append(Cut(time.entry, max(0.0, touch[0] - MARGIN_S), touch[1] + MARGIN_S, others))
    unclaimed = tuple(span for span in ringing if span not in claimed)
    return DayCuts(round(clock_s, 1), tuple(cuts), tuple(silent), unclaimed)


def _clock(ringing: Sequence[Span], times: Sequence[NotedTime]) -> float:
    """Return the time between the clocks that explains the ringing best."""
    rung = np.array(ringing)
    meant = np.array([(time.start_s, time.stop_s) for time in times])
    tried = np.unique(meant[:, None, 0] - rung[None, :, 0])
    likeness = _likeness(meant[None, :, None, :] - tried[:, None, None, None], rung)
    fits = likeness.max(axis=2).sum(axis=1)
    best = int(fits.argmax())
    rivals = np.where(np.abs(tried - tried[best]) > _SAME_S, fits, 0.0)
    if rivals.max() > _RIVAL_SHARE * fits[best]:
        raise InputError(
            "day recording",
            f"its ringing fits the times noted in more than one way (the recording began at {clock_text(tried[best])}, "
            f"or at {clock_text(tried[rivals.argmax()])}, by the steward's clock); say when it began",
        )
    alike = likeness[best]
    begun = [meant[row, 0] - rung[alike[row].argmax(), 0] for row in range(len(meant)) if alike[row].max() > _SURE]
    return float(np.median(begun)) if begun else float(tried[best])


def _likeness(one: NDArray[np.float64], other: NDArray[np.float64]) -> NDArray[np.float64]:
    """Time that spans (..., 2) share, over the time that either takes: 1 where they are the same."""
    shared = np.maximum(0.0, np.minimum(one[..., 1], other[..., 1]) - np.maximum(one[..., 0], other[..., 0]))
    either = one[..., 1] - one[..., 0] + other[..., 1] - other[..., 0] - shared
    likeness: NDArray[np.float64] = shared / either
    return likeness


def _shared(one: Span, other: Span) -> float:
    return max(0.0, min(one[1], other[1]) - max(one[0], other[0]))


def read_times(text: str, *, name: str) -> tuple[NotedTime, ...]:
    """Read the steward's times: CSV with the header ``entry,start,stop``, each a clock's time or seconds.

    The day's ringing is taken to lie within one day of the steward's clock.

    Parameters
    ----------
    text : str
        Of the file.
    name : str
        Its name, for messages.

    Returns
    -------
    tuple of NotedTime

    Raises
    ------
    InputError
        With the line, what was found and the likely cause.
    """
    times = []
    for where, (entry, start, stop) in _lines(text, name, _TIMES):
        start_s, stop_s = read_clock(start, where), read_clock(stop, where)
        if stop_s <= start_s:
            raise InputError(where, f"{entry} stops at {stop}, not after it starts at {start}")
        times.append(NotedTime(entry, start_s, stop_s))
    return tuple(times)


def holds_cuts(text: str) -> bool:
    """Whether a table has cuts, and not the steward's times."""
    return next(csv.reader(io.StringIO(text)), [])[:3] == _CUTS


def read_cuts(text: str, *, name: str) -> tuple[Cut, ...]:
    """Read cuts that were looked at and perhaps moved, as `cuts_text` writes them.

    Raises
    ------
    InputError
        With the line, what was found and the likely cause.
    """
    cuts = []
    for where, (entry, begin, end) in _lines(text, name, _CUTS):
        begin_s, end_s = read_clock(begin, where), read_clock(end, where)
        if end_s <= begin_s:
            raise InputError(where, f"the cut of {entry} ends at {end}, not after it begins at {begin}")
        cuts.append(Cut(entry, begin_s, end_s))
    return tuple(cuts)


def _lines(text: str, name: str, header: list[str]) -> list[tuple[str, list[str]]]:
    """Lines of a table whose first column is an entry's id, each once, with the place of each."""
    rows = [
        (number, [cell.strip() for cell in row])
        for number, row in enumerate(csv.reader(io.StringIO(text, newline="")), 1)
        if any(cell.strip() for cell in row)
    ]
    if not rows or rows[0][1] != header:
        raise InputError(name, f"does not begin with the header {','.join(header)}")
    if len(rows) == 1:
        raise InputError(name, "has nothing under its header")
    seen: set[str] = set()
    for number, row in rows[1:]:
        where = f"{name}, line {number}"
        if len(row) != len(header):
            raise InputError(where, f"{len(row)} columns, where {', '.join(header)} are needed")
        check_identifier(row[0], where)
        if row[0] in seen:
            raise InputError(where, f"{row[0]} stands in the table already; give the touch that is judged, once")
        seen.add(row[0])
    return [(f"{name}, line {number}", row) for number, row in rows[1:]]


def cuts_text(cuts: Sequence[Cut]) -> str:
    """Cuts as CSV text, ``entry,begin_s,end_s``, to be looked at, moved and given back."""
    return ",".join(_CUTS) + "\n" + "".join(f"{cut.entry},{cut.begin_s:.1f},{cut.end_s:.1f}\n" for cut in cuts)


def read_clock(text: str, where: str) -> float:
    """Seconds of a clock's time such as 14:03 or 14:03:20, or of a plain number.

    Raises
    ------
    InputError
        It is neither.
    """
    found = _CLOCK.fullmatch(text)
    if found and int(found[1]) < 24 and int(found[2]) < 60 and float(found[3] or 0) < 60:
        return 3600.0 * int(found[1]) + 60.0 * int(found[2]) + float(found[3] or 0)
    try:
        seconds = float(text)
    except ValueError:
        seconds = float("nan")
    if ":" in text or not 0 <= seconds <= _LATEST_S:
        raise InputError(where, f'"{text[:40]}" is no time such as 14:03:20, nor a number of seconds')
    return seconds


def clock_text(seconds: float) -> str:
    """A time as a clock shows it, 14:03:20; a minus before one of the day before."""
    whole = round(abs(seconds))
    return f"{'−' if seconds < 0 else ''}{whole // 3600:02}:{whole // 60 % 60:02}:{whole % 60:02}"
