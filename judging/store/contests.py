"""Contests: made from their texts, listed, moved from phase to phase, and read back as one `ContestDay`."""

import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import asdict
from typing import Any

from sqlmodel import Session, col, select

from judging.contest import ContestDay, Entry, Judge, Phase, draw, numbered, read_entries, read_rules, rules_are_frozen
from judging.contest.rules import check_identifier
from judging.errors import InputError, RuleError
from judging.piece import piece_from_file
from judging.store.audit import audit, head
from judging.store.evidence import strike_logs_of
from judging.store.sheets import sheets_of
from judging.store.tables import (
    StoredContest,
    StoredEntry,
    StoredJudge,
    StoredPiece,
    StoredPublication,
    fields_of,
)

#: Fields of an entry that are kept under their own names.
_ENTRY_FIELDS = tuple(
    name for name in Entry.__dataclass_fields__ if name not in {"id", "also_in", "may_be_recorded", "number"}
)


def create_contest(
    session: Session,
    *,
    rules_text: str,
    who: str,
    entries_text: str = "",
    pieces: Mapping[str, str] | None = None,
    slug: str = "",
) -> StoredContest:
    """Contest made from its texts, in the phase ``draft``.

    Parameters
    ----------
    session : Session
        A writing session.
    rules_text : str
        ``rules.toml``; names the contest and its judges.
    who : str
        Who makes it.
    entries_text : str
        ``entries.toml``; may come later.
    pieces : mapping of str to str
        Test pieces' texts by file name (``"doubles.toml"``).
    slug : str
        Its name in addresses; made from the title where empty.

    Returns
    -------
    StoredContest
        Written, with its id.

    Raises
    ------
    InputError
        A text cannot be read, or the slug is taken.
    """
    rules = read_rules(rules_text, name="rules.toml")
    if slug and contest_by_slug(session, check_identifier(slug, "contest")) is not None:
        raise InputError("contest", f"there is one called {slug} already")
    contest = StoredContest(slug=slug or _free_slug(session, rules.title), title=rules.title, rules_text=rules_text)
    session.add(contest)
    session.flush()
    contest_id = contest.id
    audit(session, who=who, what="contest made", contest=contest.slug, after={"title": rules.title})
    for position, judge in enumerate(rules.judges):
        session.add(StoredJudge(contest_id=contest_id, key=judge.id, position=position, name=judge.name))
    for file_name, text in (pieces or {}).items():
        add_piece(session, contest_id, file_name=file_name, text=text, who=who)
    if entries_text:
        for entry in read_entries(entries_text, name="entries.toml", rules=rules):
            add_entry(session, contest_id, entry, who=who)
    return contest


def add_piece(session: Session, contest_id: int, *, file_name: str, text: str, who: str) -> StoredPiece:
    """Test piece added to a contest, or put in the place of the one of that name while the rules are a draft.

    Raises
    ------
    InputError
        The text is no piece.
    RuleError
        The piece is there already and the rules are published.
    """
    piece_from_file(file_name, text)
    contest = session.get_one(StoredContest, contest_id)
    key = file_name.rsplit(".", 1)[0]
    piece = session.exec(
        select(StoredPiece).where(StoredPiece.contest_id == contest_id, StoredPiece.key == key)
    ).first()
    if piece is None:
        piece = StoredPiece(contest_id=contest_id, key=key, file_name=file_name, text=text)
        before: Mapping[str, Any] | str = ""
    else:
        if rules_are_frozen(Phase(contest.phase)):
            raise RuleError(f"The piece {key} cannot be changed any more: the contest is {contest.phase}.")
        before = fields_of(piece, "file_name", "text")
        piece.file_name, piece.text = file_name, text
    session.add(piece)
    session.flush()
    audit(
        session,
        who=who,
        what="piece set",
        contest=contest.slug,
        about=f"piece {key}",
        before=before,
        after=fields_of(piece, "file_name", "text"),
    )
    return piece


def add_entry(session: Session, contest_id: int, entry: Entry, *, who: str) -> StoredEntry:
    """Entry added to a contest, last in the order of receipt.

    Raises
    ------
    InputError
        There is an entry of that identifier.
    """
    contest = session.get_one(StoredContest, contest_id)
    others = entries_of(session, contest_id)
    if check_identifier(entry.id, "entry") in {other.key for other in others}:
        raise InputError(f"entry {entry.id}", "is there already; give the band another identifier")
    stored = StoredEntry(
        contest_id=contest_id,
        key=entry.id,
        received=len(others),
        also_in_json=json.dumps(entry.also_in),
        consent="not asked" if entry.may_be_recorded else "refused",
        **{name: getattr(entry, name) for name in _ENTRY_FIELDS},
    )
    session.add(stored)
    session.flush()
    audit(session, who=who, what="entry made", contest=contest.slug, about=f"entry {entry.id}", after=asdict(entry))
    return stored


