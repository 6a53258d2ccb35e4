"""Personal links and sessions: who is asking, and as what.

A link carries 256 random bits, is shown once, kept as a hash, and can be exchanged once for a session. Rights are
read from the link at every request, so that revoking a link ends its sessions at once.
"""

import hashlib
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlmodel import Session, col, select

from judging.errors import RuleError
from judging.store.audit import audit
from judging.store.columns import utc_now
from judging.store.service_tables import StoredLink, StoredSession
from judging.store.settings import Settings
from judging.store.tables import StoredContest, StoredEntry, StoredJudge

_TOKEN_BYTES = 32


@dataclass(frozen=True, slots=True)
class Access:
    """Who is asking.

    Parameters
    ----------
    role : {"organiser", "judge", "steward", "band"}
        As what.
    contest_id : int or None
        The one contest it is good for; None only for the service's own organiser.
    judge_id, entry_id : int or None
        Which judge or which band's entry.
    link_id, session_id : int
        Where the right comes from.
    who : str
        For the audit trail: as what, and by which link where several people may be that.
    is_stale : bool
        True where `renew_session` should be called so that the session does not fall idle.
    """

    role: str
    contest_id: int | None
    judge_id: int | None
    entry_id: int | None
    link_id: int
    session_id: int
    who: str
    is_stale: bool = False


def make_link(
    session: Session,
    *,
    role: str,
    who: str,
    contest_id: int | None = None,
    judge_id: int | None = None,
    entry_id: int | None = None,
    note: str = "",
    settings: Settings | None = None,
) -> str:
    """Token of a new personal link; it is not kept, so this is the only time it can be shown.

    Parameters
    ----------
    session : Session
        A writing session.
    role : {"organiser", "judge", "steward", "band"}
        What its holder may become; a judge's needs ``judge_id``, a band's ``entry_id``.
    who : str
        Who makes it.
    contest_id, judge_id, entry_id : int or None
        What it is good for.
    note : str
        The organiser's own words for it.
    settings : Settings or None
        For how long it may wait to be used.

    Returns
    -------
    str
        43 letters, digits, hyphens and underscores.
    """
    token = secrets.token_urlsafe(_TOKEN_BYTES)
    link = StoredLink(
        token_sha256=token_hash(token),
        role=role,
        contest_id=contest_id,
        judge_id=judge_id,
        entry_id=entry_id,
        note=note,
        expires_at=utc_now() + timedelta(days=(settings or Settings()).link_days),
    )
    session.add(link)
    session.flush()
    audit(
        session,
        who=who,
        what="personal link made",
        contest=_slug(session, contest_id),
        about=f"link {link.id}",
        after={"holder": holder(session, link), "expires": link.expires_at.isoformat()},
    )
    return token


def exchange_link(session: Session, token: str) -> tuple[str, Access]:
    """Session token, and what it is good for, in exchange for a link's token; works once.

    Raises
    ------
    RuleError
        The link is unknown, used, expired or revoked (and which of these).
    """
    link = session.exec(select(StoredLink).where(StoredLink.token_sha256 == token_hash(token))).first()
    now = utc_now()
    if link is None:
        raise RuleError("This link is not known here; copy it whole, or ask the organiser for a new one.")
    if link.revoked_at is not None:
        raise RuleError("This link was withdrawn; ask the organiser for a new one.")
    if link.used_at is not None:
        raise RuleError("This link has been used already, and works once; ask the organiser for a new one.")
    if now >= link.expires_at:
        raise RuleError("This link was not used in time and is over; ask the organiser for a new one.")
    link.used_at = now
    session_token = secrets.token_urlsafe(_TOKEN_BYTES)
    stored = StoredSession(token_sha256=token_hash(session_token), link_id=link.id)
    session.add_all([link, stored])
    session.flush()
    access = _access(session, stored, link, is_stale=False)
    audit(
        session,
        who=access.who,
        what="personal link used",
        contest=_slug(session, link.contest_id),
        about=f"link {link.id}",
    )
    return session_token, access


