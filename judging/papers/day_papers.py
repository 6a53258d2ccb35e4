"""Papers for the day itself: draw and timetable, the steward's sheet, slips with personal links."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal

from judging.errors import InputError
from judging.papers.certificate import qr_svg
from judging.papers.heading import Heading
from judging.papers.typesetting import typeset


@dataclass(frozen=True, slots=True)
class Slot:
    """One band's turn.

    Parameters
    ----------
    number : int
        In the order of ringing, from 1.
    band : str
        As the reader may see it; empty on a list that judges could see.
    starts : str
        Time of day, such as ``"14:15"``; empty where no timetable is kept.
    section, piece : str
        As printed.
    ticket : str
        The digits that decided its place in the draw.
    """

    number: int
    band: str
    starts: str = ""
    section: str = ""
    piece: str = ""
    ticket: str = ""


@dataclass(frozen=True, slots=True)
class LinkSlip:
    """A personal link on paper, given into the hand of the one person it is for.

    Parameters
    ----------
    role, name : str
        Such as ``"Judge"`` and the judge's name or the band's.
    address : str
        The whole address, opened once.
    until : str
        When it lapses, in words; empty where it does not.
    """

    role: str
    name: str
    address: str
    until: str = ""


def timetable(first: datetime, slot_minutes: Sequence[Decimal]) -> tuple[str, ...]:
    """Times of day at which each band begins.

    Parameters
    ----------
    first : datetime
        When the first band begins.
    slot_minutes : sequence of Decimal
        How long each band has, in the order of ringing.

    Returns
    -------
    tuple of str
        One a band, to the minute (begun minutes are dropped).

    Raises
    ------
    InputError
        Where a slot has no length.

    Examples
    --------
    >>> timetable(datetime(2025, 6, 14, 14, 0), [Decimal(15), Decimal("12.5"), Decimal(15)])
    ('14:00', '14:15', '14:27')
    """
    times, now = [], first
    for number, minutes in enumerate(slot_minutes, 1):
        if minutes <= 0:
            raise InputError(f"slot of band {number}", f"{minutes} minutes is no time to ring in")
        times.append(f"{now:%H:%M}")
        now += timedelta(minutes=float(minutes))
    return tuple(times)


def draw_list_pdf(slots: Sequence[Slot], *, heading: Heading, seed: str = "") -> bytes:
    """Draw and timetable to pin up, A4.

    Parameters
    ----------
    slots : sequence of Slot
        In the order of ringing.
    heading : Heading
        The contest.
    seed : str
        Of the draw; where given, how to run it again is printed.

    Returns
    -------
    bytes
        PDF; the same values give the same bytes.

    Raises
    ------
    InputError
        Where nobody rings, or numbers are not 1, 2, 3 …
    """
    _check(slots)
    return typeset("draw_list", {"heading": heading, "slots": slots, "seed": seed}, name=f"Draw: {heading.contest}")


def steward_sheet_pdf(slots: Sequence[Slot], *, heading: Heading, minutes_allowed: str = "") -> bytes:
    """Sheet for the ringing room, A4 landscape: times, truth, method, restarts, one line a band to fill in.

    Parameters
    ----------
    slots : sequence of Slot
        In the order of ringing.
    heading : Heading
        The contest.
    minutes_allowed : str
        What the rules allow for practice and test piece, in words.

    Returns
    -------
    bytes
        PDF; the same values give the same bytes.

    Raises
    ------
    InputError
        Where nobody rings, or numbers are not 1, 2, 3 …
    """
    _check(slots)
    data = {"heading": heading, "slots": slots, "minutes_allowed": minutes_allowed}
    return typeset("steward_sheet", data, name=f"Steward's sheet: {heading.contest}")


def link_slips_pdf(slips: Sequence[LinkSlip], *, heading: Heading) -> bytes:
    """Slips to cut apart, eight on an A4, each with its QR code.

    Parameters
    ----------
    slips : sequence of LinkSlip
        At least one.
    heading : Heading
        The contest.

    Returns
    -------
    bytes
        PDF; the same values give the same bytes.

    Raises
    ------
    InputError
        Where there is no slip, or an address is empty or longer than a QR code of this size can be read from.
    """
    if not slips:
        raise InputError("slips", "there are none to print")
    for slip in slips:
        # A phone reads a 26 mm square up to about 60 modules across, which at level M holds 300 bytes (ISO/IEC 18004).
        if not 0 < len(slip.address.encode()) <= 300:
            raise InputError(f"slip for {slip.name}", f"its address has {len(slip.address)} characters, not 1 to 300")
    data = [{"slip": slip, "square": qr_svg(slip.address)} for slip in slips]
    return typeset("link_slips", {"heading": heading, "slips": data}, name=f"Personal links: {heading.contest}")


def _check(slots: Sequence[Slot]) -> None:
    if not slots:
        raise InputError("draw", "holds no band, so there is no list to print")
    numbers = [slot.number for slot in slots]
    if numbers != list(range(1, len(slots) + 1)):
        raise InputError("draw", f"numbers bands {', '.join(map(str, numbers))}, not 1, 2, 3 … in the order of ringing")
