"""Method + calling → rows: a calling has one call (or plain) for each stretch of the lead."""

from dataclasses import dataclass

from judging.errors import InputError
from judging.piece.lead import PLAIN, Lead
from judging.piece.ringing import Ringing
from judging.piece.rows import row_text

#: A bell passes through every place within a course, and a course ends; calls may make either take longer.
MOST_STRETCHES = 200


def join(ringing: Ringing, lead: Lead, where: str) -> None:
    """Go on in the method, or begin it: where another was rung before, the conductor calls its name.

    Raises
    ------
    InputError
        It is to be begun at a change that a lead does not have.
    """
    if ringing.method is lead:
        return
    if ringing.begin_at >= len(lead.changes):
        problem = f"is change {ringing.begin_at + 1}, but a lead of {lead.title} has {len(lead.changes)}"
        raise InputError(f"{where}, begin_at_change", problem)
    if ringing.method is not None:
        ringing.label("call", lead.title, ahead=1)
    ringing.method = lead
    ringing.at_in_lead, ringing.begin_at = ringing.begin_at, 0


def ring_stretch(ringing: Ringing, lead: Lead, call: str, where: str) -> None:
    """Ring to the next calling point, with labels."""
    stretch = lead.stretch(ringing.at_in_lead, call, where)
    if call != PLAIN:
        ringing.label("call", call, ahead=stretch.call_at + 1)
    rows = ringing.row[stretch.table]
    if stretch.lead_head_at is not None:
        ringing.label("lead head", row_text(rows[stretch.lead_head_at]), ahead=stretch.lead_head_at + 1)
    ringing.add(rows)
    ringing.at_in_lead = stretch.ends_at
    ringing.ends = "before the next call"


@dataclass(frozen=True, slots=True)
class Called:
    """A method with a call, or plain, for each stretch.

    Parameters
    ----------
    lead : Lead
        The method.
    calling : tuple of str
        Names of calls and ``"plain"``.
    where : str
        Where the calling was written.
    """

    lead: Lead
    calling: tuple[str, ...]
    where: str

    def ring(self, ringing: Ringing) -> None:
        """Add the rows of every stretch."""
        join(ringing, self.lead, self.where)
        for number, call in enumerate(self.calling, start=1):
            ring_stretch(ringing, self.lead, call, f"{self.where}, call {number}")

    def about(self) -> int:
        """About how many changes."""
        return len(self.calling) * self.lead.shortest


@dataclass(frozen=True, slots=True)
class PlainCourse:
    """A method rung plain until the row it began from comes again.

    Parameters
    ----------
    lead : Lead
        The method.
    where : str
        Where it was written.
    """

    lead: Lead
    where: str

    def ring(self, ringing: Ringing) -> None:
        """Add the course."""
        join(ringing, self.lead, self.where)
        begin, at, length = ringing.row, ringing.at_in_lead, len(self.lead.changes)
        back = False
        while not back:
            before = ringing.at_in_lead
            stretch = self.lead.stretch(before, PLAIN, self.where)
            index = (at - before - 1) % length
            back = index < len(stretch.table) and bool((ringing.row[stretch.table[index]] == begin).all())
            ring_stretch(ringing, self.lead, PLAIN, self.where)
        ringing.leave_out(len(stretch.table) - 1 - index)
        ringing.at_in_lead = at
        ringing.ends = "exactly"

    def about(self) -> int:
        """At least one lead."""
        return len(self.lead.changes)


def come_home(ringing: Ringing) -> None:
    """End a touch where rounds (or the row started from) comes up.

    Called lead by lead, it ends where that comes in the last stretch, or after it but before another call could be
    made: at handstroke, say, or in the middle of a lead. Called by positions, it goes on plain after the last call
    until that comes. Where it comes in neither way, the touch is left as it was called.
    """
    lead = ringing.method
    if ringing.ends == "exactly" or not isinstance(lead, Lead) or ringing.stop_at_home():
        return
    to_rounds = ringing.ends == "at rounds"
    called = [changes for made in lead.made.values() for changes in made.values()]
    spared = 0 if to_rounds else max(map(len, called), default=1)
    row, at = ringing.row, ringing.at_in_lead
    for stretches in range(1, MOST_STRETCHES + 1 if to_rounds else 2):
        stretch = lead.stretch(at, PLAIN, lead.title)
        ahead = row[stretch.table]
        count = ringing.home_in(ahead[: len(ahead) - spared])
        if count is not None:
            for _ in range(stretches):
                ring_stretch(ringing, lead, PLAIN, lead.title)
            ringing.leave_out(len(ahead) - count)
            return
        row, at = ahead[-1], stretch.ends_at
