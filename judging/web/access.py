"""Who is asking, and what they may have: dependencies that return the very thing, or refuse.

A route names what it needs (`ContestSeen`, `ContestRun`, `EntryRun` ...) and cannot get at it unchecked. Reading
requests get a session of the store that cannot write, writing ones the only session that does, committed before the
answer is sent.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, cast

from fastapi import Depends, HTTPException, Path, Request, Response
from sqlmodel import Session

from judging.contest import Phase, Role, Viewer
from judging.store import (
    Access,
    Store,
    StoredContest,
    StoredEntry,
    StoredJob,
    contest_by_slug,
    entry_by_key,
    find_access,
    order_of,
    renew_session,
)
from judging.web.guard import SAFE_METHODS

#: Until then bands have no number.
BEFORE_THE_DRAW = frozenset({Phase.DRAFT, Phase.PUBLISHED})

_NUMBER = re.compile(r"band-([1-9]\d{0,3})")

#: No ``__Host-`` in the name: browsers refuse that on plain http, which is how phones reach a laptop in a churchyard.
COOKIE = "evenblow"


#: What the page is called on which each role begins.
_OWN_PAGES = {
    "organiser": "The desk",
    "judge": "Your sheets",
    "shadow judge": "Your sheets",
    "steward": "In the ringing room",
    "band": "Your contest",
}


@dataclass(frozen=True, slots=True)
class Visitor:
    """Whoever sent a request.

    Parameters
    ----------
    access : Access or None
        What their session is good for; None for the public.
    """

    access: Access | None = None

    @property
    def who(self) -> str:
        """Name for the audit trail."""
        return self.access.who if self.access else "public"

    @property
    def is_organiser(self) -> bool:
        """Whether this is an organiser, of the service or of one contest."""
        return self.access is not None and self.access.role == "organiser"

    @property
    def runs_the_service(self) -> bool:
        """Whether this is the organiser of the whole service, who makes contests and practice nights."""
        return self.access is not None and self.access.role == "organiser" and self.access.contest_id is None

    @property
    def own_page(self) -> str:
        """What the page is called that this person begins on within their contest; empty for whoever has none."""
        if self.access is None or self.access.contest_id is None:
            return ""
        return _OWN_PAGES.get(self.access.role, "")

    @property
    def takes_ear_tests(self) -> bool:
        """Whether this person may take an ear test: an organiser, which a tower's laptop is, a judge, or a learner."""
        return self.access is not None and self.access.role in {"organiser", "judge", "shadow judge"}

    def runs(self, contest: StoredContest) -> bool:
        """Whether this is the organiser of a contest."""
        return (
            self.access is not None and self.access.role == "organiser" and self.access.contest_id in {None, contest.id}
        )

    def belongs_to(self, contest: StoredContest) -> bool:
        """Whether this person has any part in a contest."""
        return self.runs(contest) or (self.access is not None and self.access.contest_id == contest.id)


def store_of(request: Request) -> Store:
    """Return the open store of the application."""
    return cast(Store, request.app.state.store)


StoreHere = Annotated[Store, Depends(store_of)]


def session_of(request: Request, store: StoreHere) -> Iterator[Session]:
    """Yield the session that the request's method allows."""
    with store.read() if request.method in SAFE_METHODS else store.write() as session:
        yield session


#: Scope "function": what was written is committed before the answer says so.
Database = Annotated[Session, Depends(session_of, scope="function")]


def visitor_of(request: Request, store: StoreHere) -> Visitor:
    """Return who is asking, by the session cookie, or by the token of a program."""
    scheme, _, bearer = request.headers.get("authorization", "").partition(" ")
    token = bearer.strip() if scheme.lower() == "bearer" else request.cookies.get(COOKIE, "")
    if not token:
        return Visitor()
    with store.read() as session:
        access = find_access(session, token, settings=store.settings)
    if access is not None and access.is_stale:
        with store.write() as session:
            renew_session(session, access)
    return Visitor(access)


VisitorHere = Annotated[Visitor, Depends(visitor_of)]


def organiser_here(visitor: VisitorHere) -> Visitor:
    """Return the organiser of the whole service; refuse anybody else."""
    if not visitor.runs_the_service:
        raise HTTPException(403)
    return visitor


Organiser = Annotated[Visitor, Depends(organiser_here)]


def listener_here(visitor: VisitorHere) -> Visitor:
    """Return whoever may take an ear test."""
    if not visitor.takes_ear_tests:
        raise HTTPException(403)
    return visitor


Listener = Annotated[Visitor, Depends(listener_here)]


