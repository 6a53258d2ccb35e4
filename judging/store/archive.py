"""A stored contest → one ZIP file of plain texts, from which anyone can judge it again without this service.

It is a contest folder (rules, entries, pieces, strike logs, sheets with every revision) with the order of ringing, the
result as published, the contest's part of the audit trail, and a list of it all. Recordings stay behind: they are
large, hold voices, and the strike logs are the evidence that was counted. ``heard.json`` says how each log was heard,
with the digest of the bells' voices that were used; a recount needs neither. ``second/ENTRY.csv`` is what was heard in
a second recorder's recording. The same contest gives the same bytes.
"""

import csv
import io
import json
import zipfile
from collections.abc import Iterable

from sqlmodel import Session, col, select

from judging.marks.values import Sheet
from judging.store.archive_list import LIST_NAME, TRAIL_NAME, list_of
from judging.store.audit import head
from judging.store.entry_text import entries_text
from judging.store.evidence import strike_log_of
from judging.store.hearings import hearing_of
from judging.store.lookups import as_entry, entries_of, judges_of, order_of, pieces_of
from judging.store.service_tables import StoredAudit
from judging.store.sheets import sheets_of
from judging.store.tables import StoredContest, StoredPublication, StoredRecording, StoredStrikeLog

#: A ZIP file cannot say an earlier date, and a real one would make the same contest's bytes differ.
_NO_DATE = (1980, 1, 1, 0, 0, 0)


def archive(session: Session, contest_id: int) -> bytes:
    """Return a contest as the bytes of a ZIP file.

    Parameters
    ----------
    session : Session
        A reading session will do.
    contest_id : int
        Which contest.

    Returns
    -------
    bytes
        It holds bands' names and judges' comments, so it is for the organiser until the result is final.
    """
    files = {name: text.encode() for name, text in _texts(session, contest_id).items()}
    contest = session.get_one(StoredContest, contest_id)
    files[LIST_NAME] = list_of(
        files,
        revision=contest.revision,
        contest=contest.slug,
        phase=contest.phase,
        audit_head=str(head(session)),
    )
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as target:
        for name, content in sorted(files.items()):
            target.writestr(zipfile.ZipInfo(name, _NO_DATE), content, zipfile.ZIP_DEFLATED)
    return packed.getvalue()


def sheets_text(sheets: Iterable[Sheet]) -> str:
    """Text of one judge's ``sheets/JUDGE.csv`` that reads back as these sheets, taps and revisions included.

    Parameters
    ----------
    sheets : iterable of Sheet
        All of one judge.

    Returns
    -------
    str
        One line a tap; a sheet without taps has one line.
    """
    written = io.StringIO()
    lines = csv.writer(written, lineterminator="\n")
    lines.writerow(["entry", "change", "faults", "tap_s", "total", "comment", "revision", "reason"])
    for sheet in sheets:
        signed = [format(sheet.total, "f"), sheet.comment, sheet.revision, sheet.reason]
        taps = [
            ["" if value is None else value for value in (tap.change, format(tap.faults, "f"), tap.time_s)]
            for tap in sheet.taps
        ]
        for tap in taps or [["", "", ""]]:
            lines.writerow([sheet.entry, *tap, *signed])
    return written.getvalue()


def _texts(session: Session, contest_id: int) -> dict[str, str]:
    contest = session.get_one(StoredContest, contest_id)
    entries = entries_of(session, contest_id)
    texts = {
        "rules.toml": contest.rules_text,
        "entries.toml": entries_text(as_entry(entry) for entry in entries),
        "order.txt": "".join(f"{key}\n" for key in order_of(contest)),
        TRAIL_NAME: _audit_text(session, contest.slug),
    }
    texts |= {f"pieces/{piece.file_name}": piece.text for piece in pieces_of(session, contest_id)}
    heard = {}
    for entry in entries:
        log, second = (strike_log_of(session, entry.id, is_second=is_second) for is_second in (False, True))
        if log is not None:
            texts[f"logs/{entry.key}.csv"] = log.csv
            heard[entry.key] = _how_heard(session, log)
        if second is not None:
            texts[f"second/{entry.key}.csv"] = second.csv
    if heard:
        texts["heard.json"] = json.dumps(heard, indent=1, sort_keys=True, ensure_ascii=False) + "\n"
    # A withdrawn band has no part in the result, and a folder with a sheet for it would not be read.
    withdrawn = {entry.key for entry in entries if entry.withdrawn}
    sheets = [sheet for sheet in sheets_of(session, contest_id) if sheet.entry not in withdrawn]
    for judge in judges_of(session, contest_id):
        own = [sheet for sheet in sheets if sheet.judge == judge.key]
        if own:
            texts[f"sheets/{judge.key}.csv"] = sheets_text(own)
    published = session.exec(
        select(StoredPublication)
        .where(StoredPublication.contest_id == contest_id)
        .order_by(col(StoredPublication.id).desc())
    ).first()
    if published is not None:
        texts["result.json"] = published.result_json
    return texts


def _how_heard(session: Session, log: StoredStrikeLog) -> dict[str, object]:
    """Return how a log came about: with which voices it was heard, and in which recording."""
    recording = None if log.recording_id is None else session.get_one(StoredRecording, log.recording_id)
    hearing = hearing_of(session, log)
    return {
        "origin": log.origin,
        "recording_sha256": "" if recording is None else recording.sha256,
        "start_is_sure": log.start_is_sure,
        "voices_sha256": "" if hearing is None else hearing.voices_sha256,
        "said": "" if hearing is None else hearing.said,
        "bells": [] if hearing is None else json.loads(hearing.clarity_json),
    }


def _audit_text(session: Session, slug: str) -> str:
    """Return a contest's part of the trail, one JSON object a line, with the hashes that tie it to the whole."""
    entries = session.exec(select(StoredAudit).where(StoredAudit.contest == slug).order_by(col(StoredAudit.seq))).all()
    return "".join(json.dumps(entry.model_dump(), ensure_ascii=False, sort_keys=True) + "\n" for entry in entries)
