"""CSV → A JUDGE'S SHEETS, in two shapes told apart by the header.

=========================== ==========================================================================
``entry,total,comment``     one line a band; ``comment`` may be left out
``entry,change,faults,tap_s`` one line a tap; ``change`` or ``tap_s`` may be empty; a line with an entry
                            and nothing else is a sheet without a fault; a further column ``total`` gives the
                            figure that was signed where it is not the sum of the taps
=========================== ==========================================================================

In place of ``change`` stands ``whole_pull``, ``block`` or ``criterion`` where the rules declare lines for these (a
criterion by its name or number), and ``marks`` may stand for ``faults`` where sheets hold marks.

Both may have ``revision`` (1 is the first signed sheet) and ``reason`` (why it was revised); in the second they are
the same on every line of an entry and revision. Comments to a sheet of taps stand in a file of their own,
``entry,comment``.
"""

import csv
import io
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal, InvalidOperation

from judging.contest.piece_asked import last_change, refuse_beyond
from judging.contest.values import Entry
from judging.errors import InputError
from judging.marks.lines import change_of, changes_a_line, check_lines, most_a_tap
from judging.marks.panel import check_figure
from judging.marks.sheet_rules import Lines, Sheets
from judging.marks.values import Sheet, Tap
from judging.piece.piece import Piece

__all__ = ["check_figure", "read_comments", "read_sheets"]

_TOTALS = frozenset({"entry", "total"})
_TAPS = frozenset({"entry", "faults"})
#: Columns that say what a line is about, beside ``change``, by what the rules declare.
_ABOUT: dict[str, Lines] = {"whole_pull": "whole pull", "block": "block", "criterion": "criterion"}
_KNOWN = frozenset({"entry", "total", "comment", "change", "faults", "tap_s", "revision", "reason", *_ABOUT})
#: A peal of 5,040 takes about three hours; a day has fewer seconds than this.
_MOST_TAP_S = 86_400.0
_MOST_CHARACTERS = 5_000_000
_MOST_DIGITS = 12
#: Where no rules are given, no sheet is finer than this.
_FINEST = Decimal("0.001")


@dataclass(frozen=True, slots=True)
class _Line:
    """One line of a CSV file, by header."""

    where: str
    cells: Mapping[str, str]

    def __getitem__(self, key: str) -> str:
        return self.cells.get(key, "").strip()

    def number(self, key: str) -> Decimal:
        text = self[key].replace("½", ".5")
        try:
            number = Decimal(text)
        except InvalidOperation as error:
            raise InputError(f"{self.where}, {key}", f'"{text[:40]}" is no number; write halves as 0.5') from error
        if (
            not number.is_finite()
            or len(number.as_tuple().digits) > _MOST_DIGITS
            or abs(number.adjusted()) > _MOST_DIGITS
        ):
            raise InputError(f"{self.where}, {key}", f'"{text[:40]}" is no number of faults or marks')
        return number

    def whole(self, key: str) -> int | None:
        text = self[key]
        if not text:
            return None
        if not text.isascii() or not text.isdecimal() or not 0 < int(text) < 10**6:
            raise InputError(f"{self.where}, {key}", f'"{text[:40]}" is no whole number from 1')
        return int(text)


