"""Whether a band has opened its fault sheet to everybody; until it does, it is the band's alone."""

from sqlmodel import Session

from judging.errors import RuleError
from judging.store.audit import audit
from judging.store.practice_tables import StoredOpenSheet
from judging.store.tables import StoredContest, StoredEntry


def is_sheet_open(session: Session, entry: StoredEntry) -> bool:
    """Whether a band has opened its fault sheet to everybody."""
    return session.get(StoredOpenSheet, entry.id) is not None


def open_sheet(session: Session, entry: StoredEntry, *, is_open: bool, who: str) -> None:
    """Open a band's fault sheet to everybody, or keep it to the band again.

    Parameters
    ----------
    session : Session
        A writing session.
    entry : StoredEntry
        Whose sheet.
    is_open : bool
        Which of the two; twice the same changes nothing.
    who : str
        Who chooses: the band itself.

    Raises
    ------
    RuleError
        The result is not final: until then nothing may show what a band rang.
    """
    contest = session.get_one(StoredContest, entry.contest_id)
    if is_open and contest.phase != "final":
        raise RuleError("A fault sheet can be opened to everybody once the result is final.")
    found = session.get(StoredOpenSheet, entry.id)
    if is_open == (found is not None):
        return
    if is_open:
        session.add(StoredOpenSheet(entry_id=entry.id))
    else:
        session.delete(found)
    session.flush()
    audit(
        session,
        who=who,
        what="fault sheet opened to everybody" if is_open else "fault sheet kept to the band",
        contest=contest.slug,
        about=f"entry {entry.key}",
    )
