"""What was made public of a contest, word for word, and what may no longer be changed because of it.

Final is final: until a revision is opened nothing here is allowed any more.
"""

import json
from collections.abc import Mapping
from typing import Any

from sqlmodel import Session, col, select

from judging.contest import Phase
from judging.contest.phases import SHOWING
from judging.errors import InputError, RuleError
from judging.store.audit import audit, head
from judging.store.lookups import entries_of
from judging.store.tables import StoredContest, StoredPublication


def publish(
    session: Session, contest: StoredContest, document: Mapping[str, Any], *, phase: str, who: str, reason: str = ""
) -> StoredPublication:
    """Keep a result word for word as it is made public; it is never changed afterwards.

    Parameters
    ----------
    session : Session
        A writing session.
    contest : StoredContest
        Its present revision is published.
    document : mapping
        As `judging.contest.result_document` makes it.
    phase : {"provisional", "final"}
        As what.
    who, reason : str
        Who publishes; a revision after final needs a reason.

    Returns
    -------
    StoredPublication
        With the head of the audit chain that papers print.

    Raises
    ------
    RuleError
        This revision has been published as such already.
    """
    if any(one.revision == contest.revision and one.phase == phase for one in publications_of(session, contest.id)):
        raise RuleError(f"The {phase} result of revision {contest.revision} is published already.")
    publication = StoredPublication(
        contest_id=contest.id,
        revision=contest.revision,
        phase=phase,
        result_json=json.dumps(document, sort_keys=True, ensure_ascii=False),
        rules_text=contest.rules_text,
        audit_head=str(head(session)),
        reason=reason,
        bands_json=json.dumps({entry.key: entry.band for entry in entries_of(session, contest.id)}, ensure_ascii=False),
    )
    session.add(publication)
    session.flush()
    audit(
        session,
        who=who,
        what=f"{phase} result published",
        contest=contest.slug,
        about=f"revision {contest.revision}",
        after=publication.result_json,
        reason=reason,
    )
    return publication


def open_revision(session: Session, contest: StoredContest, *, who: str, reason: str) -> None:
    """Begin the next revision of a result that was shown; the one before stays as it was published.

    Raises
    ------
    InputError
        No reason is given.
    """
    if not reason.strip():
        raise InputError("reason", "is empty; what was shown is corrected only with a reason")
    contest.revision += 1
    contest.revision_reason = reason.strip()
    session.add(contest)
    session.flush()
    audit(
        session,
        who=who,
        what="revision opened",
        contest=contest.slug,
        about=f"revision {contest.revision}",
        reason=contest.revision_reason,
    )


def publications_of(session: Session, contest_id: int) -> list[StoredPublication]:
    """Return what was published of a contest, in order."""
    return list(
        session.exec(
            select(StoredPublication)
            .where(StoredPublication.contest_id == contest_id)
            .order_by(col(StoredPublication.id))
        ).all()
    )


def is_shown(session: Session, contest: StoredContest) -> bool:
    """Whether the result of the revision that stands now has been shown."""
    if Phase(contest.phase) not in SHOWING:
        return False
    return contest.phase == Phase.FINAL or any(
        publication.revision == contest.revision for publication in publications_of(session, contest.id)
    )


def was_final(session: Session, contest: StoredContest) -> bool:
    """Whether an earlier revision has been final, so that what it said is known to everybody."""
    return any(
        one.phase == Phase.FINAL and one.revision < contest.revision for one in publications_of(session, contest.id)
    )


def refuse_if_shown(session: Session, contest: StoredContest) -> None:
    """Raise `RuleError` where a result is shown: what was shown is changed only as the next revision."""
    refuse_if_final(contest)
    if is_shown(session, contest):
        raise RuleError(
            "The provisional result is shown as it stands. Go back at the desk, with a reason, and correct it as "
            f"revision {contest.revision + 1}."
        )


def refuse_if_final(contest: StoredContest) -> None:
    """Raise `RuleError` where the contest is final: a correction is made by opening a revision."""
    if contest.phase == Phase.FINAL:
        raise RuleError(f"The result of {contest.title} is final; a correction is made as a new revision.")
