"""The file that a band takes from one service to another: it comes back as it was, and nothing odd gets in."""

import json
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_bands import hunt, ideal, made_log

from judging.errors import InputError, NothingHeard
from judging.piece.writing import write_rows
from judging.striking import StrikeLog, count_striking, write_log
from judging.striking.touch_figures import HabitKept, TouchFigures, figures_of_log
from judging.striking.touches_file import KeptTouch, Strikes, read_touches, recounted, write_touches

TODAY = date(2026, 11, 26)

FIGURES = TouchFigures(
    piece="Plain course",
    bells=6,
    rows=60,
    faults=Decimal("18.5"),
    spread_ms=31.2,
    peal_minutes=165.3,
    handstroke_gap=0.98,
    habits=(HabitKept("5 strikes late at backstroke", (5,), 61.0, Decimal("3.5")),),
    version="0.1.0",
)
TOUCH = KeptTouch(date(2026, 6, 13), "A contest", FIGURES)


def late_tenor(ms: float) -> tuple[Any, Any]:
    piece = hunt(6, 40)
    times = ideal(piece) + np.random.default_rng(4).normal(0, 0.012, (42, 6))
    times[1::2][piece.rows[1::2] == 6] += ms / 1000
    return piece, made_log(piece, times)


@pytest.fixture
def with_strikes() -> KeptTouch:
    piece, log = late_tenor(80)
    figures = figures_of_log(log, piece, name="log")
    return KeptTouch(TOUCH.day, "A contest", figures, Strikes(f"{piece.title}.txt", write_rows(piece), write_log(log)))


def test_figures_are_those_of_the_count() -> None:
    piece, log = late_tenor(80)
    count, found = count_striking(log, piece), figures_of_log(log, piece, name="log")
    assert found.faults == count.total
    assert found.rows == 40
    assert found.habits[0].what == "6 strikes late at backstroke"
    assert found.habits[0].late_ms == pytest.approx(80, abs=25)
    assert count.habits[0].sentence.startswith(f"{found.habits[0].what}:")
    assert found.a_hundred_rows == (100 * count.total / 40).quantize(Decimal("0.1"))


def test_rounds_alone_are_no_touch_of_a_piece_with_changes() -> None:
    piece, log = late_tenor(0)
    short = StrikeLog(log.times_s[:12].copy(), log.bells[:12].copy(), log.spread_ms[:12].copy())
    with pytest.raises(NothingHeard, match="only rounds"):
        figures_of_log(short, piece, name="log")


def test_what_is_written_is_read_back(with_strikes: KeptTouch) -> None:
    assert read_touches(write_touches([TOUCH, with_strikes]), name="f", today=TODAY) == (TOUCH, with_strikes)


@given(
    st.integers(3, 16),
    st.integers(1, 5000),
    st.integers(0, 999),
    st.floats(0.1, 300),
    st.one_of(st.none(), st.floats(-1, 3)),
    st.lists(st.tuples(st.text("abc 5", min_size=1).filter(str.strip), st.floats(-200, 200)), max_size=5),
)
def test_any_figures_are_read_back(
    bells: int, rows: int, halves: int, ms: float, gap: float | None, habits: list[tuple[str, float]]
) -> None:
    faults = min(Decimal(halves) / 2, Decimal(2 * bells * rows))
    kept = tuple(HabitKept(what, (bells,), late, Decimal(0)) for what, late in habits)
    touch = KeptTouch(date(1999, 2, 3), "x", TouchFigures("y", bells, rows, faults, ms, 150.0, gap, kept, "1"))
    assert read_touches(write_touches([touch]), name="f", today=TODAY) == (touch,)


def test_strikes_are_counted_again_and_not_believed(with_strikes: KeptTouch) -> None:
    document = json.loads(write_touches([with_strikes]))
    document["touches"][0] |= {"faults": 0, "spread_ms": 1.0, "habits": []}
    (flattered,) = read_touches(json.dumps(document), name="f", today=TODAY)
    assert flattered.figures.faults == 0
    assert recounted(flattered, name="f").figures == with_strikes.figures
    assert recounted(TOUCH, name="f") == TOUCH


def test_strikes_on_other_bells_than_the_figures_are_refused(with_strikes: KeptTouch) -> None:
    document = json.loads(write_touches([with_strikes]))
    document["touches"][0] |= {"bells": 8}
    (odd,) = read_touches(json.dumps(document), name="f", today=TODAY)
    with pytest.raises(InputError, match="is on 6 bells, and the figures beside it are on 8"):
        recounted(odd, name="f")


def test_the_same_touch_has_the_same_key_whatever_it_is_called() -> None:
    renamed = KeptTouch(TOUCH.day, "Another name", FIGURES)
    other_day = KeptTouch(date(2026, 6, 14), "A contest", FIGURES)
    assert TOUCH.key == renamed.key != other_day.key


def put(**fields: object) -> Callable[[dict[str, Any]], object]:
    return lambda document: document["touches"][0].update(fields)


@pytest.mark.parametrize(
    ("spoil", "message"),
    [
        (put(bells=17), "touch 1: bells is 17, and must be a number from 3 to 16"),
        (put(bells=6.5), "bells is 6.5, and must be a whole number"),
        (put(bells=True), "bells is true"),
        (put(bells="6"), 'bells is "6"'),
        (put(rows=0), "rows is 0"),
        (put(rows=10**400), "rows is 1000"),
        (put(faults=-1), "faults is -1"),
        (put(faults=10_000), "faults is 10000, and must be a number from 0 to 720"),
        (put(spread_ms=0), "spread_ms is 0"),
        (put(peal_minutes=None), "peal_minutes is missing"),
        (put(day="2026-13-01"), 'day is "2026-13-01", and must be a day such as 2026-06-13'),
        (put(day="2027-01-01"), "to today, 2026-11-26"),
        (put(event=""), "event is no single line"),
        (put(event="x" * 201), "event is no single line"),
        (put(event="a\nb"), "event is no single line"),
        (put(habits="many"), "habits is no list"),
        (put(habits=[{}] * 41), "habits is no list of at most 40"),
        (put(habits=[{"what": "x", "bells": [7], "late_ms": 1, "saves": 0}]), "touch 1, habit 1: bells is no list"),
        (put(habits=[7]), "habit 1: is no object"),
        (put(strikes={"piece_file": "x.txt", "piece": 1, "log": ""}), "touch 1, strikes: piece is 1"),
        (lambda document: document.update(evenblow_touches=2), "is of version 2, and 1 is known here"),
        (lambda document: document.pop("evenblow_touches"), 'has no "evenblow_touches"'),
        (lambda document: document.update(touches=[]), "holds no list of 1 to 300 touches"),
        (lambda document: document.update(touches=[1]), "touch 1: is no object"),
    ],
)
def test_what_cannot_be_is_refused_with_its_place(spoil: Callable[[dict[str, Any]], object], message: str) -> None:
    document = json.loads(write_touches([TOUCH]))
    spoil(document)
    with pytest.raises(InputError) as refused:
        read_touches(json.dumps(document), name="book.json", today=TODAY)
    assert str(refused.value).startswith("book.json")
    assert message in str(refused.value)


@pytest.mark.parametrize("text", ["", "[1, 2", "[]", "RIFF", '{"evenblow_touches": NaN}', "[" * 100_000, "9" * 5000])
def test_what_is_no_such_file_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        read_touches(text, name="f", today=TODAY)