def find_access(
    session: Session, session_token: str, *, settings: Settings | None = None, now: datetime | None = None
) -> Access | None:
    """Who holds a session token; None where it is unknown, ended, idle too long, or its link revoked.

    Parameters
    ----------
    session : Session
        A reading session will do.
    session_token : str
        From the cookie.
    settings : Settings or None
        Idle and absolute limits.
    now : datetime or None
        The moment asked about; this one where None.

    Returns
    -------
    Access or None
        Rights as they are now.
    """
    settings = settings or Settings()
    now = now or utc_now()
    found = session.exec(
        select(StoredSession, StoredLink)
        .where(StoredSession.token_sha256 == token_hash(session_token))
        .where(StoredSession.link_id == StoredLink.id)
    ).first()
    if found is None:
        return None
    stored, link = found
    idle = timedelta(minutes=settings.session_idle_minutes)
    if (
        stored.ended_at is not None
        or link.revoked_at is not None
        or now - stored.seen_at >= idle
        or now - stored.created_at >= timedelta(hours=settings.session_hours)
    ):
        return None
    # A write at most sixteen times in an idle span keeps a session alive without a write for every page.
    return _access(session, stored, link, is_stale=now - stored.seen_at > idle / 16)


def renew_session(session: Session, access: Access) -> None:
    """Note that a session is in use, so that it does not fall idle."""
    stored = session.get_one(StoredSession, access.session_id)
    stored.seen_at = utc_now()
    session.add(stored)


def end_session(session: Session, access: Access) -> None:
    """End a session for good."""
    stored = session.get_one(StoredSession, access.session_id)
    stored.ended_at = utc_now()
    session.add(stored)
    audit(session, who=access.who, what="session ended", about=f"link {access.link_id}")


def revoke_link(session: Session, link_id: int, *, who: str, reason: str = "") -> None:
    """Withdraw a link; every session that came from it is over with the next request."""
    link = session.get_one(StoredLink, link_id)
    if link.revoked_at is not None:
        return
    link.revoked_at = utc_now()
    session.add(link)
    audit(
        session,
        who=who,
        what="personal link withdrawn",
        contest=_slug(session, link.contest_id),
        about=f"link {link.id}",
        before={"holder": holder(session, link)},
        reason=reason,
    )


def links_of(session: Session, contest_id: int | None) -> list[StoredLink]:
    """Return the links of a contest (or of the service itself), newest first."""
    return list(
        session.exec(
            select(StoredLink).where(StoredLink.contest_id == contest_id).order_by(col(StoredLink.id).desc())
        ).all()
    )


def has_organiser(session: Session) -> bool:
    """Whether a service-wide organiser's link was ever used; until then each start prints a new one."""
    return (
        session.exec(
            select(StoredLink.id)
            .where(StoredLink.role == "organiser", col(StoredLink.contest_id).is_(None))
            .where(col(StoredLink.used_at).is_not(None), col(StoredLink.revoked_at).is_(None))
        ).first()
        is not None
    )


def holder(session: Session, link: StoredLink) -> str:
    """Return who a link stands for, such as ``"judge a"``; a band by its entry's identifier."""
    if link.judge_id is not None:
        return f"judge {session.get_one(StoredJudge, link.judge_id).key}"
    if link.entry_id is not None:
        return f"band of entry {session.get_one(StoredEntry, link.entry_id).key}"
    return link.role


def token_hash(token: str) -> str:
    """Return what is kept of a token; 256 random bits need no salt and no slow hash."""
    return hashlib.sha256(token.encode(errors="replace")).hexdigest()


def _access(session: Session, stored: StoredSession, link: StoredLink, *, is_stale: bool) -> Access:
    return Access(
        role=link.role,
        contest_id=link.contest_id,
        judge_id=link.judge_id,
        entry_id=link.entry_id,
        link_id=link.id,
        session_id=stored.id,
        who=holder(session, link) if link.judge_id is not None else f"{holder(session, link)}, link {link.id}",
        is_stale=is_stale,
    )


def _slug(session: Session, contest_id: int | None) -> str:
    return "" if contest_id is None else session.get_one(StoredContest, contest_id).slug
