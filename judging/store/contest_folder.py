"""A contest folder on disk → the texts and values of the day, recordings still unheard.

The shape of a folder::

    rules.toml             the declared rules
    entries.toml           the bands
    pieces/ID.toml|.txt    test pieces
    recordings/ENTRY.wav   or .flac, .mp3, .ogg, .m4a ...: one a band, or instead
    logs/ENTRY.csv|.mid    strike logs, which go before a recording of the same name
    sheets/JUDGE.csv       one file a judge, and JUDGE-comments.csv beside it
    order.txt              entries in the order in which they rang, where it is not the draw's
"""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from difflib import get_close_matches
from pathlib import Path

from judging.contest import (
    ContestDay,
    Entry,
    RuleSet,
    check_pieces,
    draw,
    notes_of,
    piece_of,
    read_comments,
    read_entries,
    read_rules,
    read_sheets,
)
from judging.errors import InputError
from judging.files import read_bytes, read_text
from judging.marks.values import Sheet
from judging.piece import Piece, piece_from_file
from judging.striking import StrikeLog, is_midi, read_log_of

PARTS = ("pieces", "sheets", "logs", "recordings")
#: Folders that an archive has beside these.
_ARCHIVES_OWN = ("counts", "papers", "second", "service")
PIECE_SUFFIXES = frozenset({".toml", ".txt"})
LOG_SUFFIXES = frozenset({".csv", ".mid", ".midi"})
#: Suffixes of what a phone or a recorder makes.
RECORDING_SUFFIXES = frozenset(
    {
        ".wav",
        ".flac",
        ".mp3",
        ".ogg",
        ".oga",
        ".opus",
        ".m4a",
        ".aac",
        ".mp4",
        ".webm",
        ".aif",
        ".aiff",
        ".w64",
        ".rf64",
    }
)


@dataclass(frozen=True, slots=True)
class ContestFolder:
    """A contest folder, read.

    Parameters
    ----------
    day : ContestDay
        Everything but what must still be heard.
    recordings : mapping of str to Path
        By entry, only for entries without a strike log.
    declared : tuple of Path
        Every other file that was read.
    remarks : tuple of str
        What was taken for what in a strike log that did not say it.
    """

    day: ContestDay
    recordings: Mapping[str, Path]
    declared: tuple[Path, ...]
    remarks: tuple[str, ...] = ()

    def piece_of(self, entry: str) -> Piece:
        """Test piece of an entry.

        Parameters
        ----------
        entry : str
            Identifier of the entry.

        Returns
        -------
        Piece
        """
        return piece_of(next(one for one in self.day.entries if one.id == entry), self.day)

    def with_heard(self, heard: Mapping[str, StrikeLog]) -> ContestDay:
        """Return the day with the strike logs of its recordings, by entry."""
        return replace(self.day, logs={**self.day.logs, **heard})


def read_folder(folder: Path) -> ContestFolder:
    """Read a contest folder; recordings are found, not heard.

    Parameters
    ----------
    folder : Path
        A folder of the shape above.

    Returns
    -------
    ContestFolder

    Raises
    ------
    InputError
        Naming the file and place of the first thing that is not usable.
    """
    _check_shape(folder)
    rules = read_rules(read_text(folder / "rules.toml"), name=str(folder / "rules.toml"))
    entries = read_entries(read_text(folder / "entries.toml"), name=str(folder / "entries.toml"), rules=rules)
    pieces = {
        path.stem: piece_from_file(str(path), read_text(path)) for path in files_in(folder / "pieces", PIECE_SUFFIXES)
    }
    order, remarks = _order(folder / "order.txt", entries, rules)
    day = ContestDay(
        rules=rules,
        entries=entries,
        judges=rules.judges,
        pieces=pieces,
        logs={},
        sheets=(),
        order=order,
    )
    piece_by_entry = _pieces(day, name=str(folder / "entries.toml"))
    check_pieces(rules, pieces, name=str(folder / "rules.toml"))
    sheets = read_sheet_files(folder / "sheets", rules, entries, piece_by_entry)
    logs, by_id = {}, {entry.id: entry for entry in entries}
    for path in _named_after(piece_by_entry, folder / "logs", LOG_SUFFIXES):
        data, piece = read_bytes(path), piece_by_entry[path.stem]
        by_note = notes_of(by_id[path.stem], rules, bells=piece.bells) if is_midi(data) else None
        log, told = read_log_of(data, name=str(path), piece=piece, notes=by_note)
        logs[path.stem] = log
        remarks += [f"{path.stem}: {remark}" for remark in told]
    recordings = {
        path.stem: path
        for path in _named_after(piece_by_entry, folder / "recordings", RECORDING_SUFFIXES)
        if path.stem not in logs
    }
    declared = (
        folder / "rules.toml",
        folder / "entries.toml",
        *(path for path in (folder / "order.txt",) if path.is_file()),
        *(path for part in ("pieces", "sheets", "logs") for path in _all_files(folder / part)),
    )
    return ContestFolder(replace(day, logs=logs, sheets=sheets), recordings, declared, tuple(remarks))


