"""A new contest from the files of its folder: rules, entries, test pieces, chosen together in one form."""

from collections.abc import Sequence
from dataclasses import dataclass

from fastapi import UploadFile

from judging.errors import InputError

#: Fields of the form.
FIELDS = ("rules", "entries", "pieces")

HINTS = {
    "rules": "rules.toml: title, sections, judges, how marks are combined. Frozen once it is published.",
    "entries": "entries.toml: one [[entry]] a band. May come later.",
    "pieces": "One file for each test piece, .toml or .txt, named as entries name it. Or type them in at the desk.",
}

#: Most bytes of one text; the longest piece written out, a peal on twelve, has about 65,000.
MOST_BYTES = 500_000

#: Most test pieces of a contest.
MOST_PIECES = 20


@dataclass(frozen=True, slots=True)
class ContestTexts:
    """The texts of a contest; an empty one was not given."""

    rules: str
    entries: str
    pieces: dict[str, str]


def read_contest_files(rules: UploadFile, entries: UploadFile | None, pieces: Sequence[UploadFile]) -> ContestTexts:
    """Return the texts of a contest's files.

    Parameters
    ----------
    rules, entries : UploadFile or None
        As chosen; a browser sends a file without a name where none was.
    pieces : sequence of UploadFile
        Any number of them.

    Returns
    -------
    ContestTexts

    Raises
    ------
    InputError
        Its ``where`` is the field.
    """
    chosen = [piece for piece in pieces if piece.filename]
    if len(chosen) > MOST_PIECES:
        raise InputError("pieces", f"are {len(chosen)} files, more than {MOST_PIECES}")
    return ContestTexts(
        rules=_text(rules, "rules"),
        entries=_text(entries, "entries") if entries is not None and entries.filename else "",
        pieces={_name(piece): _text(piece, "pieces") for piece in chosen},
    )


def read_rules_file(rules: UploadFile) -> str:
    """Return the text of rules that were chosen as a file.

    Raises
    ------
    InputError
        About ``rules``: no file, too large, or no text.
    """
    return _text(rules, "rules")


def _name(piece: UploadFile) -> str:
    """Return a file's own name without any folder."""
    return (piece.filename or "").replace("\\", "/").rsplit("/", 1)[-1][:200]


def _text(file: UploadFile, field: str) -> str:
    if not file.filename:
        raise InputError(
            field, "no file is chosen; it is called rules.toml" if field == "rules" else "no file is chosen"
        )
    data = file.file.read(MOST_BYTES + 1)
    if len(data) > MOST_BYTES:
        raise InputError(field, f"{_name(file)} is larger than {MOST_BYTES:,} bytes; is it the right file?")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(
            field, f"{_name(file)} is not UTF-8 text (byte {error.start}); is it the right file?"
        ) from error
