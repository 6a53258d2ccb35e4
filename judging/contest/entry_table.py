"""ENTRIES.CSV → ENTRIES: a table as a spreadsheet saves it, one band a line, under the keys of ``entries.toml``."""

import csv
import io
import re
from collections.abc import Collection, Mapping
from decimal import Decimal
from difflib import get_close_matches
from typing import NoReturn

from judging.contest.entries import ENTRY, read_entry
from judging.contest.rules import RuleSet
from judging.contest.tables import Key
from judging.contest.values import Entry
from judging.errors import InputError

#: Columns that a table of entries may have; the identifier is made from the band's name where it is left out.
COLUMNS: Mapping[str, Key] = {key.name: key for key in ENTRY if key.name not in {"conflicts", "causes"}}

_YES, _NO = frozenset({"yes", "y", "true", "1", "x"}), frozenset({"no", "n", "false", "0", ""})
_MOST_LINES = 500


def read_entry_table(
    text: str, *, name: str, rules: RuleSet | None = None, taken: Collection[str] = ()
) -> tuple[Entry, ...]:
    """Entries from the text of a CSV file.

    Parameters
    ----------
    text : str
        A header with ``band`` and any other of `COLUMNS`, then a line for each band. Commas, semicolons or tabs.
    name : str
        Its name, for messages.
    rules : RuleSet or None
        Where given, sections are checked against it.
    taken : collection of str
        Identifiers that others have already.

    Returns
    -------
    tuple of Entry
        In the order of the file.

    Raises
    ------
    InputError
        Naming file, line, column and value; nothing of a file with a mistake is used.
    """
    lines = _cells(text.removeprefix("\ufeff"), name)
    header = [re.sub(r"[\s-]+", "_", cell.strip().lower()) for cell in lines[0][1]]
    _check_header(header, f"{name}, line {lines[0][0]}")
    entries: list[Entry] = []
    for number, cells in lines[1:]:
        where = f"{name}, line {number}"
        if len(cells) > len(header):
            raise InputError(where, f"{len(cells)} cells under a header of {len(header)}; quote a name with commas")
        row = {column: cell.strip() for column, cell in zip(header, cells, strict=False)}
        known = {*taken, *(entry.id for entry in entries)}
        values = {column: _value(COLUMNS[column], cell, where) for column, cell in row.items() if cell}
        values.setdefault("id", identifier_of(row.get("band", ""), known))
        entry = read_entry(values, where, rules)
        if entry.id in known:
            raise InputError(f"{where}, id", f'"{entry.id}" is there already')
        if any(entry.band.casefold() == other.band.casefold() for other in entries):
            raise InputError(f"{where}, band", f'"{entry.band[:80]}" is there twice')
        entries.append(entry)
    if not entries:
        raise InputError(name, "has a header and no band below it")
    return tuple(entries)


def identifier_of(band: str, taken: Collection[str]) -> str:
    """Return an identifier for a band that no other has, made from its name as far as that is possible.

    Parameters
    ----------
    band : str
        As entered.
    taken : collection of str
        Identifiers that are there already.

    Returns
    -------
    str
        Lower-case letters, digits and single hyphens.
    """
    stem = re.sub(r"[^a-z0-9]+", "-", band.lower()).strip("-")[:50].strip("-") or "band"
    number = 1
    while (name := stem if number == 1 else f"{stem}-{number}") in taken:
        number += 1
    return name


def _cells(text: str, name: str) -> list[tuple[int, list[str]]]:
    if "\0" in text:
        raise InputError(name, "is no text file; was a spreadsheet saved without exporting it as CSV")
    head = next((line for line in text.splitlines() if line.strip()), "")
    delimiter = max(",;\t", key=head.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    lines: list[tuple[int, list[str]]] = []
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                lines.append((reader.line_num, cells))
            if len(lines) > _MOST_LINES:
                raise InputError(name, f"has more than {_MOST_LINES} lines; is it the right file")
    except csv.Error as error:
        raise InputError(f"{name}, line {reader.line_num}", f"is no CSV: {error}") from error
    if not lines:
        raise InputError(name, "is empty")
    return lines


def _check_header(header: list[str], where: str) -> None:
    for column in header:
        if column not in COLUMNS:
            near = get_close_matches(column, COLUMNS, n=1)
            meant = f'; is "{near[0]}" meant' if near else f"; known are {', '.join(COLUMNS)}"
            raise InputError(where, f'the column "{column[:40]}" is not known{meant}')
    if len(set(header)) < len(header):
        raise InputError(where, "a column is there twice")
    if "band" not in header:
        raise InputError(where, 'there is no column "band"')


def _value(key: Key, cell: str, where: str) -> object:
    """Value of a cell as TOML would have given it."""
    place = f"{where}, {key.name}"
    if key.kind == "yes or no":
        word = cell.lower()
        if word not in _YES | _NO:
            _refuse(place, f'"{cell[:40]}" is neither yes nor no')
        return word in _YES
    if key.kind == "whole number":
        if not (cell.isascii() and cell.isdecimal() and len(cell) <= 9):
            _refuse(place, f'"{cell[:40]}" is not a whole number')
        return int(cell)
    if key.kind == "number":
        if not re.fullmatch(r"\d{1,9}([.,]\d{1,6})?", cell, flags=re.ASCII):
            _refuse(place, f'"{cell[:40]}" is not a number')
        return Decimal(cell.replace(",", "."))
    if key.kind == "list of text":
        return [part.strip() for part in cell.split("|") if part.strip()]
    return cell


def _refuse(where: str, problem: str) -> NoReturn:
    raise InputError(where, problem)
