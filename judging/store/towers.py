"""Towers: bells, and one place of the recorder among them; made, changed and erased."""

from sqlmodel import Session, col, select

from judging.errors import InputError, RuleError
from judging.store.audit import audit
from judging.store.columns import fields_of
from judging.store.places import places_at
from judging.store.tower_tables import StoredTower, StoredVoices
from judging.store.voices import voices_of_tower

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
