"""Where a contest or a practice night is rung: its tower, the voices it is heard with, and whether all are heard alike.

The same voices for every band of a section, or none. Voices help to say which bell struck and never when: times are
taken in each recording from its own bells. But a blow that is doubtful without them may be sure with them, so that a
band heard with them would be read more fully than one heard without.
"""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass

from fastapi.responses import HTMLResponse
from pydantic import BaseModel, ConfigDict, Field
from sqlmodel import Session

from judging.contest.day import home_of, piece_of
from judging.contest.values import ContestDay
from judging.errors import InputError, RuleError
from judging.jobs import enqueue_unheard, hear_again
from judging.store import (
    StoredContest,
    StoredStrikeLog,
    StoredTower,
    entries_of,
    hearing_of,
    place_of,
    places_of,
    set_place,
    strike_log_of,
    towers,
    voices_at,
    voices_of_tower,
)
from judging.web.contest_page import head_of
from judging.web.evidence_page import towers_to_keep_with
from judging.web.forms import form_of
from judging.web.pages import page
from judging.web.practice import is_practice
from judging.web.refusals import status_of
from judging.web.tower_page import voices_in_words
from judging.web.views import ContestView


class PlaceForm(BaseModel):
    """Where pieces on so many bells are rung."""

    model_config = ConfigDict(extra="forbid")

    bells: str = Field(default="", max_length=3)
    tower: str = Field(default="", max_length=12)
    voices: str = Field(default="", max_length=3)


@dataclass(frozen=True, slots=True)
class Choice:
    """A tower to choose: its number, its name with where the recorder stands, and what is kept there."""

    number: int
    name: str
    kept: str
    is_chosen: bool


@dataclass(frozen=True, slots=True)
class Place:
    """Where the pieces on so many bells are rung.

    Parameters
    ----------
    bells : int
        Of the pieces.
    choices : tuple of Choice
        Towers of so many bells.
    with_voices : bool
        Whether its voices are used, or were wanted and none are kept.
    sentence : str
        What that comes to.
    """

    bells: int
    choices: tuple[Choice, ...]
    with_voices: bool
    sentence: str


@dataclass(frozen=True, slots=True)
class BandHeard:
    """How one band's recording was heard: name and address of the band, and in words with which voices."""

    name: str
    address: str
    said: str
    is_unlike: bool


@dataclass(frozen=True, slots=True)
class VoicesToKeep:
    """A touch whose voices can be kept: its address, how many blows they were learnt from, and with which towers."""

    address: str
    blows: int
    towers: list[StoredTower]


def places_viewed(session: Session, view: ContestView, *bells: int) -> tuple[Place, ...]:
    """Return where a contest rings its pieces, for every number of bells in them and any others named."""
    numbers = {piece.bells for piece in view.judged.day.pieces.values()}
    numbers |= {place.bells for place in places_of(session, view.stored.id)} | set(bells)
    return tuple(_place(session, view.stored, number) for number in sorted(numbers))


def say_where(session: Session, view: ContestView, form: PlaceForm) -> None:
    """Say where a contest or a practice night is rung; where that changes the voices, a contest is heard again alike.

    Raises
    ------
    InputError
        There is no such tower, or no piece on so many bells.
    RuleError
        The result is shown, or the tower is of another number of bells.
    """
    contest = view.stored
    tower = _tower(session, form.tower)
    if not (form.bells.isascii() and form.bells.isdecimal() and 3 <= int(form.bells) <= 16):
        raise InputError("bells", f'"{form.bells}" is not a number of bells from 3 to 16')
    bells, is_night = int(form.bells), is_practice(contest)
    is_other = set_place(
        session,
        contest,
        bells,
        tower,
        with_voices=form.voices == "yes",
        follows_newest=is_night,
        who=view.visitor.who,
    )
    if is_night:
        enqueue_unheard(session, contest.id)  # what could not be heard by itself may be with voices
    elif is_other:
        hear_again(session, contest, bells)


def begins_with(session: Session, contest: StoredContest, bells: int) -> str:
    """Return with which kept voices a practice night is listened to at first, in words; empty for none."""
    voices = voices_at(session, contest, bells)
    if voices is None:
        return ""
    tower = session.get_one(StoredTower, voices.tower_id)
    return f"the voices kept at {tower.name} on {voices_in_words(voices)}"