def change_entry(session: Session, entry: StoredEntry, *, who: str, reason: str = "", **changes: Any) -> None:  # noqa: ANN401 any field of an entry
    """Change fields of an entry, keeping before and after in the audit trail.

    Raises
    ------
    RuleError
        The contest is final.
    """
    contest = session.get_one(StoredContest, entry.contest_id)
    refuse_if_final(contest)
    unknown = set(changes) - set(_ENTRY_FIELDS)
    if unknown:
        raise InputError(f"entry {entry.key}", f"has no field {', '.join(sorted(unknown))}")
    before = fields_of(entry, *changes)
    for name, value in changes.items():
        setattr(entry, name, value)
    session.add(entry)
    session.flush()
    audit(
        session,
        who=who,
        what="entry changed",
        contest=contest.slug,
        about=f"entry {entry.key}",
        before=before,
        after=changes,
        reason=reason,
    )


def set_phase(session: Session, contest: StoredContest, phase: str, *, who: str, reason: str = "") -> None:
    """Move a contest to another phase; whether the step is allowed is for `judging.contest` to say."""
    before = contest.phase
    contest.phase = phase
    session.add(contest)
    session.flush()
    audit(
        session,
        who=who,
        what="phase changed",
        contest=contest.slug,
        before=before,
        after=phase,
        reason=reason,
    )


def set_order(session: Session, contest: StoredContest, keys: Iterable[str], *, who: str, reason: str = "") -> None:
    """Set the order of ringing, by entry keys: the draw's, or a swap with its reason.

    Raises
    ------
    InputError
        Not every entry once.
    """
    order = list(keys)
    known = sorted(entry.key for entry in entries_of(session, contest.id) if not entry.withdrawn)
    if sorted(order) != known:
        raise InputError("order of ringing", f"must name each entry that rings once: {', '.join(known)}")
    before = contest.order_json
    contest.order_json = json.dumps(order)
    session.add(contest)
    session.flush()
    audit(
        session,
        who=who,
        what="order of ringing set",
        contest=contest.slug,
        before=before,
        after=contest.order_json,
        reason=reason,
    )


def publish(
    session: Session, contest: StoredContest, document: Mapping[str, Any], *, phase: str, who: str, reason: str = ""
) -> StoredPublication:
    """Keep a result word for word as it is made public; it is never changed afterwards.

    Parameters
    ----------
    session : Session
        A writing session.
    contest : StoredContest
        Its present revision is published.
    document : mapping
        As `judging.contest.result_document` makes it.
    phase : {"provisional", "final"}
        As what.
    who, reason : str
        Who publishes; a revision after final needs a reason.

    Returns
    -------
    StoredPublication
        With the head of the audit chain that papers print.
    """
    publication = StoredPublication(
        contest_id=contest.id,
        revision=contest.revision,
        phase=phase,
        result_json=json.dumps(document, sort_keys=True, ensure_ascii=False),
        rules_text=contest.rules_text,
        audit_head=str(head(session)),
        reason=reason,
    )
    session.add(publication)
    session.flush()
    audit(
        session,
        who=who,
        what=f"{phase} result published",
        contest=contest.slug,
        about=f"revision {contest.revision}",
        after=publication.result_json,
        reason=reason,
    )
    return publication


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


def load_day(session: Session, contest_id: int) -> ContestDay:
    """Everything a result is made from, read from the texts that are kept.

    Parameters
    ----------
    session : Session
        A reading session will do.
    contest_id : int
        Which contest.

    Returns
    -------
    ContestDay
        As `judging.contest.judge_contest` takes it. Before the draw the order is that of receipt.
    """
    contest = session.get_one(StoredContest, contest_id)
    entries = [as_entry(entry) for entry in entries_of(session, contest_id)]
    order = order_of(contest)
    judges = [judge for judge in judges_of(session, contest_id) if not judge.shadow]
    return ContestDay(
        rules=read_rules(contest.rules_text, name="rules.toml"),
        entries=numbered(entries, order),
        judges=tuple(Judge(judge.key, judge.name) for judge in judges),
        pieces={piece.key: piece_from_file(piece.file_name, piece.text) for piece in pieces_of(session, contest_id)},
        logs=strike_logs_of(session, contest_id),
        sheets=sheets_of(session, contest_id),
        order=order or tuple(entry.id for entry in entries if not entry.withdrawn),
    )


def draw_order(session: Session, contest_id: int) -> tuple[str, ...]:
    """Return the order that the declared seed draws; anyone gets the same."""
    contest = session.get_one(StoredContest, contest_id)
    seed = read_rules(contest.rules_text, name="rules.toml").draw_seed
    return draw(tuple(as_entry(entry) for entry in entries_of(session, contest_id)), seed)


def as_entry(stored: StoredEntry) -> Entry:
    """Return the value of a stored entry, without its number in the order (`numbered` gives it)."""
    return Entry(
        id=stored.key,
        also_in=tuple(json.loads(stored.also_in_json)),
        may_be_recorded=stored.consent != "refused",
        **{name: getattr(stored, name) for name in _ENTRY_FIELDS},
    )


def refuse_if_final(contest: StoredContest) -> None:
    """Raise `RuleError` where the contest is final: a correction is made by opening a revision."""
    if contest.phase == Phase.FINAL:
        raise RuleError(f"The result of {contest.title} is final; a correction is made as a new revision.")


def _free_slug(session: Session, title: str) -> str:
    """Return a slug from a title that no contest has."""
    stem = re.sub(r"[^a-z0-9]+", "-", title.lower()).strip("-")[:60] or "contest"
    taken = set(session.exec(select(StoredContest.slug)).all())
    number = 1
    while (slug := stem if number == 1 else f"{stem}-{number}") in taken:
        number += 1
    return slug
