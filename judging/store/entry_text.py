"""Entries → the text of an ``entries.toml`` that reads back as the same entries.

What cannot be written so, and read back, is not taken into the store at all: an archive must always be readable.
"""

import json
from collections.abc import Iterable, Mapping
from dataclasses import fields, replace

from judging.contest import Entry, read_entries
from judging.errors import InputError


def entries_text(entries: Iterable[Entry]) -> str:
    """Text of an ``entries.toml`` that reads back as these entries.

    Parameters
    ----------
    entries : iterable of Entry
        In the order in which they were received; their numbers are not written, since they follow from the order.

    Returns
    -------
    str
        Only what differs from the defaults.
    """
    return "\n".join(_entry_text(entry) for entry in entries)


def refuse_unwritable(entry: Entry) -> None:
    """Refuse an entry that its own text would not give back.

    Raises
    ------
    InputError
        Naming the field.
    """
    name = f"entry {entry.id}"
    try:
        [back] = read_entries(entries_text([entry]), name=name)
    except InputError as problem:
        raise InputError(problem.where.replace(f"{name}, [[entry]] 1", name), problem.problem) from problem
    if back != replace(entry, number=None):
        raise InputError(name, "has words that begin or end with a blank, or a figure finer than can be kept")


def _entry_text(entry: Entry) -> str:
    plain = Entry(id=entry.id, band=entry.band)
    values: dict[str, object] = {"id": entry.id, "band": entry.band}
    values |= {
        field.name: getattr(entry, field.name)
        for field in fields(Entry)
        if field.name != "number" and getattr(entry, field.name) != getattr(plain, field.name)
    }
    return "[[entry]]\n" + _toml(values)


def _toml(values: Mapping[str, object]) -> str:
    """Return plain values as TOML, which spells them as JSON does, all but one control character."""
    return "".join(
        f"{key} = {json.dumps(value, ensure_ascii=False)}\n".replace("\x7f", "\\u007f") for key, value in values.items()
    )
