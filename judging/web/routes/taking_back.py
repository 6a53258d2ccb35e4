"""A band's recording in a contest taken back: by the band itself, or by whoever it asks at the contest."""

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Depends, HTTPException
from fastapi.responses import HTMLResponse, RedirectResponse

from judging.jobs.resounding import sounds_made_of
from judging.store import (
    StoredContest,
    StoredEntry,
    day_recording_of,
    is_sheet_open,
    strike_log_of,
    take_back,
)
from judging.store.erasing import logs_of_entry, recordings_there
from judging.store.publications import publications_of
from judging.web.access import Database, StoreHere, Visitor, VisitorHere, contest_seen, entry_address, entry_seen
from judging.web.pages import page
from judging.web.practice import is_practice

router = APIRouter(prefix="/contests/{slug}/bands/{key}/take-back")


@dataclass(frozen=True, slots=True)
class OwnRecording:
    """A band's entry, for the band itself, the steward or the organiser of its contest."""

    contest: StoredContest
    entry: StoredEntry
    visitor: Visitor

    @property
    def address(self) -> str:
        """Address of the band's pages."""
        return f"/contests/{self.contest.slug}/bands/{entry_address(self.contest, self.entry)}"

    @property
    def is_the_band(self) -> bool:
        """Whether the visitor is the band."""
        return self.visitor.access is not None and self.visitor.access.entry_id == self.entry.id

    @property
    def back(self) -> str:
        """Where to go afterwards."""
        role = self.visitor.access.role if self.visitor.access else ""
        page = {"organiser": f"{self.address}/evidence", "steward": f"{self.address}/recorder"}
        return page.get(role, f"/contests/{self.contest.slug}")


def own_recording(slug: str, key: str, store: StoreHere, visitor: VisitorHere) -> OwnRecording:
    """Return the entry whose recording is the visitor's to take back; it is erased in a session of its own."""
    with store.read() as session:
        contest = contest_seen(slug, session, visitor)
        entry = entry_seen(key, contest, session, visitor)
    own = OwnRecording(contest, entry, visitor)
    attends = visitor.access is not None and visitor.access.role == "steward" and visitor.belongs_to(contest)
    if is_practice(contest) or not (own.is_the_band or attends or visitor.runs(contest)):
        raise HTTPException(404)
    return own


Own = Annotated[OwnRecording, Depends(own_recording)]


@router.get("")
def ask(own: Own, session: Database) -> HTMLResponse:
    """Say what is kept of a band, what would be erased and what stays, and ask."""
    entry_id = own.entry.id or 0
    return page(
        "take_back.html",
        viewer=own.visitor,
        contest=own.contest,
        own=own,
        recordings=len(recordings_there(session, own.entry)),
        has_log=strike_log_of(session, entry_id) is not None,
        is_open=is_sheet_open(session, own.entry),
        was_shown=bool(publications_of(session, own.contest.id or 0)),
        day=day_recording_of(session, own.contest.id or 0) is not None,
    )


@router.post("", response_class=RedirectResponse, status_code=303, responses={404: {}, 409: {}})
def erase(own: Own, store: StoreHere) -> RedirectResponse:
    """Erase a band's recordings: rows first, and then the files."""
    with store.write() as session:
        entry = session.get_one(StoredEntry, own.entry.id)
        rules_text = session.get_one(StoredContest, entry.contest_id).rules_text
        logs = logs_of_entry(session, entry)
        # On bells measured from the recording; on made-up bells they are rung again when somebody asks.
        sounds = [path for log in logs for path in sounds_made_of(session, store, log, rules_text)]
        gone = take_back(session, entry, who=own.visitor.who)
    for sha256 in gone.recordings:
        store.recordings.erase(sha256)
    for path in (*sounds, *(store.data / "sounds" / name for name in gone.excerpts)):
        path.unlink(missing_ok=True)
    for take in store.takes.of_entry(own.entry.id or 0):
        store.takes.forget(own.entry.id or 0, take.key)
    store.settle()
    return RedirectResponse(f"{own.address}/take-back", status_code=303)
