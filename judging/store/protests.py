"""The register of protests: each as it was handed in, answered once, and never taken out."""

from datetime import datetime

from sqlmodel import Session, col, select

from judging.contest import ANSWERS, Phase, refuse_outside, window_of
from judging.contest.protests import Window
from judging.errors import InputError, RuleError
from judging.store.audit import audit
from judging.store.columns import fields_of, utc_now
from judging.store.lookups import rules_of
from judging.store.tables import StoredContest, StoredEntry, StoredProtest

_LONGEST = 5000


def add_protest(
    session: Session,
    contest: StoredContest,
    *,
    about: str,
    who: str,
    entry: StoredEntry | None = None,
    handed_in_by: str = "",
    handed_in_at: datetime | None = None,
) -> StoredProtest:
    """Protest entered in the register.

    Parameters
    ----------
    session : Session
        A writing session.
    contest : StoredContest
        From this session.
    about : str
        What it is about, in the words of whoever protests.
    who : str
        Who enters it.
    entry : StoredEntry or None
        The band that protests.
    handed_in_by : str
        Who handed it in, where it is no band; needed then.
    handed_in_at : datetime or None
        When, if before this moment.

    Returns
    -------
    StoredProtest
        The same protest of the same band, entered twice, is kept once.

    Raises
    ------
    InputError
        Nothing is said, or nobody says it; or a time that cannot be.
    RuleError
        The rules do not allow it, or not any more; the rule is named.
    """
    now = utc_now()
    about, handed_in_by = about.strip(), " ".join(handed_in_by.split())
    if not about or len(about) > _LONGEST:
        raise InputError("about", "is empty; say what the protest is about" if not about else "is too long")
    if entry is None and not handed_in_by:
        raise InputError("handed_in_by", "is empty; say who protests")
    refuse_outside(rules_of(contest).protest, protest_window(contest), (handed_in_at or now).astimezone(), now=now)
    known = protests_of(session, contest.id)
    for other in known:
        same = (other.entry_id, other.handed_in_by, other.about) == (entry.id if entry else None, handed_in_by, about)
        if same and other.outcome == "open":
            return other
    protest = StoredProtest(
        contest_id=contest.id,
        number=len(known) + 1,
        revision=contest.revision,
        entry_id=entry.id if entry else None,
        handed_in_by=handed_in_by,
        handed_in_at=handed_in_at or now,
        about=about,
    )
    session.add(protest)
    session.flush()
    audit(
        session,
        who=who,
        what="protest handed in",
        contest=contest.slug,
        about=f"protest {protest.number}",
        after={
            "entry": entry.key if entry else "",
            **fields_of(protest, "revision", "handed_in_by", "handed_in_at", "about"),
        },
    )
    return protest


def answer_protest(
    session: Session, protest: StoredProtest, *, outcome: str, answered_by: str, answer: str, who: str
) -> None:
    """Answer a protest, once and for all.

    Parameters
    ----------
    session : Session
        A writing session.
    protest : StoredProtest
        From this session, open.
    outcome : {"upheld", "dismissed", "taken back"}
        How it ends.
    answered_by, answer : str
        Who decided, and why.
    who : str
        Who enters the answer.

    Raises
    ------
    InputError
        Its ``where`` is the field.
    RuleError
        It is answered already.
    """
    contest = session.get_one(StoredContest, protest.contest_id)
    answered_by, answer = " ".join(answered_by.split()), answer.strip()
    if outcome not in ANSWERS:
        raise InputError("outcome", f'"{outcome}" is not one of {", ".join(ANSWERS)}')
    if not answered_by:
        raise InputError("answered_by", "is empty; say who decided")
    if not answer:
        raise InputError("answer", "is empty; the band is told why")
    given = (outcome, answered_by, answer)
    if protest.outcome != "open":
        if given == (protest.outcome, protest.answered_by, protest.answer):
            return
        raise RuleError(f"Protest {protest.number} is answered already: {protest.outcome} by {protest.answered_by}.")
    if contest.phase == Phase.FINAL:
        raise RuleError("The result is final; nothing can be open any more.")
    protest.outcome, protest.answered_by, protest.answer = given
    protest.answered_at = utc_now()
    session.add(protest)
    session.flush()
    audit(
        session,
        who=who,
        what=f"protest {outcome}",
        contest=contest.slug,
        about=f"protest {protest.number}",
        after=fields_of(protest, "outcome", "answered_by"),
        reason=answer,
    )


def protests_of(session: Session, contest_id: int) -> list[StoredProtest]:
    """Return the register of a contest, first to last."""
    return list(
        session.exec(
            select(StoredProtest).where(StoredProtest.contest_id == contest_id).order_by(col(StoredProtest.number))
        ).all()
    )


def protest_window(contest: StoredContest) -> Window | None:
    """Return when protests may be handed in against the result that is announced now; None where there is none."""
    # In the machine's own zone, since its hours are told to people in the same tower.
    announced_at = contest.phase_since.astimezone() if contest.phase_since and contest.phase == Phase.PROTEST else None
    return window_of(rules_of(contest).protest, announced_at)