def heard_unlike(session: Session, contest: StoredContest, day: ContestDay) -> tuple[str, ...]:
    """Return the entries heard with other voices than those in force here, where their section is not heard alike."""
    if not places_of(session, contest.id):
        return ()
    with_what: dict[str, dict[str, str]] = {}
    wanted: dict[str, str] = {}
    values = {entry.id: entry for entry in day.entries}
    for stored in entries_of(session, contest.id):
        log = strike_log_of(session, stored.id)
        entry = values[stored.key]
        if log is not None and log.origin == "heard" and entry.may_be_recorded:  # else it is not counted
            with_what.setdefault(home_of(entry, day.rules).name, {})[entry.id] = _voices_of(session, log)
            voices = voices_at(session, contest, piece_of(entry, day).bells)
            wanted[entry.id] = voices.sha256 if voices else ""
    return tuple(
        entry
        for section in with_what.values()
        if len(set(section.values())) > 1
        for entry, used in section.items()
        if used != wanted[entry]
    )


def voices_to_keep(session: Session, view: ContestView) -> VoicesToKeep | None:
    """Return from which touch of a practice night voices can be kept: that in which most was heard.

    Returns
    -------
    VoicesToKeep or None
        None where nothing was heard with a sure start, no tower is known for so many bells, or they are kept already.
    """
    found: list[VoicesToKeep] = []
    for entry in entries_of(session, view.stored.id):
        log = strike_log_of(session, entry.id)
        hearing = None if log is None else hearing_of(session, log)
        if log is None or hearing is None or not hearing.learnt:
            continue
        fitting = towers_to_keep_with(session, log)
        digest = hashlib.sha256(hearing.learnt).hexdigest()
        if any(kept.sha256 == digest for tower in fitting for kept in voices_of_tower(session, tower)):
            return None
        if fitting:
            found.append(VoicesToKeep(view.names.address(entry.key), hearing.blows, fitting))
    return max(found, key=lambda one: one.blows, default=None)


def place_page(
    session: Session,
    view: ContestView,
    *,
    typed: Mapping[str, str] | None = None,
    error: InputError | RuleError | None = None,
) -> HTMLResponse:
    """Return the page of where a contest is rung, with what is wrong with what was sent."""
    contest, judged = view.stored, view.judged
    unlike = set(heard_unlike(session, contest, judged.day))
    bands = []
    for entry in sorted(entries_of(session, contest.id), key=lambda one: judged.entry(one.key).number or 0):
        log = strike_log_of(session, entry.id)
        if log is not None:
            bands.append(
                BandHeard(
                    view.names.name(entry.key), view.names.address(entry.key), _how(session, log), entry.key in unlike
                )
            )
    return page(
        "where_rung.html",
        status=200 if error is None else status_of(error),
        viewer=view.visitor,
        contest=head_of(judged),
        places=places_viewed(session, view),
        bands=bands,
        unlike=bool(unlike),
        form=form_of(typed, error=error, fields=()),
    )


def _place(session: Session, contest: StoredContest, bells: int) -> Place:
    place = place_of(session, contest.id, bells)
    choices = []
    for tower in towers(session):
        if tower.bells == bells:
            newest = voices_of_tower(session, tower)[:1]
            kept = f"voices of {voices_in_words(newest[0])}" if newest else "no voices kept yet"
            is_chosen = place is not None and place.tower_id == tower.id
            choices.append(Choice(tower.id, f"{tower.name}, recorder {tower.recorder}", kept, is_chosen))
    if place is None:
        return Place(bells, tuple(choices), with_voices=True, sentence="")
    tower = session.get_one(StoredTower, place.tower_id)
    voices = voices_at(session, contest, bells)
    newest = voices_of_tower(session, tower)[:1]
    if voices is not None:
        sentence = f"Heard with the voices kept at {tower.name} on {voices_in_words(voices)}."
        if newest and newest[0].id != voices.id:
            sentence += f" Newer ones are kept there since: {voices_in_words(newest[0])}; set it again to use them."
    else:
        sentence = f"Heard without kept voices{'' if newest else ', since none are kept there yet'}."
    return Place(
        bells,
        tuple(choices),
        with_voices=place.follows_newest or place.voices_id is not None or not newest,
        sentence=sentence,
    )


def _tower(session: Session, number: str) -> StoredTower | None:
    if not number:
        return None
    tower = session.get(StoredTower, int(number)) if number.isascii() and number.isdecimal() else None
    if tower is None:
        raise InputError("tower", "is none of those listed")
    return tower


def _voices_of(session: Session, log: StoredStrikeLog) -> str:
    hearing = hearing_of(session, log)
    return "" if hearing is None else hearing.voices_sha256


def _how(session: Session, log: StoredStrikeLog) -> str:
    if log.origin == "given":
        return "Its strike log was given, and not heard here."
    hearing = hearing_of(session, log)
    return (hearing.said if hearing else "") or "Heard without kept voices."