def read_sheets(
    text: str,
    *,
    name: str,
    judge: str,
    entries: Collection[Entry] | None = None,
    rules: Sheets | None = None,
    comments: Mapping[str, str] | None = None,
    pieces: Mapping[str, Piece] | None = None,
) -> tuple[Sheet, ...]:
    """One judge's sheets from the text of a CSV file.

    Parameters
    ----------
    text : str
        The file's text, in either shape.
    name : str
        Its name, for messages.
    judge : str
        Identifier of the judge.
    entries : collection of Entry or None
        Where given, a sheet for an unknown or withdrawn entry is refused with its line.
    rules : Sheets or None
        Where given, a figure finer than its step or above its limit is refused with its line.
    comments : mapping of str to str or None
        Comments by entry, for sheets that have none of their own.
    pieces : mapping of str to Piece or None
        Test piece by entry: a fault at a change beyond it is refused with its line.

    Returns
    -------
    tuple of Sheet
        In the order in which entries first appear, revisions ascending.

    Raises
    ------
    InputError
        Naming file, line and value.
    """
    lines = list(_lines(text, name))
    header = frozenset(lines[0].cells) if lines else _header(text, name)
    if header >= _TAPS:
        declared = rules or Sheets(step=_FINEST)
        last = {entry: last_change(piece) for entry, piece in (pieces or {}).items()}
        for line in lines:
            change = _change(line, declared) if changes_a_line(declared) else None  # a criterion has no change
            refuse_beyond(change, last.get(line["entry"]), f"{line.where}, change")
        sheets, wheres = _tap_sheets(lines, judge, declared)
    elif header >= _TOTALS:
        sheets = [_total_sheet(line, judge) for line in lines]
        wheres = [line.where for line in lines]
    else:
        raise InputError(
            f"{name}, line 1",
            f'the header is "{",".join(sorted(header))[:80]}"; it should be "entry,total,comment" or '
            '"entry,change,faults,tap_s"',
        )
    seen: dict[tuple[str, int], str] = {}
    for sheet, where in zip(sheets, wheres, strict=True):
        if (sheet.entry, sheet.revision) in seen:
            raise InputError(
                where,
                f"a second sheet for {sheet.entry}, the first is at {seen[sheet.entry, sheet.revision]}; a corrected "
                "sheet has a higher revision and a reason",
            )
        seen[sheet.entry, sheet.revision] = where
        _check(sheet, where, entries, rules)
    notes = comments or {}
    for entry in notes:
        if entries is not None and entry not in {known.id for known in entries}:
            raise InputError(name, f'there is a comment for "{entry[:80]}", which is no entry of this contest')
    return tuple(replace(sheet, comment=sheet.comment or notes.get(sheet.entry, "")) for sheet in sheets)


def read_comments(text: str, *, name: str) -> dict[str, str]:
    """Comments by entry from a CSV file ``entry,comment``.

    Raises
    ------
    InputError
        For another header, or an entry that is there twice.
    """
    lines = list(_lines(text, name))
    comments: dict[str, str] = {}
    if lines and "comment" not in lines[0].cells:
        raise InputError(f"{name}, line 1", 'the header should be "entry,comment"')
    for line in lines:
        entry = line["entry"]
        if entry in comments:
            raise InputError(line.where, f"a second comment for {entry}")
        comments[entry] = line["comment"]
    return comments


def _header(text: str, name: str) -> frozenset[str]:
    if not text.strip():
        raise InputError(name, "the file is empty")
    return frozenset(cell.strip().lower() for cell in text.removeprefix("\ufeff").splitlines()[0].split(","))


def _lines(text: str, name: str) -> Iterator[_Line]:
    text = text.removeprefix("\ufeff")
    if len(text) > _MOST_CHARACTERS:
        raise InputError(name, f"{len(text)} characters, at most {_MOST_CHARACTERS}; is it the right file?")
    if "\0" in text:
        raise InputError(name, "it is no text file; was a spreadsheet saved without exporting it as CSV?")
    reader = csv.reader(io.StringIO(text), strict=True)
    header: list[str] = []
    try:
        for cells in reader:
            if not any(cell.strip() for cell in cells) or cells[0].lstrip().startswith("#"):
                continue
            where = f"{name}, line {reader.line_num}"
            if not header:
                header = _checked_header(cells, where)
                continue
            if len(cells) > len(header):
                raise InputError(
                    where, f"{len(cells)} cells under a header of {len(header)}; quote a comment with commas"
                )
            line = _Line(where, dict.fromkeys(header, "") | dict(zip(header, cells, strict=False)))
            if not line["entry"]:
                raise InputError(where, "it names no entry")
            yield line
    except csv.Error as error:
        raise InputError(f"{name}, line {reader.line_num}", f"it is no CSV: {error}") from error


