"""Towers: made, the voices kept there, and which contest or practice night rings where.

A contest is heard with voices that are fixed when it is said where it rings, the same for every band; a practice night
with what its tower has newest.
"""

import hashlib
import json
from typing import NamedTuple

from sqlmodel import Session, col, select

from judging.contest import Phase
from judging.errors import InputError, RuleError
from judging.piece import piece_from_file
from judging.store.audit import audit
from judging.store.contests import refuse_if_shown
from judging.store.lookups import piece_of
from judging.store.tables import StoredContest, StoredEntry, StoredRecording, StoredStrikeLog, fields_of, utc_now
from judging.store.tower_tables import StoredHearing, StoredPlace, StoredTower, StoredVoices

#: Longest name of a tower, and of where its recorder stands.
LONGEST_NAME, LONGEST_RECORDER = 80, 200
FEWEST_BELLS, MOST_BELLS = 3, 16


def towers(session: Session) -> list[StoredTower]:
    """Return all towers, by name."""
    return list(session.exec(select(StoredTower).order_by(col(StoredTower.name), col(StoredTower.id))).all())


def make_tower(session: Session, *, name: str, bells: int, recorder: str, who: str) -> StoredTower:
    """Make a tower.

    Parameters
    ----------
    session : Session
        A writing session.
    name : str
        Of the organiser's own choosing.
    bells : int
        That ring together there.
    recorder : str
        Where the recorder stands.
    who : str
        Who makes it.

    Raises
    ------
    InputError
        Its ``where`` is the field.
    """
    tower = StoredTower(name=_said(name, "name", LONGEST_NAME), bells=bells, recorder="")
    if not FEWEST_BELLS <= bells <= MOST_BELLS:
        raise InputError("bells", f"{bells} is not from {FEWEST_BELLS} to {MOST_BELLS}")
    tower.recorder = _said(recorder, "recorder", LONGEST_RECORDER)
    _refuse_twice(session, tower)
    session.add(tower)
    session.flush()
    audit(session, who=who, what="tower made", about=f"tower {tower.id}", after=_fields(tower))
    return tower


def change_tower(session: Session, tower: StoredTower, *, name: str, recorder: str, who: str) -> None:
    """Call a tower otherwise, or say more plainly where its recorder stands.

    Raises
    ------
    InputError
        Its ``where`` is the field; another place once something was learnt there, which is another tower.
    """
    before = _fields(tower)
    with session.no_autoflush:
        tower.name = _said(name, "name", LONGEST_NAME)
        moved = _said(recorder, "recorder", LONGEST_RECORDER)
        if moved != tower.recorder and (voices_of_tower(session, tower) or places_at(session, tower)):
            raise InputError(
                "recorder",
                "cannot be changed once voices are kept or something is rung there: they belong to this place of the "
                "recorder. Make another tower for the other place",
            )
        tower.recorder = moved
        _refuse_twice(session, tower)
    session.add(tower)
    audit(session, who=who, what="tower changed", about=f"tower {tower.id}", before=before, after=_fields(tower))


def erase_tower(session: Session, tower: StoredTower, *, who: str) -> None:
    """Erase a tower with its voices.

    Raises
    ------
    RuleError
        A contest or a practice night is said to ring there.
    """
    if places_at(session, tower):
        raise RuleError(f"{tower.name} cannot be erased: a contest or a practice night is said to ring there.")
    for voices in session.exec(select(StoredVoices).where(StoredVoices.tower_id == tower.id)):
        session.delete(voices)
    session.flush()
    session.delete(tower)
    audit(session, who=who, what="tower erased", about=f"tower {tower.id}", before=_fields(tower))


