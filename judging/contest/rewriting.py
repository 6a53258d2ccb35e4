"""RULES.TOML AND SINGLE VALUES → RULES.TOML: a value put into the text where it belongs, everything else left as it is.

The text is the one thing that counts; a form only changes values in it, and comments and order stay as they were
written. What a value may be is for `judging.contest.rules` to say, of the new text.
"""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AbstractTable, AoT, Item

from judging.contest.tables import parse
from judging.errors import InputError

#: What stands in a file.
Value = str | bool | int | Decimal | dt.date | tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Place:
    """Where a value stands in the file.

    Parameters
    ----------
    table : str
        Name of its table; empty for the top of the file.
    key : str
        The key; empty for the whole table.
    number : int
        Which of the tables headed ``[[table]]``, from 1; 0 for one headed ``[table]``.
    """

    table: str
    key: str
    number: int = 0


def value_at(raw: Mapping[str, object], place: Place) -> object:
    """Value at a place of a parsed file.

    Parameters
    ----------
    raw : mapping
        From `judging.contest.tables.parse`.
    place : Place
        Where.

    Returns
    -------
    object
        As TOML gives it; None where nothing stands there.
    """
    held: object = raw.get(place.table) if place.table else raw
    if place.number:
        held = held[place.number - 1] if isinstance(held, list) and len(held) >= place.number else None
    return held.get(place.key) if isinstance(held, Mapping) else None


def how_many(raw: Mapping[str, object], table: str) -> int:
    """How many tables headed ``[[table]]`` a parsed file has."""
    held = raw.get(table)
    return len(held) if isinstance(held, list) else 0


def rewrite(text: str, values: Mapping[Place, Value | None], *, name: str) -> str:
    """Text with some of its values changed.

    Parameters
    ----------
    text : str
        TOML.
    values : mapping of Place to Value or None
        What shall stand there, None for nothing. A number one higher than there are tables of that name makes a new
        one; None for a whole table takes it out.
    name : str
        The file's name, for messages.

    Returns
    -------
    str
        TOML; comments, order and every other value as they were.

    Raises
    ------
    InputError
        The text is no TOML, or written in a way that cannot be changed value by value.
    """
    parse(text, name=name)
    plain = text.removeprefix("\ufeff").replace("\r\n", "\n")
    try:
        document = tomlkit.parse(plain)
        for place, value in values.items():
            if place.key:
                _put(document, place, value)
        gone = [place for place, value in values.items() if not place.key and value is None]
        for place in sorted(gone, key=lambda one: -one.number):  # from the last, so that numbers stay true
            del _array(document, place.table)[place.number - 1]
        made = _spaced(tomlkit.dumps(document))
        raw = parse(made, name=name)
    except (TOMLKitError, LookupError, TypeError, ValueError, RecursionError) as error:
        raise InputError(name, "it is written in a way that the form cannot change; change it in the text") from error
    kept = {place: value for place, value in values.items() if place.key} if not gone else {}
    if any(_plain(value_at(raw, place)) != _plain(value) for place, value in kept.items()):
        raise InputError(name, "it is written in a way that the form cannot change; change it in the text")
    return made


def _put(document: tomlkit.TOMLDocument, place: Place, value: Value | None) -> None:
    if value is None and value_at(document, place) is None:
        return
    table = _table(document, place)
    if value is None:
        del table[place.key]
    else:
        table[place.key] = _item(value)


def _table(document: tomlkit.TOMLDocument, place: Place) -> AbstractTable | tomlkit.TOMLDocument:
    if not place.table:
        return document
    if place.number:
        array = _array(document, place.table)
        if len(array) == place.number - 1:
            array.append(tomlkit.table())
        return array[place.number - 1]
    if place.table not in document:
        document[place.table] = tomlkit.table()
    table = document[place.table]
    if not isinstance(table, AbstractTable):
        raise TypeError(place.table)
    return table


def _array(document: tomlkit.TOMLDocument, table: str) -> AoT:
    if table not in document:
        document[table] = tomlkit.aot()
    array = document[table]
    if not isinstance(array, AoT):
        raise TypeError(table)
    return array


def _item(value: Value) -> Item:
    if isinstance(value, Decimal):
        plain = f"{value:f}"
        return tomlkit.float_(plain) if "." in plain else tomlkit.integer(plain)
    return tomlkit.item(list(value) if isinstance(value, tuple) else value)


def _plain(value: object) -> object:
    return list(value) if isinstance(value, tuple) else value


def _spaced(text: str) -> str:
    """Text with an empty line above every head that follows a value, where that changes nothing else."""
    lines = text.split("\n")
    spaced = "\n".join(
        [
            lines[0],
            *(
                f"\n{line}" if line.startswith("[") and before.strip() and not before.startswith("#") else line
                for before, line in pairwise(lines)
            ),
        ]
    )
    return spaced if tomlkit.parse(spaced).unwrap() == tomlkit.parse(text).unwrap() else text
