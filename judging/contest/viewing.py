"""Who sees which name: one function, used by every page, paper, export and answer.

Judges must not know which band rings, so until the result is final they see numbers, and so does everything that a
judge could open: the public pages, another band's pages. Organiser and steward see names. A band sees its own.
"""

from dataclasses import dataclass, field
from typing import Literal

from judging.contest.phases import Phase
from judging.contest.values import Entry

Role = Literal["organiser", "steward", "judge", "shadow judge", "band", "public"]

#: Roles that run the contest and read the draw list aloud.
_KNOWS_NAMES: frozenset[Role] = frozenset({"organiser", "steward"})


@dataclass(frozen=True, slots=True)
class Viewer:
    """Somebody who looks.

    Parameters
    ----------
    role : Role
        What they are here as.
    own : frozenset of str
        Entries that are theirs; for a band.
    """

    role: Role = "public"
    own: frozenset[str] = field(default_factory=frozenset)


def sees_name(entry: Entry, viewer: Viewer, phase: Phase, *, was_final: bool = False) -> bool:
    """Whether somebody may see a band's name now; what has been final once is known, while it is corrected too."""
    if phase is Phase.FINAL or was_final or viewer.role in _KNOWS_NAMES:
        return True
    return viewer.role == "band" and entry.id in viewer.own


def display_name(entry: Entry, viewer: Viewer, phase: Phase, *, was_final: bool = False) -> str:
    """Name of an entry as somebody may see it now.

    Parameters
    ----------
    entry : Entry
        With its number in the drawn order.
    viewer : Viewer
        Who looks.
    phase : Phase
        Where the contest is.
    was_final : bool
        Whether a result has been final and is being corrected.

    Returns
    -------
    str
        The band's name, or ``"Band 7"``, or ``"A band"`` before the draw.
    """
    if sees_name(entry, viewer, phase, was_final=was_final):
        return entry.band
    return "A band" if entry.number is None else f"Band {entry.number}"
