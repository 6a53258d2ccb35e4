"""News of a contest as it happens, for a page that is left open: one short line whenever something has changed."""

import asyncio
from collections.abc import AsyncIterator

from sqlmodel import col, func, select
from starlette.concurrency import run_in_threadpool

from judging.jobs.ideal_pull_off import KIND as IDEAL
from judging.store import Store, StoredAudit, StoredContest, StoredEntry, StoredJob, find_access
from judging.web.access import Visitor

#: How often is looked; a person notices nothing finer.
EVERY_S = 1.0

#: After so long the page asks anew, by itself; nothing listens for ever.
LONGEST_S = 600.0

#: A line without news, so that neither end takes the other for dead.
BEAT_EVERY_S = 20.0


async def changes(store: Store, contest: StoredContest, token: str) -> AsyncIterator[str]:
    """Yield server-sent events: ``data: N`` whenever something about a contest has changed.

    Parameters
    ----------
    store : Store
        Open.
    contest : StoredContest
        Which.
    token : str
        Of the visitor's session; the stream ends when the session does.

    Yields
    ------
    str
        One event, or a comment that keeps the connection open.
    """
    said, number, quiet_s = await run_in_threadpool(state_of, store, contest), 0, 0.0
    yield ": listening\n\n"
    for _ in range(round(LONGEST_S / EVERY_S)):
        await asyncio.sleep(EVERY_S)
        quiet_s += EVERY_S
        if not await run_in_threadpool(_still_runs, store, contest, token):
            return
        now = await run_in_threadpool(state_of, store, contest)
        if now != said:
            said, number, quiet_s = now, number + 1, 0.0
            yield f"data: {number}\n\n"
        elif quiet_s >= BEAT_EVERY_S:
            quiet_s = 0.0
            yield ": still here\n\n"


def _still_runs(store: Store, contest: StoredContest, token: str) -> bool:
    """Whether a session is still its contest's organiser's: rights may be taken back while a page is open."""
    with store.read() as session:
        return Visitor(find_access(session, token, settings=store.settings)).runs(contest)


def state_of(store: Store, contest: StoredContest) -> tuple[object, ...]:
    """Return what changes whenever something about a contest does: the end of its trail, and its jobs."""
    with store.read() as session:
        trail = session.exec(select(func.max(StoredAudit.seq)).where(StoredAudit.contest == contest.slug)).one()
        jobs = session.exec(
            select(StoredJob.id, StoredJob.state, StoredJob.progress)
            .where(StoredJob.entry_id == StoredEntry.id, StoredEntry.contest_id == contest.id)
            .order_by(col(StoredJob.id))
        ).all()
        ideal = session.exec(select(func.count()).where(StoredJob.kind == IDEAL, StoredJob.state == "done")).one()
    return (trail, ideal, *(tuple(job) for job in jobs))