def _pieces(day: ContestDay, *, name: str) -> dict[str, Piece]:
    """Test piece of every entry."""
    try:
        return {entry.id: piece_of(entry, day) for entry in day.entries}
    except InputError as error:
        raise InputError(f"{name}, {error.where}", error.problem) from error


def _check_shape(folder: Path) -> None:
    """Refuse what is no contest folder, or holds something else under the name of a part, or a part under another."""
    if folder.is_file():
        raise InputError(str(folder), "is a file; a contest is a folder with rules.toml and entries.toml")
    if not folder.is_dir():
        raise InputError(str(folder), "there is no such folder; a contest folder holds rules.toml and entries.toml")
    for path in sorted(folder.iterdir()):
        if path.name in PARTS and not path.is_dir():
            raise InputError(str(path), "is a file where a folder is needed")
        if path.is_dir() and path.name not in (*PARTS, *_ARCHIVES_OWN):
            near = get_close_matches(path.name.lower(), PARTS, n=1, cutoff=0.75)
            if near and not (folder / near[0]).exists():
                raise InputError(str(path), f"is not read; is it meant to be {near[0]}/?")


def _order(path: Path, entries: tuple[Entry, ...], rules: RuleSet) -> tuple[tuple[str, ...], list[str]]:
    """Order of ringing and what is to be said of it: as written, as drawn, or as entered where no draw is declared."""
    if not path.is_file():
        if rules.draw_seed:
            return draw(entries, rules.draw_seed), []
        entered = tuple(entry.id for entry in entries if not entry.withdrawn)
        return entered, ["No draw is declared: bands are taken to have rung in the order of entries.toml"]
    order = tuple(read_text(path).split())
    ringing = {entry.id for entry in entries if not entry.withdrawn}
    if len(set(order)) < len(order) or not ringing <= set(order) <= {entry.id for entry in entries}:
        raise InputError(str(path), f"must name each entry that rings once: {', '.join(sorted(ringing))}")
    return order, []


def read_sheet_files(
    folder: Path, rules: RuleSet, entries: tuple[Entry, ...], pieces: Mapping[str, Piece] | None = None
) -> tuple[Sheet, ...]:
    """Every sheet of every judge.

    Parameters
    ----------
    folder : Path
        ``sheets/``; may be missing.
    rules : RuleSet
        Names the judges and says what a figure may be.
    entries : tuple of Entry
        Who may have a sheet.
    pieces : mapping of str to Piece or None
        Test piece by entry, whose changes a sheet's faults must be within.

    Returns
    -------
    tuple of Sheet

    Raises
    ------
    InputError
        Naming file and line.
    """
    sheets: list[Sheet] = []
    files = {path.stem: path for path in files_in(folder, frozenset({".csv"}))}
    judges = {judge.id for judge in rules.judges}
    for stem, path in files.items():
        judge = stem.removesuffix("-comments")
        if judge not in judges:
            raise InputError(str(path), f"'{judge}' is no judge of rules.toml ({', '.join(sorted(judges))})")
        if stem != judge:
            continue
        comments_file = files.get(f"{judge}-comments")
        comments = read_comments(read_text(comments_file), name=str(comments_file)) if comments_file else {}
        sheets += read_sheets(
            read_text(path),
            name=str(path),
            judge=judge,
            entries=entries,
            rules=rules.marks.sheets,
            comments=comments,
            pieces=pieces,
        )
    return tuple(sheets)


def files_in(folder: Path, suffixes: frozenset[str]) -> list[Path]:
    """Files of a folder in order of name, hidden ones left out.

    Parameters
    ----------
    folder : Path
        May be missing.
    suffixes : frozenset of str
        What belongs there.

    Returns
    -------
    list of Path

    Raises
    ------
    InputError
        For a file that does not belong there, two that differ only by suffix, or a folder named as a file would be.
    """
    found = _all_files(folder)
    for path in folder.iterdir() if folder.is_dir() else ():
        if path.is_dir() and path.suffix.lower() in suffixes:
            raise InputError(str(path), "is a folder where a file is needed")
    for path in found:
        if path.suffix.lower() not in suffixes:
            raise InputError(str(path), f"is none of {', '.join(sorted(suffixes))}; does it belong in this folder?")
    stems = [path.stem for path in found]
    for path in found:
        if stems.count(path.stem) > 1:
            raise InputError(str(path), "there is another file of the same name and a different suffix; keep one")
    return found


def _all_files(folder: Path) -> list[Path]:
    if not folder.is_dir():
        return []
    return sorted(path for path in folder.iterdir() if path.is_file() and not path.name.startswith("."))


def _named_after(entries: Collection[str], folder: Path, suffixes: frozenset[str]) -> Iterator[Path]:
    for path in files_in(folder, suffixes):
        if path.stem not in entries:
            raise InputError(str(path), f"is named after no entry of entries.toml ({', '.join(sorted(entries))})")
        yield path
