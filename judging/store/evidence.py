"""What was heard: consent, recordings and strike logs of each entry.

A recording is only kept with the band's consent; without it the band is judged by ear alone.
"""

import hashlib
import json

from sqlmodel import Session, col, select

from judging.contest import notes_of
from judging.errors import RuleError
from judging.piece import Piece, piece_from_file
from judging.store.audit import audit
from judging.store.columns import utc_now
from judging.store.lookups import as_entry, entries_of, piece_of, rules_of
from judging.store.publications import is_shown, refuse_if_final, refuse_if_shown
from judging.store.recordings import Kept
from judging.store.tables import StoredContest, StoredDayRecording, StoredEntry, StoredRecording, StoredStrikeLog
from judging.striking import is_midi, read_log, read_log_of, write_log
from judging.striking.strike_log import StrikeLog


def set_consent(session: Session, entry: StoredEntry, consent: str, *, who: str) -> None:
    """Note whether a band agrees to be recorded.

    Parameters
    ----------
    session : Session
        A writing session.
    entry : StoredEntry
        Whose.
    consent : {"not asked", "given", "refused"}
        Where it is refused afterwards, `judging.store.erasing.take_back` is the next step.
    who : str
        Who asked.

    Raises
    ------
    RuleError
        A result is shown, and whether the band agreed decides whether its count stands in it.
    """
    if consent == "given" and entry.recording_taken_back_at is not None:
        entry.recording_taken_back_at = None
    elif consent == entry.consent:
        return
    before = entry.consent
    if "refused" in {before, consent}:
        _refuse_to_change_counts(session, session.get_one(StoredContest, entry.contest_id))
    entry.consent = consent
    session.add(entry)
    session.flush()
    audit(
        session,
        who=who,
        what="consent to record noted",
        contest=_slug(session, entry),
        about=f"entry {entry.key}",
        before=before,
        after=consent,
    )


def keeps_recordings(entry: StoredEntry) -> bool:
    """Whether recordings of an entry may be kept: its band agreed, and has not taken them back since."""
    return entry.consent == "given" and entry.recording_taken_back_at is None


def add_recording(
    session: Session, entry: StoredEntry, kept: Kept, *, name: str, who: str, is_second: bool = False
) -> StoredRecording:
    """Add a recording of an entry, whose file is kept already; the same one given twice is one.

    Parameters
    ----------
    session : Session
        A writing session.
    entry : StoredEntry
        Whose ringing it is.
    kept : Kept
        From `Recordings.keep` or `Incoming.finish`.
    name : str
        The giver's own file name.
    who : str
        Who gave it.
    is_second : bool
        Whether another recorder made it of the same touch; it is held against the first and never counted.

    Returns
    -------
    StoredRecording
        The recording.

    Raises
    ------
    RuleError
        The band has refused, or was not asked; the result is final; there is no first to hold a second against, or it
        is the very same file.
    """
    refuse_if_final(session.get_one(StoredContest, entry.contest_id))
    if not keeps_recordings(entry):
        asked = "has not been asked whether it may be recorded" if entry.consent == "not asked" else "does not agree"
        if entry.consent == "given":
            asked = "agreed, and has taken its recording back since"
        raise RuleError(f"No recording of {entry.key} can be kept: the band {asked}. It is judged by ear alone.")
    if is_second:
        first = recordings_of(session, entry.id)
        if not first:
            raise RuleError("There is no recording yet that a second recorder's could be held against; give it first.")
        if kept.sha256 in {recording.sha256 for recording in first}:
            raise RuleError("This is the very recording that is there already, and not a second recorder's.")
    found = session.exec(
        select(StoredRecording).where(StoredRecording.entry_id == entry.id, StoredRecording.sha256 == kept.sha256)
    ).first()
    if found is not None and found.erased_at is None and found.is_second == is_second:
        return found
    recording = found or StoredRecording(
        entry_id=entry.id, sha256=kept.sha256, size_bytes=kept.size_bytes, name=name[:200]
    )
    recording.erased_at, recording.is_second = None, is_second
    session.add(recording)
    session.flush()
    audit(
        session,
        who=who,
        what="second recorder's recording given" if is_second else "recording given",
        contest=_slug(session, entry),
        about=f"entry {entry.key}",
        after={"sha256": kept.sha256, "size_bytes": kept.size_bytes},
    )
    return recording


def erase_recording(session: Session, recording: StoredRecording, *, who: str, reason: str) -> None:
    """Give a recording up; its file goes with the next `Store.sweep`, unless another entry refers to it.

    Parameters
    ----------
    session : Session
        A writing session.
    recording : StoredRecording
        From this session.
    who, reason : str
        Who erases it and why.
    """
    entry = session.get_one(StoredEntry, recording.entry_id)
    recording.erased_at, recording.name = utc_now(), ""  # a file's name may say who rang
    session.add(recording)
    session.flush()
    audit(
        session,
        who=who,
        what="recording erased",
        contest=_slug(session, entry),
        about=f"entry {entry.key}",
        before={"sha256": recording.sha256},
        reason=reason,
    )


