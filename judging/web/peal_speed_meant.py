"""A peal speed as a person types it, and what was rung beside what was meant."""

import re

import numpy as np

from judging.errors import InputError
from judging.papers.drawings import peal_minutes
from judging.papers.words import peal_speed
from judging.striking.values import Count

#: Paces that towers ring at: a quick peal on six to a slow one on sixteen.
QUICKEST_MINUTES, SLOWEST_MINUTES = 90, 300

_SPEED = re.compile(r"(\d{1,2})\s*[h:.]\s*(\d{1,2})\s*m?|(\d{2,3})\s*(?:m|min|minutes)?")


def minutes_said(text: str, *, field: str) -> int:
    """Minutes of a peal speed such as ``2h50``, ``2:50`` or ``170``.

    Parameters
    ----------
    text : str
        As typed.
    field : str
        Of the form, for the message.

    Returns
    -------
    int

    Raises
    ------
    InputError
        It is none, or nobody rings at it.
    """
    found = _SPEED.fullmatch(text.strip().casefold())
    minutes = 0
    if found:
        minutes = int(found[3]) if found[3] else 60 * int(found[1]) + int(found[2])
    if not QUICKEST_MINUTES <= minutes <= SLOWEST_MINUTES:
        raise InputError(
            field,
            f'"{text}" is no time of a peal from {peal_speed(QUICKEST_MINUTES)} to {peal_speed(SLOWEST_MINUTES)}; '
            "write 3h10",
        )
    return minutes


def rung_minutes(count: Count) -> float:
    """Return the peal speed of a touch's judged rows, in minutes; of all its rows where none is judged."""
    minutes = peal_minutes(count)
    return float(np.mean(minutes[count.judged] if count.judged.any() else minutes))


def beside_meant(count: Count, meant: int) -> str:
    """What was rung beside the speed that was meant.

    Parameters
    ----------
    count : Count
        Of the touch.
    meant : int
        In minutes.

    Returns
    -------
    str
        A sentence: the two speeds, and by how much the gap between blows differs.
    """
    rung = rung_minutes(count)
    if abs(rung - meant) < 1:
        return f"{peal_speed(meant)} was meant, and rung"
    gap_ms, meant_ms = round(1000 * count.gap_s), round(1000 * count.gap_s * meant / rung)
    which, how = ("quicker", "closer together") if rung < meant else ("slower", "further apart")
    return (
        f"{peal_speed(meant)} was meant and {peal_speed(rung)} rung, {which} than meant: blows came "
        f"{abs(gap_ms - meant_ms)} ms {how}, every {gap_ms} ms instead of {meant_ms}"
    )
