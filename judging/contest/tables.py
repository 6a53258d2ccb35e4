"""TOML TABLE → TYPED VALUES, each key documented, each refusal naming key, table and what was probably meant.

A file of the contest is read through `Table`: every key it may have is a `Key` in a list that also makes the
documentation, so that a key cannot be read that is not described, nor described without being read.
"""

import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, time
from decimal import Decimal
from difflib import get_close_matches
from typing import Literal, NoReturn

from judging.errors import InputError

Kind = Literal[
    "text", "whole number", "number", "yes or no", "one of", "list of", "list of text", "date", "time of day"
]

#: Far more than any contest's rules or entries need; a larger file is a mistake or an attack.
MOST_CHARACTERS = 1_000_000
#: Of any number in rules or entries; keeps arithmetic exact far below the working digits.
MOST_DIGITS = 12
#: Names are printed on certificates and shown on phones.
LONGEST_TEXT = 2_000


@dataclass(frozen=True, slots=True)
class Key:
    """One documented key.

    Parameters
    ----------
    table : str
        The table it belongs to, as it is written (``"combining"``, ``"[penalty]"`` for an array of tables); empty
        for the top of the file.
    name : str
        The key.
    kind : Kind
        What its value is.
    default : object
        Its value when it is not there; None where there is none.
    meaning : str
        What it does, in a sentence.
    choices : tuple of str
        For ``one of`` and ``list of``.
    least, most : Decimal or None
        Limits of a number, both allowed.
    required : bool
        Whether it must be there.
    """

    table: str
    name: str
    kind: Kind
    default: object
    meaning: str
    choices: tuple[str, ...] = ()
    least: Decimal | None = None
    most: Decimal | None = None
    required: bool = False


class Table:
    """One table of a file, read key by key.

    Parameters
    ----------
    raw : mapping
        As TOML gives it.
    keys : sequence of Key
        The documented keys of this table.
    where : str
        File and table, for messages.

    Raises
    ------
    InputError
        For a key that is not documented.
    """

    def __init__(self, raw: Mapping[str, object], keys: Sequence[Key], where: str) -> None:
        self._raw = raw
        self._keys = {key.name: key for key in keys}
        self.where = where
        for name in raw:
            if name not in self._keys:
                refuse_unknown(name, self._keys, where)

    def __contains__(self, name: str) -> bool:
        """Whether the key is there."""
        return name in self._raw

    def text(self, name: str) -> str:
        """Text of a key, outer spaces taken off."""
        return self._as_text(name, self._value(name))

    def texts(self, name: str) -> tuple[str, ...]:
        """Texts of a key that holds a list."""
        value, key = self._value(name), self._keys[name]
        if not isinstance(value, (list, tuple)):
            self.refuse(name, f'{value!r} is no list; write ["...", "..."]')
        return tuple(self._chosen(key, self._as_text(name, item)) for item in value)

    def choice(self, name: str) -> str:
        """One of a key's choices."""
        return self._chosen(self._keys[name], self._as_text(name, self._value(name)))

    def flag(self, name: str) -> bool:
        """Yes or no."""
        value = self._value(name)
        if not isinstance(value, bool):
            self.refuse(name, f"{value!r} is neither true nor false")
        return value

    def whole(self, name: str) -> int:
        """Whole number of a key that always has one."""
        number = self.whole_or_none(name)
        if number is None:
            self.refuse(name, "it is missing")
        return number

    def whole_or_none(self, name: str) -> int | None:
        """Whole number, None where the default is none."""
        value = self._value(name)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int):
            self.refuse(name, f"{value} is no whole number")
        if abs(value) >= 10**MOST_DIGITS:
            self.refuse(name, f"it has more than {MOST_DIGITS} digits; no rule needs so many")
        self._within(name, Decimal(value))
        return value

    def number(self, name: str) -> Decimal:
        """Exact number of a key that always has one."""
        number = self.number_or_none(name)
        if number is None:
            self.refuse(name, "it is missing")
        return number

    def number_or_none(self, name: str) -> Decimal | None:
        """Exact number, None where the default is none."""
        value = self._value(name)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, (int, Decimal)):
            self.refuse(name, f"{value!r} is no number; write it without quotation marks")
        number = Decimal(value)
        if not number.is_finite():
            self.refuse(name, f"{number} is no number")
        if number and (abs(number.adjusted()) > MOST_DIGITS or len(number.as_tuple().digits) > MOST_DIGITS):
            self.refuse(name, f"{number:.3g} has more than {MOST_DIGITS} digits; no rule needs so many")
        self._within(name, number)
        return number

    def day(self, name: str) -> date | None:
        """Day, None where the default is none."""
        value = self._value(name)
        if value is None:
            return None
        if type(value) is not date:
            self.refuse(name, f"{value!r} is no day; write 2026-05-16 without quotation marks")
        return value

    def time_of_day(self, name: str) -> time | None:
        """Time of day, None where the default is none."""
        value = self._value(name)
        if value is None or isinstance(value, time):
            return value
        found = re.fullmatch(r"([01]?\d|2[0-3])[:.]([0-5]\d)", value.strip()) if isinstance(value, str) else None
        if found is None:
            self.refuse(name, f'{value!r} is no time of day; write "14:00"')
        return time(int(found[1]), int(found[2]))

    def refuse(self, name: str, problem: str) -> NoReturn:
        """Refuse a key's value.

        Raises
        ------
        InputError
            Always, naming file, table and key.
        """
        raise InputError(f"{self.where}, {name}", problem)

    def _value(self, name: str) -> object:
        key = self._keys[name]
        if name not in self._raw and key.required:
            raise InputError(self.where, f'the key "{name}" is missing ({key.meaning[0].lower()}{key.meaning[1:]})')
        return self._raw.get(name, key.default)

    def _as_text(self, name: str, value: object) -> str:
        if not isinstance(value, str):
            self.refuse(name, f"{value!r} is no text; put it in quotation marks")
        if len(value) > LONGEST_TEXT:
            self.refuse(name, f"{len(value)} characters, at most {LONGEST_TEXT}")
        if any(not character.isprintable() and character not in "\n\t" for character in value):
            self.refuse(name, "it holds a character that cannot be printed; was it pasted from another program?")
        return value.strip()

    def _chosen(self, key: Key, value: str) -> str:
        if key.choices and value not in key.choices:
            near = get_close_matches(value, key.choices, n=1)
            hint = f'did you mean "{near[0]}"?' if near else "it may be " + ", ".join(f'"{c}"' for c in key.choices)
            self.refuse(key.name, f'"{value}" is not known; {hint}')
        return value

    def _within(self, name: str, number: Decimal) -> None:
        key = self._keys[name]
        if key.least is not None and number < key.least:
            self.refuse(name, f"{number} is below {key.least}")
        if key.most is not None and number > key.most:
            self.refuse(name, f"{number} is above {key.most}")


