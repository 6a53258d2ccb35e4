"""Which contest or practice night rings where, and so with which voices it is heard.

A contest is heard with voices that are fixed when it is said where it rings, the same for every band; a practice night
with what its tower has newest.
"""

from sqlmodel import Session, col, select

from judging.errors import RuleError
from judging.piece import piece_from_file
from judging.store.audit import audit
from judging.store.columns import fields_of
from judging.store.lookups import piece_of
from judging.store.publications import refuse_if_shown
from judging.store.tables import StoredContest, StoredEntry
from judging.store.tower_tables import StoredPlace, StoredTower, StoredVoices
from judging.store.voices import voices_of_tower


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


def bells_of_entry(session: Session, entry: StoredEntry) -> int:
    """Return how many bells an entry's piece is for.

    Raises
    ------
    RuleError
        None is declared for it yet.
    """
    piece = piece_of(session, entry)
    return piece_from_file(piece.file_name, piece.text).bells
