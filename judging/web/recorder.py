"""The page at which a band's touch is recorded: by this laptop, in slices, or sent as a file; with consent first.

It is the steward's as well as the organiser's.
"""

from dataclasses import dataclass
from typing import Annotated

from fastapi import Depends
from fastapi.responses import HTMLResponse
from sqlmodel import Session

from judging.errors import InputError, RuleError
from judging.jobs import enqueue_listening, jobs_of
from judging.store import (
    Store,
    StoredContest,
    StoredEntry,
    Take,
    add_recording,
    keeps_recordings,
    recordings_of,
    set_consent,
)
from judging.store.erasing import recordings_there
from judging.store.publications import refuse_if_final
from judging.web.access import EntrySeen, StoreHere, Visitor, VisitorHere, contest_seen, entry_address, entry_seen
from judging.web.entry_page import Stewarded, stewarded
from judging.web.evidence_page import FIELDS, HINTS, check_recording
from judging.web.forms import form_of
from judging.web.pages import page
from judging.web.refusals import status_of

#: What a recording made here is called in lists.
MADE_HERE = "recorded on this laptop"


def entry_attended(entry: EntrySeen, contest: Stewarded) -> StoredEntry:
    """Return an entry in whose ringing room the visitor stands, or which the visitor organises."""
    del contest  # its being here is the right
    return entry


EntryAttended = Annotated[StoredEntry, Depends(entry_attended)]


def entry_recorded(slug: str, key: str, store: StoreHere, visitor: VisitorHere) -> StoredEntry:
    """Return such an entry, looked up in a session of its own: what is sent takes long, and others must write."""
    with store.read() as session:
        contest = stewarded(contest_seen(slug, session, visitor), visitor)
        return entry_seen(key, contest, session, visitor)


EntryRecorded = Annotated[StoredEntry, Depends(entry_recorded)]


@dataclass(frozen=True, slots=True)
class Unfinished:
    """A take that was broken off: its name, how many slices, how many minutes of them are here in megabytes."""

    key: str
    slices: int
    beyond: int
    megabytes: float


def put_slice(store: Store, entry: StoredEntry, take: str, number: int, data: bytes) -> Take:
    """Keep a slice of a band that agreed to be recorded.

    Raises
    ------
    RuleError
        The band has not agreed, the contest is final, or another slice of that number is there.
    InputError
        It is no slice, or its first is no recording.
    """
    with store.read() as session:
        refuse_if_final(session.get_one(StoredContest, entry.contest_id))
        if not keeps_recordings(session.get_one(StoredEntry, entry.id)):
            raise RuleError("The band has not agreed to be recorded; ask it, and note its answer above.")
    if number == 0:
        check_recording(data[:16])
    store.takes.put(entry.id, take, number, data)
    return store.takes.take(entry.id, take)


def join_take(store: Store, entry: StoredEntry, take: str, slices: int, visitor: Visitor) -> None:
    """Make a recording of a take and ask for it to be heard; asked for twice, it is one.

    Raises
    ------
    RuleError
        Slices are missing, the band has not agreed or has no test piece, or the contest is final.
    InputError
        It is larger than a recording may be, or the disk is full.
    """
    if store.takes.joined(entry.id, take):
        return
    kept = store.takes.join(entry.id, take, slices, store.recordings)
    with store.write() as session:
        here = session.get_one(StoredEntry, entry.id)
        recording = add_recording(session, here, kept, name=MADE_HERE, who=visitor.who)
        enqueue_listening(session, here, recording)
    store.takes.close(entry.id, take, kept.sha256)


def note_consent(session: Session, entry: StoredEntry, consent: str, *, who: str) -> bool:
    """Note whether a band agrees to be recorded.

    Returns
    -------
    bool
        Whether it does not, and there is a recording of it that is to be erased next.

    Raises
    ------
    InputError
        There is no such answer.
    RuleError
        A result is shown that was made with another.
    """
    if consent not in {"not asked", "given", "refused"}:
        raise InputError("consent", f'is "{consent[:20]}", and can be "given", "refused" or "not asked"')
    set_consent(session, entry, consent, who=who)
    return consent == "refused" and bool(recordings_there(session, entry))


def recorder_page(
    store: Store,
    session: Session,
    entry: StoredEntry,
    visitor: Visitor,
    *,
    error: InputError | RuleError | None = None,
) -> HTMLResponse:
    """Return the page.

    Parameters
    ----------
    store : Store
        Its unfinished takes are listed.
    session : Session
        A reading session will do.
    entry : StoredEntry
        Of a contest in whose ringing room the visitor stands.
    visitor : Visitor
        The steward or the organiser.
    error : InputError or RuleError or None
        What is wrong with what was sent.

    Returns
    -------
    HTMLResponse
    """
    contest = session.get_one(StoredContest, entry.contest_id)
    takes = store.takes.of_entry(entry.id)
    return page(
        "recorder.html",
        status=200 if error is None else status_of(error),
        viewer=visitor,
        contest=contest,
        entry=entry,
        address=f"/contests/{contest.slug}/bands/{entry_address(contest, entry)}",
        back=f"/contests/{contest.slug}/{'desk' if visitor.is_organiser else 'ringing'}",
        form=form_of({}, hints=HINTS, error=error, fields=FIELDS),
        takes=[Unfinished(take.key, take.slices, take.beyond, take.size_bytes / 1e6) for take in takes],
        recordings=recordings_of(session, entry.id),
        jobs=[job for job in jobs_of(session, entry.id) if job.kind == "listen"],
    )