def _checked_header(cells: list[str], where: str) -> list[str]:
    header = ["faults" if cell.strip().lower() == "marks" else cell.strip().lower() for cell in cells]
    if len(header) == 1 and (";" in header[0] or "\t" in header[0]):
        raise InputError(where, "the cells are not separated by commas; export it as CSV with commas")
    if "entry" not in header:
        raise InputError(where, f'the header "{",".join(header)[:80]}" has no column "entry"')
    for cell in header:
        if cell not in _KNOWN:
            raise InputError(where, f'the column "{cell[:40]}" is not known; known are {", ".join(sorted(_KNOWN))}')
    if len(set(header)) < len(header):
        raise InputError(where, "a column is there twice")
    return header


def _total_sheet(line: _Line, judge: str) -> Sheet:
    if not line["total"]:
        raise InputError(f"{line.where}, total", "it is empty; leave the line out where the band was not judged")
    return Sheet(
        judge=judge,
        entry=line["entry"],
        total=line.number("total"),
        comment=line["comment"],
        revision=line.whole("revision") or 1,
        reason=line["reason"],
    )


def _tap_sheets(lines: list[_Line], judge: str, rules: Sheets) -> tuple[list[Sheet], list[str]]:
    taps: dict[tuple[str, int], list[Tap]] = {}
    first: dict[tuple[str, int], _Line] = {}
    for line in lines:
        key = line["entry"], line.whole("revision") or 1
        first.setdefault(key, line)
        group = taps.setdefault(key, [])
        if line["faults"]:
            group.append(_tap(line, rules))
        elif any(line[column] for column in ("change", "tap_s", *_ABOUT)):
            raise InputError(f"{line.where}, faults", "it is empty beside a change, a time or what else it is about")
    sheets = [
        Sheet(
            judge=judge,
            entry=entry,
            total=(
                first[entry, revision].number("total")
                if first[entry, revision]["total"]
                else sum((tap.faults for tap in group), Decimal(0))
            ),
            taps=tuple(group),
            comment=first[entry, revision]["comment"],
            revision=revision,
            reason=first[entry, revision]["reason"],
        )
        for (entry, revision), group in taps.items()
    ]
    return sheets, [line.where for line in first.values()]


def _tap(line: _Line, rules: Sheets) -> Tap:
    faults = line.number("faults")
    most = most_a_tap(rules)
    if not 0 <= faults <= most:
        raise InputError(f"{line.where}, faults", f"{faults} is not from 0 to {most}")
    if faults % rules.step:
        raise InputError(f"{line.where}, faults", f"{faults} is finer than the step declared, {rules.step}")
    time_s = float(line.number("tap_s")) if line["tap_s"] else None
    if time_s is not None and not 0 <= time_s <= _MOST_TAP_S:
        raise InputError(f"{line.where}, tap_s", f"{time_s} is not from 0 to {_MOST_TAP_S:.0f} seconds")
    return Tap(_change(line, rules), faults, time_s)


def _change(line: _Line, rules: Sheets) -> int | None:
    """Change that a line is kept under, whichever column says what it is about."""
    for column, lines in _ABOUT.items():
        if not line[column]:
            continue
        if rules.lines != lines:
            raise InputError(f"{line.where}, {column}", f'the rules declare lines for "{rules.lines}", not "{lines}"')
        names = [criterion.name.casefold() for criterion in rules.criteria]
        if column == "criterion" and line[column].casefold() in names:
            return names.index(line[column].casefold()) + 1
        number = line.whole(column)
        return None if number is None else change_of(number, rules)
    return line.whole("change")


def _check(sheet: Sheet, where: str, entries: Collection[Entry] | None, rules: Sheets | None) -> None:
    if sheet.revision > 1 and not sheet.reason:
        raise InputError(where, f"revision {sheet.revision} of {sheet.entry} gives no reason; a revised sheet says why")
    if entries is not None:
        found = [entry for entry in entries if entry.id == sheet.entry]
        if not found:
            raise InputError(where, f'"{sheet.entry[:80]}" is no entry of this contest')
        if found[0].withdrawn:
            raise InputError(where, f"{sheet.entry} is withdrawn ({found[0].withdrawn}), so it has no sheet")
    check_figure(sheet.total, where, rules or Sheets(step=_FINEST))
    if rules is not None:
        check_lines(sheet.taps, sheet.total, where, rules)
