"""Who judges: those who judge along to learn, and what judges have to do with bands."""

import json
from collections.abc import Collection

from sqlmodel import Session

from judging.contest.entry_table import identifier_of
from judging.errors import InputError
from judging.store.audit import audit
from judging.store.columns import fields_of, utc_now
from judging.store.contests import change_entry
from judging.store.lookups import judges_of
from judging.store.publications import refuse_if_final
from judging.store.tables import StoredContest, StoredEntry, StoredJudge

_LONGEST = 2000


def add_shadow_judge(session: Session, contest: StoredContest, name: str, *, who: str) -> StoredJudge:
    """Judge added who judges along to learn: gives sheets like the others, and none of them counts.

    Raises
    ------
    InputError
        No name, or one that a judge has already.
    RuleError
        The contest is final.
    """
    refuse_if_final(contest)
    name = " ".join(name.split())
    known = judges_of(session, contest.id)
    if not name or len(name) > 200:
        raise InputError("name", "is empty; who judges along" if not name else "is longer than 200 characters")
    if name.casefold() in {judge.name.casefold() for judge in known}:
        raise InputError("name", f'"{name}" judges already')
    judge = StoredJudge(
        contest_id=contest.id,
        key=identifier_of(f"shadow {name}", {judge.key for judge in known}),
        position=max((judge.position for judge in known), default=-1) + 1,
        name=name,
        shadow=True,
    )
    session.add(judge)
    session.flush()
    audit(
        session,
        who=who,
        what="shadow judge named",
        contest=contest.slug,
        about=f"judge {judge.key}",
        after={"name": name},
    )
    return judge


def declare_interests(session: Session, judge: StoredJudge, belongs_to: str, *, who: str) -> None:
    """Keep what a judge says of the towers and bands he or she has to do with; empty says that there is none.

    Raises
    ------
    InputError
        It is too long.
    RuleError
        The contest is final.
    """
    contest = session.get_one(StoredContest, judge.contest_id)
    refuse_if_final(contest)
    belongs_to = belongs_to.strip()
    if len(belongs_to) > _LONGEST:
        raise InputError("belongs_to", f"has {len(belongs_to)} characters, at most {_LONGEST}")
    before = fields_of(judge, "belongs_to")
    judge.belongs_to, judge.declared_at = belongs_to, utc_now()
    session.add(judge)
    session.flush()
    audit(
        session,
        who=who,
        what="interests declared",
        contest=contest.slug,
        about=f"judge {judge.key}",
        before=before,
        after=fields_of(judge, "belongs_to"),
    )


def set_conflicts(session: Session, entry: StoredEntry, judges: Collection[str], *, who: str, reason: str = "") -> None:
    """Say which judges have to do with a band; what follows is a rule of the contest.

    Raises
    ------
    InputError
        There is no such judge.
    RuleError
        The result is shown.
    """
    known = [judge.key for judge in judges_of(session, entry.contest_id)]
    strange = set(judges) - set(known)
    if strange:
        raise InputError("judge", f'"{min(strange)[:80]}" is no judge of this contest')
    wanted = json.dumps([key for key in known if key in judges])
    if wanted != entry.conflicts_json:
        change_entry(session, entry, who=who, reason=reason, conflicts_json=wanted)
