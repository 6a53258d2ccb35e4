"""What an organiser does with a contest: made from its texts, changed by its rules; each in the trail."""

import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import asdict
from typing import Any

from sqlmodel import Session, select

from judging.contest import Entry, Judge, Phase, RuleSet, check_pieces, read_entries, read_rules, rules_are_frozen
from judging.contest.rules import check_identifier
from judging.errors import InputError, RuleError
from judging.piece import piece_from_file
from judging.store.audit import audit
from judging.store.columns import fields_of, utc_now
from judging.store.entry_text import refuse_unwritable
from judging.store.lookups import ENTRY_FIELDS, as_entry, contest_by_slug, entries_of, judges_of
from judging.store.publications import refuse_if_shown
from judging.store.service_tables import StoredLink
from judging.store.sheet_tables import StoredSheet
from judging.store.tables import StoredContest, StoredEntry, StoredJudge, StoredPiece

#: What the steward notes of a band's turn.
STEWARDS_FIELDS = ("practice_began_at", "practice_ended_at", "began_at", "ended_at", "incidents")
#: What may be changed of an entry: what was declared, and what the steward sees.
_CHANGEABLE = (*ENTRY_FIELDS, "also_in_json", "conflicts_json", "causes_json", *STEWARDS_FIELDS)


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
    _set_judges(session, contest, rules.judges)
    for file_name, text in (pieces or {}).items():
        add_piece(session, contest_id, file_name=file_name, text=text, who=who)
    if entries_text:
        for entry in read_entries(entries_text, name="entries.toml", rules=rules):
            add_entry(session, contest_id, entry, who=who)
    return contest


def set_rules(session: Session, contest: StoredContest, rules_text: str, *, who: str) -> None:
    """Put other rules in force while they are a draft.

    Parameters
    ----------
    session : Session
        A writing session.
    contest : StoredContest
        From this session.
    rules_text : str
        ``rules.toml``.
    who : str
        Who declares them.

    Raises
    ------
    InputError
        The text cannot be read.
    RuleError
        The rules are published, or no longer name a judge who has been given a link or a section with entries.
    """
    if rules_are_frozen(Phase(contest.phase)):
        raise RuleError(f"The rules are published and cannot be changed: the contest is {contest.phase}.")
    rules = read_rules(rules_text, name="rules.toml")
    _keep_sections_of_entries(session, contest, rules)
    before = contest.rules_text
    contest.rules_text, contest.title = rules_text, rules.title
    session.add(contest)
    _set_judges(session, contest, rules.judges)
    audit(session, who=who, what="rules set", contest=contest.slug, before=before, after=rules_text)


def add_piece(session: Session, contest_id: int, *, file_name: str, text: str, who: str) -> StoredPiece:
    """Test piece added to a contest, or put in the place of the one of that name while the rules are a draft.

    Raises
    ------
    InputError
        The text is no piece, or not what the rules ask of its section.
    RuleError
        The piece is there already and the rules are published.
    """
    contest = session.get_one(StoredContest, contest_id)
    key = file_name.rsplit(".", 1)[0]
    read = piece_from_file(file_name, text)
    check_pieces(read_rules(contest.rules_text, name="rules.toml"), {key: read}, name="rules.toml")
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
        There is an entry of that identifier, or something in it cannot be written down.
    """
    contest = session.get_one(StoredContest, contest_id)
    others = entries_of(session, contest_id)
    if check_identifier(entry.id, "entry") in {other.key for other in others}:
        raise InputError(f"entry {entry.id}", "is there already; give the band another identifier")
    refuse_if_shown(session, contest)
    refuse_unwritable(entry)
    stored = StoredEntry(
        contest_id=contest_id,
        key=entry.id,
        received=len(others),
        also_in_json=json.dumps(entry.also_in),
        conflicts_json=json.dumps(entry.conflicts),
        causes_json=json.dumps(entry.causes),
        consent="not asked" if entry.may_be_recorded else "refused",
        **{name: getattr(entry, name) for name in ENTRY_FIELDS},
    )
    session.add(stored)
    session.flush()
    audit(session, who=who, what="entry made", contest=contest.slug, about=f"entry {entry.id}", after=asdict(entry))
    return stored


def change_entry(session: Session, entry: StoredEntry, *, who: str, reason: str = "", **changes: Any) -> None:  # noqa: ANN401 any field of an entry
    """Change fields of an entry, keeping before and after in the audit trail.

    Raises
    ------
    InputError
        There is no such field, or something in it cannot be written down.
    RuleError
        The result is shown.
    """
    contest = session.get_one(StoredContest, entry.contest_id)
    refuse_if_shown(session, contest)
    unknown = set(changes) - set(_CHANGEABLE)
    if unknown:
        raise InputError(f"entry {entry.key}", f"has no field {', '.join(sorted(unknown))}")
    before = fields_of(entry, *changes)
    for name, value in changes.items():
        setattr(entry, name, value)
    refuse_unwritable(as_entry(entry))
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
    contest.phase_since = utc_now()
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
    refuse_if_shown(session, contest)
    order = list(keys)
    entries = entries_of(session, contest.id)
    ringing = [entry.key for entry in entries if not entry.withdrawn]
    known = {entry.key for entry in entries}  # a band that is withdrawn after the draw may keep its number
    if len(set(order)) < len(order) or not set(ringing) <= set(order) <= known:
        raise InputError("order of ringing", f"must name each entry that rings once: {', '.join(sorted(ringing))}")
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


def _free_slug(session: Session, title: str) -> str:
    """Return a slug from a title that no contest has."""
    stem = re.sub(r"[^a-z0-9]+", "-", title.lower()).strip("-")[:60] or "contest"
    taken = set(session.exec(select(StoredContest.slug)).all())
    number = 1
    while (slug := stem if number == 1 else f"{stem}-{number}") in taken:
        number += 1
    return slug


def _keep_sections_of_entries(session: Session, contest: StoredContest, rules: RuleSet) -> None:
    """Refuse rules without a section in which a band stands."""
    sections = {section.name for section in rules.sections}
    for entry in map(as_entry, entries_of(session, contest.id)):
        for name in (entry.section, *entry.also_in):
            if name and name not in sections:
                raise RuleError(
                    f"No section is called {name} any more, but bands are entered for it; leave its name as it is."
                )


def _set_judges(session: Session, contest: StoredContest, judges: Iterable[Judge]) -> None:
    """Keep the judges that the rules name, in their order, and no others but those who judge to learn."""
    known = {judge.key: judge for judge in judges_of(session, contest.id) if not judge.shadow}
    for position, judge in enumerate(judges):
        stored = known.pop(judge.id, None) or StoredJudge(
            contest_id=contest.id, key=judge.id, position=position, name=judge.name
        )
        stored.position, stored.name = position, judge.name
        session.add(stored)
    for stored in known.values():
        links = select(StoredLink.id).where(StoredLink.judge_id == stored.id)
        sheets = select(StoredSheet.id).where(StoredSheet.judge_id == stored.id)
        if session.exec(links).first() is not None or session.exec(sheets).first() is not None:
            raise RuleError(f"Judge {stored.name} has a link or a sheet already; leave the judge in the rules.")
        session.delete(stored)
    session.flush()
