"""What is in the store: contests, entries, judges and pieces found by their names, in their order."""

import json

from sqlmodel import Session, col, select

from judging.contest import Entry, RuleSet, read_rules
from judging.contest.day import home_of
from judging.errors import RuleError
from judging.store.tables import StoredContest, StoredEntry, StoredJudge, StoredPiece

#: Fields of an entry that are kept under their own names.
ENTRY_FIELDS = tuple(
    name
    for name in Entry.__dataclass_fields__
    if name not in {"id", "also_in", "conflicts", "causes", "may_be_recorded", "number"}
)


def contests(session: Session) -> list[StoredContest]:
    """Return all contests, newest first."""
    return list(session.exec(select(StoredContest).order_by(col(StoredContest.id).desc())).all())


def contest_by_slug(session: Session, slug: str) -> StoredContest | None:
    """Return the contest of that name in addresses, if there is one."""
    return session.exec(select(StoredContest).where(StoredContest.slug == slug)).first()


def entries_of(session: Session, contest_id: int) -> list[StoredEntry]:
    """Return a contest's entries in order of receipt."""
    return list(
        session.exec(
            select(StoredEntry).where(StoredEntry.contest_id == contest_id).order_by(col(StoredEntry.received))
        ).all()
    )


def entry_by_key(session: Session, contest_id: int, key: str) -> StoredEntry | None:
    """Return one entry of a contest by its identifier, if there is one."""
    return session.exec(select(StoredEntry).where(StoredEntry.contest_id == contest_id, StoredEntry.key == key)).first()


def judges_of(session: Session, contest_id: int) -> list[StoredJudge]:
    """Return a contest's judges in the order in which they are printed."""
    return list(
        session.exec(
            select(StoredJudge).where(StoredJudge.contest_id == contest_id).order_by(col(StoredJudge.position))
        ).all()
    )


def judge_by_key(session: Session, contest_id: int, key: str) -> StoredJudge | None:
    """Return one judge of a contest by identifier, if there is one."""
    return session.exec(select(StoredJudge).where(StoredJudge.contest_id == contest_id, StoredJudge.key == key)).first()


def pieces_of(session: Session, contest_id: int) -> list[StoredPiece]:
    """Return a contest's test pieces in order of key."""
    return list(
        session.exec(
            select(StoredPiece).where(StoredPiece.contest_id == contest_id).order_by(col(StoredPiece.key))
        ).all()
    )


def order_of(contest: StoredContest) -> tuple[str, ...]:
    """Return entry keys in the drawn order; empty before the draw."""
    return tuple(json.loads(contest.order_json))


def as_entry(stored: StoredEntry) -> Entry:
    """Return the value of a stored entry, without its number in the order (`numbered` gives it)."""
    return Entry(
        id=stored.key,
        also_in=tuple(json.loads(stored.also_in_json)),
        conflicts=tuple(json.loads(stored.conflicts_json)),
        causes=tuple(json.loads(stored.causes_json)),
        may_be_recorded=stored.consent != "refused",
        **{name: getattr(stored, name) for name in ENTRY_FIELDS},
    )


def rules_of(contest: StoredContest) -> RuleSet:
    """Return a contest's rules as declared."""
    return read_rules(contest.rules_text, name="rules.toml")


def piece_of(session: Session, entry: StoredEntry) -> StoredPiece:
    """Test piece of an entry: its own, or its section's.

    Raises
    ------
    RuleError
        None is declared for it yet.
    """
    key = entry.piece or home_of(as_entry(entry), rules_of(session.get_one(StoredContest, entry.contest_id))).piece
    there = pieces_of(session, entry.contest_id)
    piece = next((piece for piece in there if piece.key == key or (not key and len(there) == 1)), None)
    if piece is None:
        raise RuleError(f"No test piece is declared for {entry.key} yet; add it before the ringing is heard.")
    return piece