def keep_voices(
    session: Session, tower: StoredTower, log: StoredStrikeLog, *, learnt_from: str, who: str
) -> StoredVoices:
    """Keep with a tower the voices that were learnt from a recording; they are in force there from now on.

    Parameters
    ----------
    session : Session
        A writing session.
    tower : StoredTower
        Where the recorder stood.
    log : StoredStrikeLog
        What was heard of it.
    learnt_from : str
        The contest or the practice night, in words.
    who : str
        Who keeps them.

    Returns
    -------
    StoredVoices
        Kept twice, they are one.

    Raises
    ------
    RuleError
        Nothing was learnt: the log was given, its start is not sure, or the bells are of another number.
    """
    hearing = hearing_of(session, log)
    if hearing is None or not hearing.learnt:
        why = "its start is not sure" if not log.start_is_sure else "it was not heard here"
        raise RuleError(f"No voices can be kept from this touch: {why}.")
    bells = len(json.loads(hearing.clarity_json))
    if bells != tower.bells:
        raise RuleError(f"The voices are of {bells} bells, and {tower.name} is of {tower.bells}.")
    digest = hashlib.sha256(hearing.learnt).hexdigest()
    newest = voices_of_tower(session, tower)[:1]
    if newest and newest[0].sha256 == digest:
        return newest[0]
    voices = StoredVoices(
        tower_id=tower.id, sha256=digest, data=hearing.learnt, blows=hearing.blows, learnt_from=learnt_from[:200]
    )
    session.add(voices)
    session.flush()
    audit(
        session,
        who=who,
        what="voices kept",
        about=f"tower {tower.id}",
        before={"sha256": newest[0].sha256} if newest else "",
        after={"sha256": digest, "blows": voices.blows},
    )
    return voices


def voices_of_tower(session: Session, tower: StoredTower) -> list[StoredVoices]:
    """Return the voices kept with a tower that are not erased, newest first: the first are in force."""
    return list(
        session.exec(
            select(StoredVoices)
            .where(StoredVoices.tower_id == tower.id, col(StoredVoices.erased_at).is_(None))
            .order_by(col(StoredVoices.id).desc())
        ).all()
    )


def erase_voices(session: Session, voices: StoredVoices, *, who: str) -> None:
    """Erase voices; that there were some, and from what they were learnt, stays.

    Raises
    ------
    RuleError
        A contest that is not final is heard with them.
    """
    for place in session.exec(select(StoredPlace).where(StoredPlace.voices_id == voices.id)):
        contest = session.get_one(StoredContest, place.contest_id)
        if contest.phase != Phase.FINAL:
            raise RuleError(
                f"{contest.title} is heard with these voices, the same for every band; say there that it is heard "
                "without them first, or wait until its result is final."
            )
    voices.data, voices.erased_at = b"", utc_now()
    session.add(voices)
    session.flush()
    audit(
        session,
        who=who,
        what="voices erased",
        about=f"tower {voices.tower_id}",
        before={"sha256": voices.sha256, "blows": voices.blows},
    )


def set_place(
    session: Session,
    contest: StoredContest,
    bells: int,
    tower: StoredTower | None,
    *,
    with_voices: bool = True,
    follows_newest: bool = False,
    who: str,
) -> bool:
    """Say at which tower the pieces on so many bells are rung, and whether they are heard with its voices.

    Parameters
    ----------
    session : Session
        A writing session.
    contest : StoredContest
        Or a practice night.
    bells : int
        Of the pieces.
    tower : StoredTower or None
        None for nowhere that is known here.
    with_voices : bool
        Whether what is kept there is used.
    follows_newest : bool
        Whether that is what the tower has newest each time, as for a practice night. For a contest it is what the
        tower has now, fixed: every band is heard with the same.
    who : str
        Who says.

    Returns
    -------
    bool
        Whether recordings are heard with other voices from now on, so that those heard before are to be heard again.

    Raises
    ------
    RuleError
        The result is shown, or the tower is of another number of bells.
    """
    refuse_if_shown(session, contest)
    if tower is not None and tower.bells != bells:
        raise RuleError(f"{tower.name} is of {tower.bells} bells, and {bells} are rung here.")
    before, place = voices_at(session, contest, bells), place_of(session, contest.id, bells)
    was = "" if place is None else fields_of(place, "tower_id", "voices_id", "follows_newest")
    if tower is None:
        if place is not None:
            session.delete(place)
    else:
        place = place or StoredPlace(contest_id=contest.id, bells=bells, tower_id=tower.id, follows_newest=False)
        newest = voices_of_tower(session, tower)[:1] if with_voices else []
        place.tower_id = tower.id
        place.follows_newest = follows_newest and with_voices
        place.voices_id = newest[0].id if newest and not place.follows_newest else None
        session.add(place)
    session.flush()
    after = voices_at(session, contest, bells)
    audit(
        session,
        who=who,
        what="tower of a contest said",
        contest=contest.slug,
        about=f"{bells} bells",
        before=was,
        after="" if tower is None or place is None else fields_of(place, "tower_id", "voices_id", "follows_newest"),
    )
    return (before and before.sha256) != (after and after.sha256)


