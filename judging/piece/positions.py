"""A calling by the positions of an observation bell → rows.

A position is the place that the bell is in at the lead head the call makes. *Home* is the last place. The trade's other
words suit methods whose bob makes 4ths at the lead head: *In*, *Out* and *Make* (it runs in to 2nds, out to 3rds, makes
4ths), and on even numbers *Wrong* and *Middle* (last place but one, last but three). Any other position is a place:
``"5ths"``, ``5``, or a word the piece declares.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from judging.errors import InputError
from judging.piece.lead import PLAIN, Lead
from judging.piece.notation import ordinal_place
from judging.piece.ringing import Ringing
from judging.piece.touch import MOST_STRETCHES, join, ring_stretch

_FOURTHS_BOB_WORDS: Mapping[str, int] = {"In": 2, "Out": 3, "Make": 4}

#: Places before the last. On odd numbers only Home has one meaning. Middle is from memory, on eight and more.
_FROM_BEHIND: Mapping[str, int] = {"Home": 0, "Wrong": 1, "Middle": 3}


def place_of_position(word: str | int, lead: Lead, declared: Mapping[str, int], *, where: str) -> int:
    """Place, among those that change, that a position means.

    Parameters
    ----------
    word : str or int
        The position.
    lead : Lead
        The method.
    declared : mapping of str to int
        Words that the piece declares.
    where : str
        Where it was written, for the message.

    Returns
    -------
    int
        From 1 to the number of bells that change.

    Raises
    ------
    InputError
        Where it is no position of this method.
    """
    stage = len(lead.places)
    words = _words(lead, stage) | dict(declared) | {_ordinal(place): place for place in range(1, stage + 1)}
    place = word if isinstance(word, int) else {key.casefold(): at for key, at in words.items()}.get(word.casefold(), 0)
    if not 1 <= place <= stage:
        known = ", ".join(words)
        raise InputError(
            where,
            f"{word!r} is no position here; those of {lead.title} are {known}; "
            f"a word of your own is declared by its place, as [positions] with {word} = 3",
        )
    return place


def _words(lead: Lead, stage: int) -> dict[str, int]:
    """Words of the trade that have a meaning in this method."""
    words = {"Home": stage}
    bob = lead.made.get("bob", {}).get(len(lead.changes))
    makes_fourths = bob is not None and len(bob) == 1 and stage > 4 and bob[0][lead.places[3]] == lead.places[3]
    if makes_fourths:
        words |= _FOURTHS_BOB_WORDS
        if stage % 2 == 0:
            words |= {word: stage - back for word, back in _FROM_BEHIND.items() if stage - back > 4}
    return words


def _ordinal(place: int) -> str:
    return "1sts" if place == 1 else ordinal_place(place)


@dataclass(frozen=True, slots=True)
class CalledAt:
    """A method with calls at positions of the observation bell, plain leads between them.

    Parameters
    ----------
    lead : Lead
        The method.
    calls : tuple of (str, int)
        Each call's name, and the place (among those that change) in which it leaves the observation bell.
    observation : int
        The bell watched.
    where : str
        Where the calling was written.
    """

    lead: Lead
    calls: tuple[tuple[str, int], ...]
    observation: int
    where: str

    def ring(self, ringing: Ringing) -> None:
        """Add plain leads up to each call, and the lead with the call."""
        join(ringing, self.lead, self.where)
        for number, (call, place) in enumerate(self.calls, start=1):
            self._ring_to(ringing, call, place, f"{self.where}, call {number}")
        ringing.ends = "at rounds"

    def about(self) -> int:
        """At least a lead for each call."""
        return len(self.calls) * self.lead.shortest

    def _ring_to(self, ringing: Ringing, call: str, place: int, where: str) -> None:
        index = self.lead.places[place - 1]
        for _ in range(MOST_STRETCHES):
            if self.lead.can_call(call, ringing.at_in_lead):
                reached = ringing.row[self.lead.stretch(ringing.at_in_lead, call, where).table[-1]]
                if reached[index] == self.observation:
                    ring_stretch(ringing, self.lead, call, where)
                    return
            ring_stretch(ringing, self.lead, PLAIN, where)
        raise InputError(
            where,
            f"bell {self.observation} does not come to {_ordinal(place)} with a {call} of {self.lead.title} within "
            f"{MOST_STRETCHES} leads",
        )
