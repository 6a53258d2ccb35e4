"""RULES + ENTRIES + ORDER → TIMETABLE: when each band practises and rings, and when there is a break. Pure.

Each band has the time that its section declares, one after another in the drawn order, whatever the sections. Practice
comes first, the test piece after it. A break begins once the band that is due at its time has rung. A band that
withdraws after the draw leaves its time free: nobody is called to the ropes earlier than the timetable said.
"""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from judging.contest.day import home_of
from judging.contest.declared import RuleSet, Section
from judging.contest.values import Entry
from judging.errors import InputError

#: Any day will do: a timetable has times and no date.
_DAY = dt.date(2000, 1, 1)


@dataclass(frozen=True, slots=True)
class Turn:
    """One band's turn.

    Parameters
    ----------
    number : int
        In the order of ringing, from 1.
    entry : str
        Identifier.
    section : str
        The section in which it rings; empty where there is only one, without a name.
    practice : time or None
        When it comes to the ropes to practise; None without times, and where no practice is allowed.
    rings : time or None
        When its test piece is due; None without times.
    remark : str
        What sets it apart, in words: a scratch band, one that was late at the draw, one that does not ring.
    is_off : bool
        True where it does not ring, so that its time is free.
    """

    number: int
    entry: str
    section: str
    practice: dt.time | None
    rings: dt.time | None
    remark: str
    is_off: bool


@dataclass(frozen=True, slots=True)
class Pause:
    """A break: when it begins and ends, and what it is for."""

    begins: dt.time
    ends: dt.time
    what: str


@dataclass(frozen=True, slots=True)
class Timetable:
    """The day in order.

    Parameters
    ----------
    lines : tuple of Turn or Pause
        As they come.
    ends : time or None
        When the last band's time is over; None without times.
    """

    lines: tuple[Turn | Pause, ...]
    ends: dt.time | None

    @property
    def turns(self) -> tuple[Turn, ...]:
        """The bands' turns alone."""
        return tuple(line for line in self.lines if isinstance(line, Turn))


def timetable(
    rules: RuleSet, entries: Iterable[Entry], order: Sequence[str], *, first: dt.time | None = None
) -> Timetable:
    """Timetable of a drawn contest.

    Parameters
    ----------
    rules : RuleSet
        As declared: the first band's time, breaks, and each section's slot and practice.
    entries : iterable of Entry
        All that are in the order, and others.
    order : sequence of str
        Identifiers in the order of ringing.
    first : time or None
        When the first band begins, where that is not as declared, such as when the day begins late.

    Returns
    -------
    Timetable
        Without times where no first time is declared, or a section that rings declares no slot.

    Raises
    ------
    InputError
        Where an entry of the order is not there or is in no section, or the last band would ring past midnight.
    """
    by_id = {entry.id: entry for entry in entries}
    for entry_id in order:
        if entry_id not in by_id:
            raise InputError("order of ringing", f'"{entry_id}" is in it and is no entry')
    rung = [by_id[entry_id] for entry_id in order]
    homes = [home_of(entry, rules) for entry in rung]
    begins = first or rules.first_band
    slots = [home.slot_minutes for home in homes if home.slot_minutes]
    if begins is None or len(slots) < len(homes) or not homes:
        return Timetable(tuple(_turn(*of, None) for of in zip(range(1, len(rung) + 1), rung, homes, strict=True)), None)
    now, breaks, lines = dt.datetime.combine(_DAY, begins), list(rules.breaks), list[Turn | Pause]()
    for number, (entry, home, slot) in enumerate(zip(rung, homes, slots, strict=True), 1):
        while breaks and now.time() >= breaks[0].at and _is_same_day(now):
            rest = breaks.pop(0)
            if number > 1:  # a day that begins late begins with ringing
                lines.append(Pause(now.time(), (now + _minutes(rest.minutes)).time(), rest.what))
                now += _minutes(rest.minutes)
        lines.append(_turn(number, entry, home, now))
        now += _minutes(slot)
    if not _is_same_day(now):
        raise InputError(
            "timetable", f"{len(rung)} bands from {begins:%H:%M} would ring past midnight; is a slot of minutes right?"
        )
    return Timetable(tuple(lines), now.time())


def remark_of(entry: Entry) -> str:
    """Return what sets an entry apart in the order of ringing, in words; empty for most.

    Examples
    --------
    >>> remark_of(Entry("a", "Wick", scratch=True, late=True))
    'scratch band; rings after those that were drawn'
    """
    if entry.withdrawn:
        return "withdrawn; this time is free"
    late = "rings after those that were drawn" if entry.late else ""
    return "; ".join(part for part in ("scratch band" if entry.scratch else "", late) if part)


def _turn(number: int, entry: Entry, home: Section, begins: dt.datetime | None) -> Turn:
    practice = home.practice_minutes or Decimal(0)
    return Turn(
        number=number,
        entry=entry.id,
        section=home.name,
        practice=begins.time() if begins and practice else None,
        rings=(begins + _minutes(practice)).time() if begins else None,
        remark=remark_of(entry),
        is_off=bool(entry.withdrawn),
    )


def _minutes(minutes: Decimal) -> dt.timedelta:
    return dt.timedelta(seconds=int(minutes * 60))


def _is_same_day(moment: dt.datetime) -> bool:
    return moment.date() == _DAY
