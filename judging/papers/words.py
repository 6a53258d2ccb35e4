"""Places, paces and times as people read them on paper and page: joint second, 2h47, 1:32.4."""

import math
from datetime import date, time

from judging.marks.rules import Policy

#: How the judges' figures are combined, as the end of "the mark is".
POLICIES: dict[Policy, str] = {
    "sum": "the sum of the judges' figures",
    "mean": "the mean of the judges' figures",
    "ratio": "the mean of each judge's figure over that judge's own mean",
    "standard score": "the sum of each judge's standard score",
    "placings": "the total of each judge's placings",
    "majority of placings": "the best place that more than half of the judges gave or bettered",
    "agreed mark": "the judges' one agreed mark",
}

_ORDINALS = [
    "First",
    "Second",
    "Third",
    "Fourth",
    "Fifth",
    "Sixth",
    "Seventh",
    "Eighth",
    "Ninth",
    "Tenth",
    "Eleventh",
    "Twelfth",
    "Thirteenth",
    "Fourteenth",
    "Fifteenth",
    "Sixteenth",
    "Seventeenth",
    "Eighteenth",
    "Nineteenth",
    "Twentieth",
]


def ordinal(number: int) -> str:
    """Ordinal in figures.

    Examples
    --------
    >>> [ordinal(n) for n in (1, 2, 3, 11, 22, 113)]
    ['1st', '2nd', '3rd', '11th', '22nd', '113th']
    """
    if number % 100 in {11, 12, 13}:
        return f"{number}th"
    ending = {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"


def stopped(sentence: str) -> str:
    """Sentence with a full stop, unless it ends already.

    Examples
    --------
    >>> stopped("4 led late"), stopped("Well rung!"), stopped("")
    ('4 led late.', 'Well rung!', '')
    """
    return sentence if not sentence or sentence[-1] in ".?!…" else f"{sentence}."


def place_in_words(place: int | None, *, tied: bool = False) -> str:
    """Place as a certificate has it.

    Examples
    --------
    >>> place_in_words(1), place_in_words(2, tied=True), place_in_words(31), place_in_words(None)
    ('First', 'Joint second', '31st', 'Unplaced')
    """
    if place is None:
        return "Unplaced"
    word = _ORDINALS[place - 1] if 1 <= place <= len(_ORDINALS) else ordinal(place)
    return f"Joint {word.lower()}" if tied else word


def peal_speed(minutes: float) -> str:
    """Pace as the time of 5,040 changes.

    Examples
    --------
    >>> peal_speed(167.2), peal_speed(179.7)
    ('2h47', '3h00')
    """
    whole = round(minutes)
    return f"{whole // 60}h{whole % 60:02d}"


def clock(time_s: float) -> str:
    """Time from the start of the recording.

    Examples
    --------
    >>> clock(92.44), clock(5.0), clock(59.97), clock(3671.0)
    ('1:32.4', '0:05.0', '1:00.0', '61:11.0')
    """
    tenths = round(time_s * 10)
    return f"{tenths // 600}:{tenths % 600 // 10:02d}.{tenths % 10}"


def time_of_day(moment: time | None) -> str:
    """Time of day to the minute; a begun minute is dropped, and no time is no words.

    Examples
    --------
    >>> time_of_day(time(9, 5, 59)), time_of_day(None)
    ('09:05', '')
    """
    return f"{moment:%H:%M}" if moment else ""


def twelve(digest: str) -> str:
    """First twelve digits of a digest in groups of four, as every paper prints it; a count before a hyphen is kept.

    Examples
    --------
    >>> twelve("5f0c9a7e21b44d10"), twelve("128-3f9a0c11d2e7aa"), twelve("")
    ('5f0c 9a7e 21b4', '128-3f9a 0c11 d2e7', '')
    """
    count, hyphen, rest = digest.replace(" ", "").rpartition("-")
    digits = rest[:12]
    return count + hyphen + " ".join(digits[start : start + 4] for start in range(0, len(digits), 4))


def day_in_words(day: date) -> str:
    """Date as it is said.

    Examples
    --------
    >>> day_in_words(date(2025, 6, 1))
    '1 June 2025'
    """
    return f"{day.day} {day:%B %Y}"


def safety_in_words(safety: float | None) -> str:
    """How safely a place is held, without false precision.

    Parameters
    ----------
    safety : float or None
        Share of resamples in which the entry holds this place or a better one.

    Returns
    -------
    str
        Empty where it cannot be said.

    Examples
    --------
    >>> safety_in_words(0.5599)
    'close (this place or a better one in 55 of 100 counts taken again)'
    """
    if safety is None:
        return ""
    share = math.floor(safety * 100 + 1e-9)  # never said to be surer than it is
    # Below two in three, the counts do not separate the two entries in any way a band could rely on (our own line).
    word = "safe" if share >= 90 else "fairly safe" if share >= 67 else "close"
    return f"{word} (this place or a better one in {share} of 100 counts taken again)"
