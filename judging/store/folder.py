"""A contest folder taken into the store: rules, entries, pieces, recordings or strike logs, judges' sheets.

Everything a person must mend is read before anything is written, and all of it is written in one transaction.
"""

from pathlib import Path

from sqlmodel import Session

from judging.contest import Phase, piece_of
from judging.errors import InputError
from judging.files import read_bytes, read_text
from judging.store.contest_folder import LOG_SUFFIXES, PIECE_SUFFIXES, RECORDING_SUFFIXES, files_in, read_sheet_files
from judging.store.contests import create_contest, set_order, set_phase
from judging.store.days import draw_order, load_day
from judging.store.engine import Store
from judging.store.evidence import add_recording, add_strike_log, set_consent
from judging.store.lookups import entries_of
from judging.store.recordings import Kept
from judging.store.sheets import add_sheet
from judging.store.tables import StoredEntry


def import_folder(store: Store, folder: Path, *, who: str, slug: str = "") -> int:
    """Take a contest folder in, as it stands.

    Parameters
    ----------
    store : Store
        Open; recordings are kept first, then all rows in one transaction.
    folder : Path
        ``rules.toml``, ``entries.toml``, ``pieces/``, ``recordings/``, ``logs/``, ``sheets/``; also an archive's
        ``order.txt``.
    who : str
        Who takes it in.
    slug : str
        The contest's name in addresses; made from its title where empty.

    Returns
    -------
    int
        The contest's id. Its phase is ``sheets in`` where every judge has signed for every entry, ``ringing`` where
        some recording, log or sheet is there, else ``draft``.

    Raises
    ------
    InputError
        A file is missing or cannot be used; nothing is kept then.
    """
    if not folder.is_dir():
        raise InputError(str(folder), "is not a folder")
    rules_text, entries_text = read_text(folder / "rules.toml"), read_text(folder / "entries.toml")
    pieces = {path.name: read_text(path) for path in files_in(folder / "pieces", PIECE_SUFFIXES)}
    recordings = {
        path.stem: (path.name, store.recordings.keep_file(path))
        for path in files_in(folder / "recordings", RECORDING_SUFFIXES)
    }
    with store.write() as session:
        contest = create_contest(
            session, rules_text=rules_text, entries_text=entries_text, pieces=pieces, who=who, slug=slug
        )
        contest_id = contest.id
        entries = {entry.key: entry for entry in entries_of(session, contest_id)}
        most_log_bytes = store.settings.max_log_bytes
        _take_evidence(session, entries, folder, recordings, most_log_bytes=most_log_bytes, who=who)
        day = load_day(session, contest_id)
        piece_by_entry = {entry.id: piece_of(entry, day) for entry in day.entries}
        sheets = read_sheet_files(folder / "sheets", day.rules, day.entries, piece_by_entry)
        for sheet in sorted(sheets, key=lambda sheet: sheet.revision):
            add_sheet(session, contest_id, sheet, who=who)
        if (folder / "order.txt").is_file():  # an archive's: bands may have changed places after the draw
            set_order(session, contest, read_text(folder / "order.txt").split(), who=who)
        elif day.rules.draw_seed:
            set_order(session, contest, draw_order(session, contest_id), who=who)
        wanted = {(judge.id, entry.id) for judge in day.judges for entry in day.entries if not entry.withdrawn}
        if wanted and wanted <= {(sheet.judge, sheet.entry) for sheet in sheets}:
            set_phase(session, contest, Phase.SHEETS_IN, who=who)
        elif sheets or recordings or day.logs:
            set_phase(session, contest, Phase.RINGING, who=who)
        return contest_id


def _take_evidence(
    session: Session,
    entries: dict[str, StoredEntry],
    folder: Path,
    recordings: dict[str, tuple[str, Kept]],
    *,
    most_log_bytes: int,
    who: str,
) -> None:
    """Take recordings and logs in, each named after its entry."""
    for key, (name, kept) in recordings.items():
        entry = _entry(entries, key, name)
        # Whoever hands over a contest's recordings has asked the bands; an entry that says otherwise is left alone.
        if entry.consent != "refused":
            set_consent(session, entry, "given", who=who)
            add_recording(session, entry, kept, name=name, who=who)
    for path in files_in(folder / "logs", LOG_SUFFIXES):
        entry = _entry(entries, path.stem, path.name)
        add_strike_log(
            session, entry, data=read_bytes(path, most=most_log_bytes), name=path.name, origin="given", who=who
        )


def _entry(entries: dict[str, StoredEntry], key: str, name: str) -> StoredEntry:
    if key not in entries:
        raise InputError(name, f"there is no entry {key} in entries.toml; the file is named after the entry's id")
    return entries[key]
