"""What every paper of a contest has in common: whose contest it is, and what it can be checked against."""

from dataclasses import dataclass

from judging.errors import InputError


@dataclass(frozen=True, slots=True)
class Heading:
    """The facts at the head and foot of a paper, each as printed; an empty one is left out.

    Parameters
    ----------
    contest : str
        Title of the contest.
    district : str
        Who holds it.
    date : str
        Day of the contest, in words, such as ``"14 June 2025"``.
    section : str
        Section the paper is about.
    state : str
        What stands of it, such as ``"provisional"``; empty when final.
    revision : int
        1 for the first result; a correction makes the next.
    fingerprint : str
        Of the rules.
    audit_head : str
        Head of the audit chain when the paper was made.
    """

    contest: str
    district: str = ""
    date: str = ""
    section: str = ""
    state: str = ""
    revision: int = 1
    fingerprint: str = ""
    audit_head: str = ""

    def __post_init__(self) -> None:
        """Refuse a revision that cannot be."""
        if self.revision < 1:
            raise InputError("revision", f"is {self.revision}, but the first is 1")
