"""How pages write figures and times, beyond what papers already have words for: plain functions, used as filters."""

from datetime import datetime
from decimal import Decimal

from judging import figures
from judging.papers import words


def figure(value: Decimal | float | None) -> str:
    """Return a number as it is read, ``–`` where there is none.

    Parameters
    ----------
    value : Decimal, float or None
        A count, a mark or a charge; a float is read as the digits it prints.

    Returns
    -------
    str
        Such as ``18½``, ``−0.33`` or ``–``.
    """
    if value is None:
        return "–"
    return figures.figure(value if isinstance(value, Decimal) else Decimal(str(value)))


def stopped(sentence: str) -> str:
    """Return a sentence with a full stop, unless it ends already."""
    return sentence if not sentence or sentence[-1] in ".?!…" else f"{sentence}."


def minutes(time_s: float) -> str:
    """Return a time of a recording without tenths, such as ``1:07``."""
    whole = max(int(time_s), 0)
    return f"{whole // 60}:{whole % 60:02d}"


def moment(when: datetime) -> str:
    """Return a date and a time of day by this computer's clock, such as ``14 June 2025, 15:20``."""
    return f"{day(when)}, {clock(when)}"


def day(when: datetime) -> str:
    """Return a date by this computer's clock, such as ``14 June 2025``."""
    return words.day_in_words(when.astimezone().date())


def clock(when: datetime) -> str:
    """Return a time of day by this computer's clock, which is the one on the tower's wall, such as ``15:20``."""
    return f"{when.astimezone():%H:%M}"
