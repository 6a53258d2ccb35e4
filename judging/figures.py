"""Figures as people read them, the same in a reason, on a page, on paper and in a terminal: 18½ faults, ¼, −0.33."""

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

#: The part after the whole number that has a sign of its own.
_VULGAR = {Fraction(1, 4): "¼", Fraction(1, 2): "½", Fraction(3, 4): "¾"}

#: Units of which there can be one.
_COUNTED = frozenset({"faults", "marks", "rows", "blows"})


def figure(number: Decimal) -> str:
    """Return a number as it is read: quarters and halves as signs, anything finer as a decimal.

    Parameters
    ----------
    number : Decimal
        Any finite number.

    Returns
    -------
    str
        Such as ``"18½"``, ``"½"``, ``"−0.33"`` or ``"74"``, with a true minus sign.

    Examples
    --------
    >>> figure(Decimal("18.5")), figure(Decimal("0.50")), figure(Decimal("-0.327")), figure(Decimal("1E+1"))
    ('18½', '½', '−0.327', '10')
    """
    sign = "−" if number < 0 else ""
    number = abs(number)
    whole = int(number)
    sign_of_part = _VULGAR.get(Fraction(number) - whole)
    if sign_of_part:
        return f"{sign}{whole or ''}{sign_of_part}"
    text = f"{number:f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return sign + text


def counted(number: Decimal, unit: str) -> str:
    """Return a figure with its unit, in the singular for one and for a part of one.

    Examples
    --------
    >>> counted(Decimal("0.5"), "faults"), counted(Decimal("0.2"), "faults"), counted(Decimal("92.3"), "%")
    ('½ fault', '0.2 faults', '92.3 %')
    """
    said = figure(number)
    if unit in _COUNTED and said.removeprefix("−") in {"1", *_VULGAR.values()}:
        unit = unit.removesuffix("s")
    return f"{said} {unit}".rstrip()


def some(count: int, what: str) -> str:
    """Return how many there are of something that is counted in whole numbers.

    Examples
    --------
    >>> some(1, "change"), some(3, "change"), some(2, "minute begun over time")
    ('1 change', '3 changes', '2 minutes begun over time')
    """
    first, *rest = what.split(" begun", 1)
    return " begun".join([f"{count} {first if count == 1 else first + 's'}", *rest])


def together(words: Sequence[str]) -> str:
    """Return words in a row as people say them; there is at least one.

    Examples
    --------
    >>> together(["3"]), together(["3", "4"]), together(["3", "4", "6"])
    ('3', '3 and 4', '3, 4 and 6')
    """
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