def refuse_unknown(name: str, known: Mapping[str, object], where: str) -> NoReturn:
    """Refuse a key or a table that is not documented.

    Raises
    ------
    InputError
        Always, with a near miss where there is one.
    """
    near = get_close_matches(name, known, n=1, cutoff=0.5)
    hint = f'did you mean "{near[0]}"?' if near else "known here: " + ", ".join(sorted(known))
    raise InputError(where, f'the key "{name}" is not known; {hint}')


def parse(text: str, *, name: str) -> dict[str, object]:
    """TOML text as plain values, numbers exact.

    Parameters
    ----------
    text : str
        The file's text.
    name : str
        Its name, for messages.

    Returns
    -------
    dict
        Tables, lists and values; decimal numbers as Decimal.

    Raises
    ------
    InputError
        Where it is empty, too long, or no TOML.
    """
    text = text.removeprefix("\ufeff")
    if len(text) > MOST_CHARACTERS:
        raise InputError(name, f"{len(text)} characters, at most {MOST_CHARACTERS}; is it the right file?")
    if not text.strip():
        raise InputError(name, "the file is empty")
    try:
        return tomllib.loads(text, parse_float=Decimal)
    except tomllib.TOMLDecodeError as error:
        raise InputError(name, f"it is no TOML file: {error}") from error
    except (RecursionError, ArithmeticError, ValueError):
        raise InputError(name, "it is no TOML file that can be read: a number or a nest of lists has no end") from None


def tables(raw: Mapping[str, object], name: str, where: str) -> Iterator[tuple[str, Mapping[str, object]]]:
    """Each table of an array of tables, with where it stands.

    Raises
    ------
    InputError
        Where it is written as a single table or a plain value.
    """
    value = raw.get(name, [])
    if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
        raise InputError(where, f'"{name}" is a list of tables; head each with [[{name}]]')
    for number, item in enumerate(value, start=1):
        yield f"{where}, [[{name}]] {number}", item


def table(raw: Mapping[str, object], name: str, where: str) -> Mapping[str, object]:
    """Single table, empty where it is not there.

    Raises
    ------
    InputError
        Where it is written as an array of tables or a plain value.
    """
    value = raw.get(name, {})
    if not isinstance(value, dict):
        raise InputError(where, f'"{name}" is one table; head it with [{name}]')
    return value