def wanted_recordings(session: Session) -> set[str]:
    """Return the SHA-256 of every recording that an entry or a day refers to, for `Recordings.sweep`."""
    of_entries = select(StoredRecording.sha256).where(col(StoredRecording.erased_at).is_(None))
    of_days = select(StoredDayRecording.sha256).where(col(StoredDayRecording.erased_at).is_(None))
    return {*session.exec(of_entries).all(), *session.exec(of_days).all()}


def recordings_of(session: Session, entry_id: int, *, is_second: bool = False) -> list[StoredRecording]:
    """Return an entry's recordings that are still there, newest first; or those of a second recorder."""
    return list(
        session.exec(
            select(StoredRecording)
            .where(
                StoredRecording.entry_id == entry_id,
                StoredRecording.is_second == is_second,
                col(StoredRecording.erased_at).is_(None),
            )
            .order_by(col(StoredRecording.id).desc())
        ).all()
    )


def add_strike_log(
    session: Session,
    entry: StoredEntry,
    *,
    data: bytes | str,
    name: str,
    origin: str,
    who: str,
    recording_id: int | None = None,
    notes: tuple[str, ...] = (),
    start_is_sure: bool = True,
    is_second: bool = False,
) -> StoredStrikeLog:
    """Strike log of an entry, in force from now on; earlier ones are kept.

    Parameters
    ----------
    session : Session
        A writing session.
    entry : StoredEntry
        Whose ringing it is.
    data : bytes or str
        CSV text or a Standard MIDI File; kept as CSV.
    name : str
        The giver's own file name, for messages.
    origin : {"heard", "given"}
        Heard by the ear in a recording, or given as a log.
    who : str
        Who gave it, or ``"ear"``.
    recording_id : int or None
        The recording it was heard in.
    notes : tuple of str
        What the ear said of the recording.
    start_is_sure : bool
        False where the ear would have the first blow confirmed.
    is_second : bool
        Whether it was heard in a second recorder's recording; it is kept beside the other, and never in force.

    Returns
    -------
    StoredStrikeLog
        The log.

    Raises
    ------
    InputError
        The data is no strike log for this entry's number of bells.
    RuleError
        The result is final, or no test piece is declared for the entry.
    """
    contest = session.get_one(StoredContest, entry.contest_id)
    if is_second or (origin == "heard" and rules_of(contest).marks.machine.part == "cross-check"):
        refuse_if_final(contest)  # it stands beside the result, whenever the ear is done
    else:
        refuse_if_shown(session, contest)
    encoded = data.encode() if isinstance(data, str) else data
    piece = _piece(session, entry)
    by_note = notes_of(as_entry(entry), rules_of(contest), bells=piece.bells) if is_midi(encoded) else None
    log, remarks = read_log_of(encoded, name=name, piece=piece, notes=by_note)
    csv = write_log(log)
    stored = StoredStrikeLog(
        entry_id=entry.id,
        recording_id=recording_id,
        origin=origin,
        csv=csv,
        sha256=hashlib.sha256(csv.encode()).hexdigest(),
        notes_json=json.dumps((*notes, *remarks), ensure_ascii=False),
        start_is_sure=start_is_sure,
        is_second=is_second,
    )
    session.add(stored)
    session.flush()
    audit(
        session,
        who=who,
        what="second recorder's recording heard"
        if is_second
        else ("recording heard" if origin == "heard" else "strike log given"),
        contest=_slug(session, entry),
        about=f"entry {entry.key}",
        after={"sha256": stored.sha256},
    )
    return stored


def strike_log_of(session: Session, entry_id: int, *, is_second: bool = False) -> StoredStrikeLog | None:
    """Return an entry's strike log in force, if there is one; or the newest that a second recorder's was heard as."""
    return session.exec(
        select(StoredStrikeLog)
        .where(StoredStrikeLog.entry_id == entry_id, StoredStrikeLog.is_second == is_second)
        .order_by(col(StoredStrikeLog.id).desc())
    ).first()


def as_strike_log(session: Session, stored: StoredStrikeLog) -> StrikeLog:
    """Return the value of a stored strike log."""
    entry = session.get_one(StoredEntry, stored.entry_id)
    return read_log(stored.csv.encode(), name=f"strike log of {entry.key}", bells=_piece(session, entry).bells)


def strike_logs_of(session: Session, contest_id: int, *, is_second: bool = False) -> dict[str, StrikeLog]:
    """Return the strike logs in force of a contest, by entry key; or those of second recorders."""
    logs = {}
    for entry in entries_of(session, contest_id):
        stored = strike_log_of(session, entry.id, is_second=is_second)
        if stored is not None:
            logs[entry.key] = as_strike_log(session, stored)
    return logs


def _refuse_to_change_counts(session: Session, contest: StoredContest) -> None:
    if is_shown(session, contest):
        raise RuleError(
            "The result is shown, and was made with what was agreed then. The band can take its recording back all "
            "the same: that erases the recording, and changes no count."
        )


def _piece(session: Session, entry: StoredEntry) -> Piece:
    piece = piece_of(session, entry)
    return piece_from_file(piece.file_name, piece.text)


def _slug(session: Session, entry: StoredEntry) -> str:
    return session.get_one(StoredContest, entry.contest_id).slug
