"""The values that say what a method is: its place notation and the calls made in it."""

from collections.abc import Mapping
from dataclasses import dataclass

#: Names of the stages (Framework for Method Ringing).
STAGES: Mapping[str, int] = {
    "Singles": 3,
    "Minimus": 4,
    "Doubles": 5,
    "Minor": 6,
    "Triples": 7,
    "Major": 8,
    "Caters": 9,
    "Royal": 10,
    "Cinques": 11,
    "Maximus": 12,
    "Sextuples": 13,
    "Fourteen": 14,
    "Septuples": 15,
    "Sixteen": 16,
}


@dataclass(frozen=True, slots=True)
class Call:
    """A call: what is rung instead of the last changes before a point of the lead.

    Parameters
    ----------
    name : str
        As the conductor calls it, such as ``"bob"``; in a calling its first letter may stand for it.
    made : tuple of (int, str)
        For each point of the lead where it may be made: how many changes of the lead are over once it is made (0 for
        the whole lead), and the place notation rung instead of as many changes before that point.
    """

    name: str
    made: tuple[tuple[int, str], ...]


@dataclass(frozen=True, slots=True)
class Method:
    """A method.

    Parameters
    ----------
    title : str
        Its name with its stage, such as ``"Plain Bob Doubles"``.
    stage : int
        How many bells change.
    notation : str
        Place notation of one plain lead.
    calls : tuple of Call
        The calls usual in it.
    provenance : str
        Where notation and calls come from, and what verifies them.
    """

    title: str
    stage: int
    notation: str
    calls: tuple[Call, ...] = ()
    provenance: str = "as given"


def stage_of(title: str) -> int | None:
    """Stage named by the last word of a title; None where that word is no stage."""
    words = title.split()
    return STAGES.get(words[-1].capitalize()) if words else None
