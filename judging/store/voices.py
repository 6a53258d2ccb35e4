"""The bells' voices as they are kept with a tower, a few kilobytes each, newest first."""

import hashlib
import json

from sqlmodel import Session, col, select

from judging.contest import Phase
from judging.errors import RuleError
from judging.store.audit import audit
from judging.store.columns import utc_now
from judging.store.hearings import hearing_of
from judging.store.tables import StoredContest, StoredStrikeLog
from judging.store.tower_tables import StoredPlace, StoredTower, StoredVoices


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
