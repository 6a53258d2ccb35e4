"""Steps of a contest taken from the desk: to another phase, and personal links given."""

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session

from judging.contest import Phase, advance, is_back, result_document, shows_result
from judging.errors import InputError, RuleError
from judging.store import (
    Settings,
    Store,
    StoredContest,
    StoredEntry,
    StoredJudge,
    draw_order,
    entry_by_key,
    judge_by_key,
    links_of,
    make_link,
    open_revision,
    publish,
    set_order,
    set_phase,
)
from judging.store.columns import utc_now
from judging.web.judged import judge
from judging.web.sounds import ask_for_sounds
from judging.web.standing import standing_of


@dataclass(frozen=True, slots=True)
class LinkGiven:
    """A personal link that was given.

    Parameters
    ----------
    number : int
        Its identifier.
    holder, note : str
        For whom, and the organiser's own words.
    state : str
        Whether it was used, is over, or waits.
    is_open : bool
        Whether it, or a session from it, is still good.
    token : str
        Only where it has just been made.
    """

    number: int
    holder: str
    note: str
    state: str
    is_open: bool
    token: str = ""


def go_to(
    session: Session,
    store: Store,
    contest: StoredContest,
    to: str,
    *,
    who: str,
    reason: str = "",
    seen_at: str = "",
) -> None:
    """Take a contest to another phase, with what belongs to it: the draw, the publishing of a result, a revision.

    Parameters
    ----------
    session : Session
        A writing session.
    store : Store
        Where what is rung for a final result will be.
    contest : StoredContest
        Which.
    to : str
        The phase.
    who, reason : str
        Who takes the step; a step back needs a reason.
    seen_at : str
        The phase that whoever takes the step has seen; the same step twice is taken once, and one from a page that is
        out of date is refused. Empty where nobody looked.

    Raises
    ------
    InputError
        There is no such phase, or a reason is missing.
    RuleError
        The step does not follow, something is missing for it, or the contest has gone on meanwhile.
    """
    if to not in set(Phase):
        raise InputError("to", f'"{to}" is no phase of a contest')
    wanted, now, reason = Phase(to), Phase(contest.phase), reason.strip()
    if seen_at and seen_at != now:
        if wanted is now:
            return  # the same step sent twice
        raise RuleError(f'The contest has gone on meanwhile and is "{now}" now; look at what stands here, then decide.')
    judged = judge(session, contest)
    standing = standing_of(session, contest, judged)
    phase, revision = advance(standing, wanted)
    if is_back(now, wanted) and not reason:
        raise InputError("reason", "is empty; a step back is kept in the trail with its reason")
    if revision > contest.revision:
        open_revision(session, contest, who=who, reason=reason)
    if phase is Phase.DRAWN:
        set_order(session, contest, draw_order(session, contest.id or 0), who=who)
    if shows_result(standing, wanted):
        document = result_document(judged.outcome, judged.day)
        shown_as = "final" if phase is Phase.FINAL else "provisional"
        publish(session, contest, document, phase=shown_as, who=who, reason=contest.revision_reason)
    set_phase(session, contest, phase, who=who, reason=reason)
    if phase is Phase.FINAL:
        ask_for_sounds(session, store, contest, judged)


def give_link(
    session: Session, contest: StoredContest, wanted: str, *, note: str, who: str, settings: Settings
) -> LinkGiven:
    """Return a new personal link for a judge, a band, the steward or another organiser of a contest.

    Parameters
    ----------
    session : Session
        A writing session.
    contest : StoredContest
        What it is good for.
    wanted : str
        ``organiser``, ``steward``, ``judge ID`` or ``band ID``.
    note, who : str
        The organiser's own words for it; who makes it.
    settings : Settings
        How long it may wait to be used.

    Returns
    -------
    LinkGiven
        With its token, which can be shown only now.

    Raises
    ------
    InputError
        Nobody of that kind is in the contest.
    """
    role, _, key = wanted.partition(" ")
    judge_id = entry_id = None
    if role == "judge" and (judge := judge_by_key(session, contest.id or 0, key)):
        judge_id, role = judge.id, "shadow judge" if judge.shadow else "judge"
    elif role == "band" and (entry := entry_by_key(session, contest.id or 0, key)):
        entry_id = entry.id
    elif role not in {"organiser", "steward"} or key:
        raise InputError("holder", f'"{wanted}" is nobody of this contest')
    token = make_link(
        session,
        role=role,
        who=who,
        contest_id=contest.id,
        judge_id=judge_id,
        entry_id=entry_id,
        note=note.strip(),
        settings=settings,
    )
    return LinkGiven(0, _called(session, role, judge_id, entry_id), note.strip(), "", is_open=True, token=token)


def links_given(session: Session, contest: StoredContest) -> tuple[LinkGiven, ...]:
    """Return the links of a contest, newest first."""
    now = utc_now()
    return tuple(
        LinkGiven(
            number=link.id or 0,
            holder=_called(session, link.role, link.judge_id, link.entry_id),
            note=link.note,
            state=_state(link.revoked_at, link.used_at, link.expires_at, now),
            is_open=link.revoked_at is None and (link.used_at is not None or now < link.expires_at),
        )
        for link in links_of(session, contest.id)
    )


def _called(session: Session, role: str, judge_id: int | None, entry_id: int | None) -> str:
    """Return how the organiser calls somebody who has a link."""
    if judge_id is not None:
        judge = session.get_one(StoredJudge, judge_id)
        return f"{judge.name}, judging along" if judge.shadow else judge.name
    if entry_id is not None:
        return session.get_one(StoredEntry, entry_id).band
    return {"steward": "The steward", "organiser": "Another organiser"}.get(role, role)


def _state(revoked_at: datetime | None, used_at: datetime | None, expires_at: datetime, now: datetime) -> str:
    if revoked_at is not None:
        return "taken back"
    if used_at is not None:
        return "in use"
    return "waits to be used" if now < expires_at else "over, never used"
