"""Judges, known to the rules and to the day."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Judge:
    """One judge, or a panel that gives one agreed mark.

    Parameters
    ----------
    id : str
        Stable identifier.
    name : str
        As printed.
    """

    id: str
    name: str
