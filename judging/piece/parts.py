"""Keys of a part → the part: a method with its calling, call changes, written rows, or parts within it."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from judging.errors import InputError
from judging.piece.called_rows import CallChanges, WrittenRows
from judging.piece.keys import Keys
from judging.piece.lead import Lead, lead_of
from judging.piece.method_keys import UNNAMED, calling_of, method_of
from judging.piece.methods import Method
from judging.piece.named_rows import named_row
from judging.piece.positions import CalledAt, place_of_position
from judging.piece.ringing import Part, Passes
from judging.piece.rows import MOST_CHANGES, read_row
from judging.piece.touch import Called, PlainCourse

UNTIL_CALLED = "until the next call"

_METHOD_KEYS = ("method", "notation", "calls", "cover", "fixed")
_LENGTH_KEYS = ("rows_each", "whole_pulls_each")

#: What may be rung, by the key that says so, and the keys that go with it.
_BESIDE: Mapping[str, tuple[str, ...]] = {
    "call_changes": ("called", *_LENGTH_KEYS),
    "rows": ("labels", *_LENGTH_KEYS),
    "calling": _METHOD_KEYS,
    "calls_at": (*_METHOD_KEYS, "observation", "positions"),
    "part": (*_METHOD_KEYS, *_LENGTH_KEYS, "called", "observation", "positions"),
}

#: A method with none of these is rung for a plain course.
_PLAIN_COURSE = "a plain course"

#: Every key of a part.
PART_KEYS: tuple[str, ...] = tuple(dict.fromkeys([*_BESIDE, *_BESIDE["part"], "repeat"]))

#: Keys of which one given in a part puts aside all those of the same line in what it stands in.
_TOGETHER = (
    ("method", "notation", "calls"),
    ("cover", "fixed"),
    _LENGTH_KEYS,
    ("called",),
    ("observation",),
    ("positions",),
)

#: Parts within parts, beyond which nobody can follow the file.
_DEEPEST = 6


class PartReader:
    """Reader of the parts of one piece.

    Parameters
    ----------
    bells : int
        How many bells ring.

    Attributes
    ----------
    methods : dict of str to None
        Titles of the methods in order of first use.
    free : set of bool
        Whether rows last until the next call, for every part read; of one mind in a sound piece.
    """

    def __init__(self, bells: int) -> None:
        self.bells = bells
        self.methods: dict[str, None] = {}
        self._is_called = False
        self.free: set[bool] = set()
        self._leads: dict[tuple[Method, frozenset[int]], Lead] = {}

    def title(self, changes: int) -> str:
        """Title of a piece that gives none, from what was read and how many changes it came to."""
        if UNNAMED in self.methods:
            return f"{changes} {'change' if changes == 1 else 'changes'}"
        if self.methods:
            return f"{changes} {' and '.join(self.methods)}"
        return "Call changes" if self._is_called else "Written rows"

    def passes(self, keys: Keys, *, depth: int = 0) -> Passes:
        """Part with its repeats.

        Parameters
        ----------
        keys : Keys
            Its table, keys handed down to it included.
        depth : int
            How many parts it stands within; 0 for the piece as a whole, whose part ends are labelled.

        Returns
        -------
        Passes
            Ready to ring.

        Raises
        ------
        InputError
            Where the keys do not say one thing to ring.
        """
        repeat = keys.whole("repeat", 1, least=1, most=10**12)
        what = _what(keys)
        if what != "part":
            return Passes((self._one(what, keys),), repeat, mark_ends=depth == 0)
        if depth == _DEEPEST:
            raise InputError(keys.where, f"parts stand within parts more than {_DEEPEST} deep")
        inner = [part_keys(keys, inner) for inner in keys.tables("part")]
        return Passes(tuple(self.passes(part, depth=depth + 1) for part in inner), repeat, mark_ends=depth == 0)

    def _one(self, what: str, keys: Keys) -> Part:
        if what == "call_changes":
            self._is_called = True
            up = keys.choice("called", ("", "up", "down"))
            if not up:
                raise InputError(keys.where, 'says not how changes are called: add called = "up" or called = "down"')
            return CallChanges(_calls(keys), up == "up", self._rows_each(keys, 0), keys.at("call_changes"))
        if what == "rows":
            return self._written(keys)
        self.free.add(False)
        fixed = fixed_of(keys, self.bells)
        method = method_of(keys, free_places=self.bells - len(fixed))
        if (method, fixed) not in self._leads:
            self._leads[method, fixed] = lead_of(method, bells=self.bells, fixed=fixed, where=keys.where)
        lead = self._leads[method, fixed]
        self.methods[method.title] = None
        if what == "calling":
            return Called(lead, calling_of(keys, lead), keys.at("calling"))
        if what == "calls_at":
            return self._called_at(keys, lead)
        return PlainCourse(lead, keys.where)

    def _rows_each(self, keys: Keys, default: int) -> int:
        """How many rows each row is held; 1 where it is held until the next call."""
        if all(key in keys for key in _LENGTH_KEYS):
            raise InputError(keys.where, "gives both rows_each and whole_pulls_each: give one of them")
        until_called = keys.is_text("whole_pulls_each")
        self.free.add(until_called)
        if until_called:
            keys.choice("whole_pulls_each", (UNTIL_CALLED,))
            return 1
        if "whole_pulls_each" in keys:
            return 2 * keys.whole("whole_pulls_each", 1, least=1, most=MOST_CHANGES)
        rows_each = keys.whole("rows_each", default, least=1, most=MOST_CHANGES)
        if not rows_each:
            raise InputError(
                keys.where,
                f'says not how long each row is held: add whole_pulls_each = 2, or whole_pulls_each = "{UNTIL_CALLED}" '
                "where nobody knows beforehand",
            )
        return rows_each

    def _written(self, keys: Keys) -> WrittenRows:
        rows, names = [], []
        for number, text in enumerate(keys.texts("rows"), start=1):
            row, name = row_or_name(text, self.bells, where=f"{keys.at('rows')}, row {number}")
            rows.append(row)
            names.append(name)
        return WrittenRows(np.stack(rows), tuple(names), self._rows_each(keys, 1))

    def _called_at(self, keys: Keys, lead: Lead) -> CalledAt:
        where = keys.at("calls_at")
        stage = len(lead.places)
        table = keys.table("positions")
        declared = {word: table.whole(word, 1, least=1, most=stage) for word in table}
        calls = []
        for number, item in enumerate(keys.items("calls_at"), start=1):
            call, position = _call_and_position(item, lead, f"{where}, call {number}")
            place = place_of_position(position, lead, declared, where=f"{where}, call {number}")
            calls.append((call, place))
        observation = keys.whole("observation", lead.places[-1] + 1, least=1, most=self.bells)
        if observation - 1 not in lead.places:
            raise InputError(keys.at("observation"), f"bell {observation} keeps its place: watch one that changes")
        return CalledAt(lead, tuple(calls), observation, where)


def part_keys(outer: Keys, inner: Keys) -> Keys:
    """Keys of a part, with those it takes over from what it stands in."""
    inner.allow(PART_KEYS)
    taken = [key for line in _TOGETHER if not any(key in inner for key in line) for key in line]
    return inner.taking_over(outer, taken)


def fixed_of(keys: Keys, bells: int) -> frozenset[int]:
    """Places that do not change, from 1: those of the bells named, and the tenor's where it covers."""
    fixed = frozenset(keys.wholes("fixed", least=1, most=bells))
    return fixed | {bells} if covers(keys) else fixed