def place_of(session: Session, contest_id: int, bells: int) -> StoredPlace | None:
    """Return where the pieces on so many bells are rung, if that was said."""
    return session.get(StoredPlace, (contest_id, bells))


def places_of(session: Session, contest_id: int) -> list[StoredPlace]:
    """Return where a contest rings, by the number of bells."""
    return list(
        session.exec(
            select(StoredPlace).where(StoredPlace.contest_id == contest_id).order_by(col(StoredPlace.bells))
        ).all()
    )


def places_at(session: Session, tower: StoredTower) -> list[StoredPlace]:
    """Return what is rung at a tower, the newest contest or practice night first."""
    return list(
        session.exec(
            select(StoredPlace).where(StoredPlace.tower_id == tower.id).order_by(col(StoredPlace.contest_id).desc())
        ).all()
    )


def voices_at(session: Session, contest: StoredContest, bells: int) -> StoredVoices | None:
    """Return the voices that a recording on so many bells is heard with; None for none."""
    place = place_of(session, contest.id, bells)
    if place is None:
        return None
    if place.follows_newest:
        newest = voices_of_tower(session, session.get_one(StoredTower, place.tower_id))[:1]
        return newest[0] if newest else None
    found = None if place.voices_id is None else session.get_one(StoredVoices, place.voices_id)
    return found if found is not None and found.data else None


def add_hearing(session: Session, hearing: StoredHearing) -> None:
    """Keep how a strike log was heard, in the transaction that keeps the log and writes its entry in the trail."""
    session.add(hearing)
    session.flush()


def hearing_of(session: Session, log: StoredStrikeLog) -> StoredHearing | None:
    """Return how a strike log was heard; None where it was given, or heard before that was kept."""
    return session.get(StoredHearing, log.id)


class RungStretch(NamedTuple):
    """A stretch of ringing in a recording: from when to when, the share of the piece in it, whether it was heard."""

    begin_s: float
    end_s: float
    rung: float | None
    is_heard: bool


def stretches_of(hearing: StoredHearing | None) -> list[RungStretch]:
    """Return the stretches of ringing in the recording that a log was heard in; none where there are not several."""
    return [RungStretch(*one) for one in json.loads(hearing.segments_json)] if hearing is not None else []


def hearing_of_recording(session: Session, recording: StoredRecording) -> StoredHearing | None:
    """Return how a recording was heard last; None where it was not yet."""
    return session.exec(
        select(StoredHearing)
        .join(StoredStrikeLog, col(StoredStrikeLog.id) == col(StoredHearing.strike_log_id))
        .where(StoredStrikeLog.recording_id == recording.id)
        .order_by(col(StoredHearing.strike_log_id).desc())
    ).first()


def erase_hearings(session: Session, logs: tuple[StoredStrikeLog, ...]) -> None:
    """Erase how some strike logs were heard, which are erased next; only a practice night's can be."""
    for log in logs:
        hearing = hearing_of(session, log)
        if hearing is not None:
            session.delete(hearing)
    session.flush()


def bells_of_entry(session: Session, entry: StoredEntry) -> int:
    """Return how many bells an entry's piece is for.

    Raises
    ------
    RuleError
        None is declared for it yet.
    """
    piece = piece_of(session, entry)
    return piece_from_file(piece.file_name, piece.text).bells


def _said(text: str, field: str, longest: int) -> str:
    said = " ".join(text.split())
    if not said:
        raise InputError(field, "is empty")
    if len(said) > longest:
        raise InputError(field, f"has {len(said)} characters, more than {longest}")
    return said


def _refuse_twice(session: Session, tower: StoredTower) -> None:
    twice = [
        other
        for other in towers(session)
        if other.id != tower.id and (other.name, other.recorder) == (tower.name, tower.recorder)
    ]
    if twice:
        raise InputError("name", "there is one of that name with its recorder in that place already")


def _fields(tower: StoredTower) -> dict[str, object]:
    return dict(fields_of(tower, "name", "bells", "recorder"))
