"""TOUCHES FILE ↔ touches: what a band takes from one service to another, a small open JSON file.

::

    {"evenblow_touches": 1,
     "touches": [{"day": "2026-06-13", "event": "...", "piece": "...", "bells": 6, "rows": 120, "faults": 18.5,
                  "spread_ms": 31.2, "peal_minutes": 165.3, "handstroke_gap": 0.98, "counted_by": "0.1.0",
                  "habits": [{"what": "5 strikes late at backstroke", "bells": [5], "late_ms": 61.0, "saves": 3.5}],
                  "strikes": {"piece_file": "bob.txt", "piece": "123456...", "log": "time_s,bell..."}}]}

``strikes`` may be left out. Where it is there it is the truth: whoever takes a file in counts it again (`recounted`),
and the figures beside it are for people and other programs. A file holds bells and times, and no person's name.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any, Final

from judging.errors import InputError
from judging.piece import piece_from_file
from judging.striking.reading import read_log
from judging.striking.touch_figures import LEAST_MS, HabitKept, TouchFigures, figures_of_log

#: Version of the format.
VERSION: Final = 1

#: More touches than a band rings in contests in twenty years, and more habits than are told of one.
MOST_TOUCHES, MOST_HABITS = 300, 40

#: Longest title and habit; the longest that are made here have about half of it.
MOST_LETTERS = 200

#: Nobody had a machine count striking before.
_FIRST_DAY = date(1950, 1, 1)


@dataclass(frozen=True, slots=True)
class Strikes:
    """What a touch can be counted from again: piece and strike log, as texts.

    Parameters
    ----------
    piece_file : str
        Name of the piece's file, which says how it is read.
    piece, log : str
        Texts; the log in CSV.
    """

    piece_file: str
    piece: str
    log: str


@dataclass(frozen=True, slots=True)
class KeptTouch:
    """One touch as a band keeps it.

    Parameters
    ----------
    day : date
        When it was rung.
    event : str
        Where: a contest's title, or a practice.
    figures : TouchFigures
        What was counted.
    strikes : Strikes or None
        What it can be counted from again, where the band wanted it kept.
    """

    day: date
    event: str
    figures: TouchFigures
    strikes: Strikes | None = None

    @property
    def key(self) -> str:
        """What the same touch has again, whatever it is called: day, bells, rows and how it was struck."""
        figures = self.figures
        return f"{self.day} {figures.bells} {figures.rows} {figures.faults.normalize():f} {figures.spread_ms:.1f}"


def write_touches(touches: Sequence[KeptTouch]) -> str:
    """Return touches as the text of a file."""
    document = {"evenblow_touches": VERSION, "touches": [_written(touch) for touch in touches]}
    return json.dumps(document, ensure_ascii=False, indent=1) + "\n"


def read_touches(text: str, *, name: str, today: date) -> tuple[KeptTouch, ...]:
    """Read the text of a file.

    Parameters
    ----------
    text : str
        The text.
    name : str
        What the file is called in messages.
    today : date
        No touch was rung after it.

    Returns
    -------
    tuple of KeptTouch
        In the file's order, with the file's own figures.

    Raises
    ------
    InputError
        It is no such file, or something in it cannot be: with the touch and its field.
    """
    try:
        document = json.loads(text, parse_constant=_refuse_constant)
    except (ValueError, RecursionError) as error:
        line = f" (line {error.lineno})" if isinstance(error, json.JSONDecodeError) else ""
        raise InputError(name, f"is no JSON{line}; was it cut short, or is it another kind of file?") from None
    if not isinstance(document, dict) or "evenblow_touches" not in document:
        raise InputError(name, 'has no "evenblow_touches"; take the file from "A touch for a book" on a fault sheet')
    if document["evenblow_touches"] != VERSION:
        raise InputError(
            name, f"is of version {str(document['evenblow_touches'])[:20]}, and {VERSION} is known here; is it newer?"
        )
    touches = document.get("touches")
    if not isinstance(touches, list) or not 1 <= len(touches) <= MOST_TOUCHES:
        raise InputError(name, f"holds no list of 1 to {MOST_TOUCHES} touches")
    return tuple(
        _read(_Fields(touch, f"{name}, touch {number}"), today=today) for number, touch in enumerate(touches, start=1)
    )


def recounted(touch: KeptTouch, *, name: str) -> KeptTouch:
    """Return a touch with its figures counted from its strike log now; as it is where it has none.

    Raises
    ------
    InputError
        Piece or log cannot be read, are not of each other, or have other bells than the figures.
    """
    if touch.strikes is None:
        return touch
    piece = piece_from_file(touch.strikes.piece_file, touch.strikes.piece)
    if piece.bells != touch.figures.bells:
        raise InputError(name, f"is on {piece.bells} bells, and the figures beside it are on {touch.figures.bells}")
    log = read_log(touch.strikes.log.encode(), name=name, bells=piece.bells)
    return replace(touch, figures=figures_of_log(log, piece, name=name))


def _written(touch: KeptTouch) -> dict[str, Any]:
    figures = touch.figures
    strikes = touch.strikes
    return {
        "day": touch.day.isoformat(),
        "event": touch.event,
        "piece": figures.piece,
        "bells": figures.bells,
        "rows": figures.rows,
        "faults": float(figures.faults),
        "faults_in_100_rows": float(figures.a_hundred_rows),
        "spread_ms": figures.spread_ms,
        "peal_minutes": figures.peal_minutes,
        "handstroke_gap": figures.handstroke_gap,
        "counted_by": figures.version,
        "habits": [
            {"what": habit.what, "bells": list(habit.bells), "late_ms": habit.late_ms, "saves": float(habit.saves)}
            for habit in figures.habits
        ],
        **(
            {}
            if strikes is None
            else {"strikes": {"piece_file": strikes.piece_file, "piece": strikes.piece, "log": strikes.log}}
        ),
    }


def _read(of: "_Fields", *, today: date) -> KeptTouch:
    bells = of.whole("bells", 3, 16)
    rows = of.whole("rows", 1, 100_000)
    faults = of.charge("faults", 2 * bells * rows)  # no scheme charges a blow more than two
    habits = of.of.get("habits")
    if not isinstance(habits, list) or len(habits) > MOST_HABITS:
        raise InputError(of.where, f"habits is no list of at most {MOST_HABITS}")
    return KeptTouch(
        day=of.day("day", today),
        event=of.text("event"),
        figures=TouchFigures(
            piece=of.text("piece"),
            bells=bells,
            rows=rows,
            faults=faults,
            spread_ms=of.number("spread_ms", LEAST_MS, 2000),
            peal_minutes=of.number("peal_minutes", 30, 1000),
            handstroke_gap=None if of.of.get("handstroke_gap") is None else of.number("handstroke_gap", -3, 6),
            habits=tuple(
                _habit(_Fields(habit, f"{of.where}, habit {number}"), bells, faults)
                for number, habit in enumerate(habits, start=1)
            ),
            version=of.text("counted_by"),
        ),
        strikes=_strikes(of),
    )


def _habit(of: "_Fields", bells: int, faults: Decimal) -> HabitKept:
    concerned = of.of.get("bells")
    if not isinstance(concerned, list) or any(type(bell) is not int or not 1 <= bell <= bells for bell in concerned):
        raise InputError(of.where, f"bells is no list of bells from 1 to {bells}")
    return HabitKept(of.text("what"), tuple(concerned), of.number("late_ms", -5000, 5000), of.charge("saves", faults))


def _strikes(of: "_Fields") -> Strikes | None:
    if of.of.get("strikes") is None:
        return None
    inside = _Fields(of.of["strikes"], f"{of.where}, strikes")
    return Strikes(inside.text("piece_file"), inside.long("piece"), inside.long("log"))


class _Fields:
    """The fields of one JSON object, each asked for with what it may be."""

    def __init__(self, of: object, where: str) -> None:
        if not isinstance(of, Mapping):
            raise InputError(where, "is no object with named fields")
        self.of: Mapping[str, Any] = of
        self.where = where

    def number(self, field: str, least: float, most: float) -> float:
        value = self.of.get(field)
        if isinstance(value, bool) or not isinstance(value, int | float) or not least <= value <= most:
            raise InputError(self.where, f"{field} is {_shown(value)}, and must be a number from {least:g} to {most:g}")
        return float(value)

    def whole(self, field: str, least: int, most: int) -> int:
        value = self.number(field, least, most)
        if value != int(value):
            raise InputError(self.where, f"{field} is {value:g}, and must be a whole number")
        return int(value)

    def charge(self, field: str, most: float | Decimal) -> Decimal:
        """Return a number of faults; no scheme charges anything finer than a hundredth."""
        return Decimal(str(self.number(field, 0, float(most)))).quantize(Decimal("0.01")).normalize() + 0

    def text(self, field: str) -> str:
        value = self.long(field)
        if not value.strip() or len(value) > MOST_LETTERS or not value.isprintable():
            raise InputError(self.where, f"{field} is no single line of 1 to {MOST_LETTERS} letters")
        return value

    def long(self, field: str) -> str:
        value = self.of.get(field)
        if not isinstance(value, str):
            raise InputError(self.where, f"{field} is {_shown(value)}, and must be a text")
        return value

    def day(self, field: str, today: date) -> date:
        try:
            day = date.fromisoformat(self.text(field))
        except ValueError:
            raise InputError(
                self.where, f"{field} is {_shown(self.of[field])}, and must be a day such as 2026-06-13"
            ) from None
        if not _FIRST_DAY <= day <= today:
            raise InputError(self.where, f"{field} is {day}, and must lie from {_FIRST_DAY} to today, {today}")
        return day


def _shown(value: object) -> str:
    return "missing" if value is None else json.dumps(value, ensure_ascii=False)[:40]


def _refuse_constant(word: str) -> float:
    raise ValueError(word)
