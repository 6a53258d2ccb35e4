"""Keys of a ``.toml`` table, read with their kind and their limits; a key nobody knows is refused."""

import tomllib
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from datetime import date, time
from difflib import get_close_matches
from typing import TypeVar

from judging.errors import InputError

_T = TypeVar("_T")

_KINDS: Mapping[type, str] = {str: "text in quotes", int: "a whole number", list: "a list in [ ]", dict: "a table"}


def read_toml(text: str, *, name: str) -> "Keys":
    """Table of a ``.toml`` file.

    Parameters
    ----------
    text : str
        The file's text.
    name : str
        Its name, for messages.

    Returns
    -------
    Keys
        Its keys.

    Raises
    ------
    InputError
        Where it is not TOML; line and column are named.
    """
    try:
        return Keys(tomllib.loads(text.removeprefix("\ufeff")), name)
    except tomllib.TOMLDecodeError as error:
        raise InputError(name, f"is not a TOML file: {error} (text stands in quotes, a list in [ ])") from error
    except (ValueError, RecursionError) as error:
        raise InputError(
            name, "is not a TOML file that can be read: a number or a nest of lists in it has no end"
        ) from error


class Keys:
    """One table of keys.

    Parameters
    ----------
    table : mapping
        As TOML gives it.
    where : str
        Where it stands, for messages.

    Attributes
    ----------
    own : collection of str
        The keys written in this table itself, not taken over from another.
    """

    def __init__(self, table: Mapping[str, object], where: str) -> None:
        self.where = where
        self.own: Collection[str] = table.keys()
        self._table = table

    def __contains__(self, key: str) -> bool:
        """Whether the key is given."""
        return key in self._table

    def __iter__(self) -> Iterator[str]:
        """Iterate over the names of the keys."""
        return iter(self._table)

    def values(self, names: Iterable[str]) -> dict[str, object]:
        """Return the values of those of some keys that are given, as TOML gives them."""
        return {key: self._table[key] for key in names if key in self._table}

    def is_text(self, key: str) -> bool:
        """Whether the value of a key is text."""
        return isinstance(self._table.get(key), str)

    def taking_over(self, outer: "Keys", names: Collection[str]) -> "Keys":
        """These keys, with those named of an outer table where this one does not give them."""
        taken = Keys(outer.values(names) | self.values(self), self.where)
        taken.own = self.own
        return taken

    def at(self, key: str) -> str:
        """Where the value of a key stands, for messages."""
        return f"{self.where}, {key}"

    def allow(self, known: Collection[str]) -> None:
        """Refuse a key that is not among those known; near ones are suggested."""
        for key in self._table:
            if key not in known:
                near = get_close_matches(key, known, n=1, cutoff=0.6)
                hint = f"did you mean {near[0]!r}?" if near else f"the keys here are {', '.join(sorted(known))}"
                raise InputError(self.where, f"unknown key {key!r}: {hint}")

    def of_kind(self, key: str, kind: type[_T]) -> _T:
        """Value of a key that must be of a kind."""
        value = self._table[key]
        if not isinstance(value, kind) or isinstance(value, bool):
            raise InputError(self.at(key), f"{shown(value)} where {_KINDS[kind]} is expected")
        return value

    def text(self, key: str, default: str = "") -> str:
        """Text without spaces around it; the default where the key is not given."""
        if key not in self._table:
            return default
        text = self.of_kind(key, str).strip()
        if not text:
            raise InputError(self.at(key), "is empty: write something between the quotes, or leave the key out")
        return text

    def choice(self, key: str, choices: Sequence[str]) -> str:
        """One of some words, the first (which may be empty, for none) where the key is not given."""
        text = self.text(key, choices[0])
        if text not in choices:
            words = [repr(word) for word in choices if word]
            expected = f"one of {', '.join(words)}" if len(words) > 1 else words[0]
            raise InputError(self.at(key), f"{shown(text)} where {expected} is expected")
        return text

    def whole(self, key: str, default: int, *, least: int, most: int) -> int:
        """Whole number within limits; the default where the key is not given."""
        if key not in self._table:
            return default
        number = self.of_kind(key, int)
        if not least <= number <= most:
            raise InputError(self.at(key), f"{shown(number)} where a number from {least:,} to {most:,} is expected")
        return number

    def items(self, key: str) -> list[object]:
        """Items of a list that must not be empty; no items where the key is not given."""
        if key not in self._table:
            return []
        items = self.of_kind(key, list)
        if not items:
            raise InputError(self.at(key), "is an empty list: write what belongs there, or leave the key out")
        return items

    def wholes(self, key: str, *, least: int, most: int) -> list[int]:
        """Whole numbers of a list, each within limits, or the one number given by itself."""
        items = [self._table[key]] if isinstance(self._table.get(key), int) else self.items(key)
        numbers: list[int] = []
        for item in items:
            if not isinstance(item, int) or isinstance(item, bool) or not least <= item <= most:
                raise InputError(self.at(key), f"{shown(item)} where numbers from {least} to {most:,} are expected")
            numbers.append(item)
        return numbers

    def texts(self, key: str) -> list[str]:
        """Texts of a list, or the one text given by itself."""
        items: list[object] = [self.text(key)] if self.is_text(key) else self.items(key)
        for number, item in enumerate(items, start=1):
            if not isinstance(item, str) or not item.strip():
                raise InputError(f"{self.at(key)}, item {number}", f"{shown(item)} where text in quotes is expected")
        return [item.strip() for item in items if isinstance(item, str)]

    def table(self, key: str) -> "Keys":
        """Table inside this one; an empty one where the key is not given."""
        if key not in self._table:
            return Keys({}, self.at(key))
        return Keys(self.of_kind(key, dict), self.at(key))

    def tables(self, key: str) -> list["Keys"]:
        """Tables of a list."""
        tables = []
        for number, item in enumerate(self.items(key), start=1):
            if not isinstance(item, dict):
                raise InputError(f"{self.where}, {key} {number}", f"{shown(item)} where a table is expected")
            tables.append(Keys(item, f"{self.where}, {key} {number}"))
        return tables


def shown(value: object) -> str:
    """A value as it stands in a message, cut short where it is long."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (date, time)):
        return str(value)
    try:
        text = repr(value)
    except ValueError:  # Python writes no number of more than 4,300 digits
        return "a number beyond measure"
    return text if len(text) <= 60 else f"{text[:57]}..."
