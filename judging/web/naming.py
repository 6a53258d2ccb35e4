"""Names and addresses of a contest's bands as one visitor may see them.

Before the result is final an address says a number and never an entry's identifier, which is often made from the
band's name.
"""

from dataclasses import dataclass

from judging.contest import Viewer, display_name, sees_name
from judging.contest.values import Entry
from judging.web.judged import Judged


@dataclass(frozen=True, slots=True)
class Names:
    """The names of one contest, for one visitor.

    Parameters
    ----------
    judged : Judged
        The contest.
    viewer : Viewer
        Who looks.
    """

    judged: Judged
    viewer: Viewer

    def name(self, entry_id: str) -> str:
        """Return a band's name or number."""
        judged = self.judged
        return display_name(judged.entry(entry_id), self.viewer, judged.phase, was_final=judged.was_final)

    def sees(self, entry_id: str) -> bool:
        """Whether the viewer sees a band's name."""
        return sees_name(self.judged.entry(entry_id), self.viewer, self.judged.phase)

    def all(self) -> dict[str, str]:
        """Return every band's name or number, by entry."""
        return {entry.id: self.name(entry.id) for entry in self.judged.day.entries}

    def address(self, entry_id: str) -> str:
        """Return the address of an entry's pages."""
        return f"/contests/{self.judged.slug}/bands/{address_key(self.judged.entry(entry_id))}"


def address_key(entry: Entry) -> str:
    """Return how addresses call an entry: by its number once there is a draw."""
    return entry.id if entry.number is None else f"band-{entry.number}"
