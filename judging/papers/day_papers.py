"""Papers for the day itself: draw and timetable, the steward's sheet, slips with personal links."""

from collections.abc import Sequence
from dataclasses import dataclass

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
        Time of day at which the test piece is due, such as ``"14:15"``; empty where no timetable is kept.
    section, piece : str
        As printed.
    ticket : str
        The digits that decided its place in the draw.
    practice : str
        Time of day at which the band comes to the ropes to practise; empty where there is none.
    remark : str
        What sets it apart, in words.
    is_off : bool
        True where the band does not ring.
    """

    number: int
    band: str
    starts: str = ""
    section: str = ""
    piece: str = ""
    ticket: str = ""
    practice: str = ""
    remark: str = ""
    is_off: bool = False


@dataclass(frozen=True, slots=True)
class Rest:
    """A break between two bands: times of day, and what it is for."""

    starts: str
    ends: str
    what: str


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


def draw_list_pdf(lines: Sequence[Slot | Rest], *, heading: Heading, seed: str = "", ends: str = "") -> bytes:
    """Draw and timetable to pin up, A4.

    Parameters
    ----------
    lines : sequence of Slot or Rest
        In the order of ringing.
    heading : Heading
        The contest.
    seed : str
        Of the draw; where given, how to run it again is printed.
    ends : str
        Time of day by which the last band has rung; empty where no timetable is kept.

    Returns
    -------
    bytes
        PDF; the same values give the same bytes.

    Raises
    ------
    InputError
        Where nobody rings, or numbers are not 1, 2, 3 …
    """
    data = {"heading": heading, "lines": lines, "slots": _slots(lines), "seed": seed, "ends": ends}
    return typeset("draw_list", data, name=f"Draw: {heading.contest}")


def steward_sheet_pdf(lines: Sequence[Slot | Rest], *, heading: Heading, minutes_allowed: str = "") -> bytes:
    """Sheet for the ringing room, A4 landscape: times, truth, method, restarts, one line a band to fill in.

    Parameters
    ----------
    lines : sequence of Slot or Rest
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
    data = {"heading": heading, "lines": lines, "slots": _slots(lines), "minutes_allowed": minutes_allowed}
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


def _slots(lines: Sequence[Slot | Rest]) -> tuple[Slot, ...]:
    """Bands' turns alone, with numbers that follow each other."""
    slots = tuple(line for line in lines if isinstance(line, Slot))
    if not slots:
        raise InputError("draw", "holds no band, so there is no list to print")
    numbers = [slot.number for slot in slots]
    if numbers != list(range(1, len(slots) + 1)):
        raise InputError("draw", f"numbers bands {', '.join(map(str, numbers))}, not 1, 2, 3 … in the order of ringing")
    return slots