def covers(keys: Keys) -> bool:
    """Whether the tenor covers.

    Raises
    ------
    InputError
        Something else is said to cover.
    """
    if "cover" in keys and not keys.is_text("cover"):
        raise InputError(keys.at("cover"), 'only the tenor covers (cover = "tenor"); other bells are named in fixed')
    return bool(keys.choice("cover", ("", "tenor")))


def row_or_name(text: str, bells: int, *, where: str) -> tuple[NDArray[np.int8], str]:
    """Row from its bells or its name, and the name; no name where its bells are written."""
    if looks_like_a_row(text):
        return read_row(text, where=where, bells=bells), ""
    return named_row(text, bells, where=where), " ".join(text.split()).capitalize()


def looks_like_a_row(text: str) -> bool:
    """Whether a text is meant as the bells of a row (and may be a wrong one): no name has a figure in it."""
    return any(symbol.isdecimal() for symbol in text)


def _what(keys: Keys) -> str:
    """What a table says is rung; keys that do not go with it are refused."""
    found = [key for key in _BESIDE if key in keys.own]
    if len(found) > 1:
        raise InputError(keys.where, f"gives both {found[0]} and {found[1]}: give each its own [[part]]")
    what = found[0] if found else _PLAIN_COURSE
    beside = _BESIDE.get(what, _METHOD_KEYS)
    known = {*PART_KEYS, "labels"} - {what, "repeat", *beside}
    for key in keys.own:
        if key in known:
            raise InputError(keys.where, f"{key} has no meaning beside {what}: take it out, or put it in its own part")
    return what


def _calls(keys: Keys) -> tuple[tuple[str, ...], ...]:
    """Calls of call changes: each a text, or a list of texts called together."""
    calls: list[tuple[str, ...]] = []
    for number, item in enumerate(keys.items("call_changes"), start=1):
        together = item if isinstance(item, list) else [item]
        pairs = tuple(pair.strip() for pair in together if isinstance(pair, str))
        if not pairs or len(pairs) < len(together):
            raise InputError(f"{keys.at('call_changes')}, call {number}", 'is no call: write it as "2 to 3"')
        calls.append(pairs)
    return tuple(calls)


def _call_and_position(item: object, lead: Lead, where: str) -> tuple[str, str | int]:
    """A position alone is a bob; any other call is ``{single = "Home"}``."""
    call, position = next(iter(item.items())) if isinstance(item, dict) and len(item) == 1 else ("bob", item)
    if not isinstance(position, str | int) or isinstance(position, bool):
        raise InputError(where, 'is no position: write "Home" for a bob there, or {single = "Home"} for another call')
    if call not in lead.made:
        raise InputError(where, f"{call!r} is no call of {lead.title}; its calls are {', '.join(lead.made) or 'none'}")
    return call, position