def contest_seen(slug: str, session: Database, visitor: VisitorHere) -> StoredContest:
    """Return a contest that the visitor may see: rights come before existence, so a draft cannot be probed."""
    contest = contest_by_slug(session, slug)
    if contest is None or not may_see(contest, visitor):
        raise HTTPException(404)
    return contest


ContestSeen = Annotated[StoredContest, Depends(contest_seen)]


def may_see(contest: StoredContest, visitor: Visitor) -> bool:
    """Whether a visitor may know of a contest: everybody once its rules are published."""
    return contest.phase != Phase.DRAFT or visitor.belongs_to(contest)


def contest_run(contest: ContestSeen, visitor: VisitorHere) -> StoredContest:
    """Return a contest that the visitor organises."""
    if not visitor.runs(contest):
        raise HTTPException(403)
    return contest


ContestRun = Annotated[StoredContest, Depends(contest_run)]


def entry_seen(key: str, contest: ContestSeen, session: Database, visitor: VisitorHere) -> StoredEntry:
    """Return an entry of a contest that the visitor may see; what of it is shown is for the page to say.

    ``key`` is ``band-3`` for the third in the order of ringing. An entry outside it (before the draw, or withdrawn)
    is called by its identifier, which is often made from the band's name and so only open to the organiser.
    """
    order = () if Phase(contest.phase) in BEFORE_THE_DRAW else order_of(contest)
    number = _NUMBER.fullmatch(key)
    entry = None
    if number and int(number[1]) <= len(order):
        entry = entry_by_key(session, contest.id or 0, order[int(number[1]) - 1])
    elif visitor.runs(contest) and key not in order:
        entry = entry_by_key(session, contest.id or 0, key)
    if entry is None:
        raise HTTPException(404)
    return entry


EntrySeen = Annotated[StoredEntry, Depends(entry_seen)]


def contest_watched(slug: str, store: StoreHere, visitor: VisitorHere) -> StoredContest:
    """Return a contest that the visitor organises, looked up in a session of its own: it is watched for hours."""
    with store.read() as session:
        return contest_run(contest_seen(slug, session, visitor), visitor)


ContestWatched = Annotated[StoredContest, Depends(contest_watched)]


def entry_address(contest: StoredContest, entry: StoredEntry) -> str:
    """Return how addresses call an entry; `entry_seen` reads it back."""
    order = order_of(contest)
    if Phase(contest.phase) in BEFORE_THE_DRAW or entry.key not in order:
        return entry.key
    return f"band-{order.index(entry.key) + 1}"


def entry_run(entry: EntrySeen, contest: ContestRun) -> StoredEntry:
    """Return an entry of a contest that the visitor organises."""
    del contest  # its being here is the right
    return entry


EntryRun = Annotated[StoredEntry, Depends(entry_run)]


def entry_filled(slug: str, key: str, store: StoreHere, visitor: VisitorHere) -> StoredEntry:
    """Return an entry that its organiser may send a recording for.

    It is looked up in a session of its own: sending takes minutes, and nobody could write meanwhile.
    """
    with store.read() as session:
        contest = contest_run(contest_seen(slug, session, visitor), visitor)
        return entry_seen(key, contest, session, visitor)


EntryFilled = Annotated[StoredEntry, Depends(entry_filled)]


def job_seen(number: Annotated[int, Path(ge=1, le=2**31)], session: Database, visitor: VisitorHere) -> StoredJob:
    """Return a job that hears a recording, of a contest that the visitor organises."""
    job = session.get(StoredJob, number)
    entry = session.get(StoredEntry, job.entry_id) if job is not None and job.entry_id is not None else None
    is_run = entry is not None and visitor.runs(session.get_one(StoredContest, entry.contest_id))
    if job is None or job.kind != "listen" or not is_run:
        raise HTTPException(404)
    return job


JobSeen = Annotated[StoredJob, Depends(job_seen)]


def viewer_of(visitor: Visitor, contest: StoredContest, session: Session) -> Viewer:
    """Return the visitor as the contest's own rule of names sees them; with a part in another contest, the public."""
    if visitor.access is None or not visitor.belongs_to(contest):
        return Viewer()
    own: frozenset[str] = frozenset()
    if visitor.access.entry_id is not None:
        own = frozenset({session.get_one(StoredEntry, visitor.access.entry_id).key})
    return Viewer(role=cast(Role, visitor.access.role), own=own)


def remember(response: Response, token: str, request: Request, *, hours: int) -> None:
    """Give a browser its session: unreadable to scripts, sent to us only, and over https only where that is in use."""
    response.set_cookie(
        COOKIE,
        token,
        max_age=hours * 3600,
        httponly=True,
        samesite="lax",
        secure=request.url.scheme == "https",
    )
