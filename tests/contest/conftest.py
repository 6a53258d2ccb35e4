"""A small day of ringing whose strike logs are made on the spot: even blows, with what went wrong put in."""

from collections.abc import Callable, Mapping

import numpy as np
import pytest

from judging.contest import ContestDay, RuleSet, draw, read_entries, read_rules, read_sheets
from judging.marks import Sheet
from judging.piece import read_piece
from judging.piece.piece import Piece
from judging.striking.strike_log import StrikeLog

PIECE = """
piece = 1
title = "60 Plain Bob Minor"
method = "Plain Bob Minor"
calling = "ppppp"
opening_rows = 4
closing_rows = 2
"""

RULES = """
rules = 1
title = "A small contest"
[[section]]
name = "Method"
piece = "minor"
[[judge]]
id = "one"
name = "Judge One"
chief = true
[[judge]]
id = "two"
name = "Judge Two"
[draw]
seed = "a seed"
"""

ENTRIES = """
[[entry]]
id = "a"
band = "Alpha"
[[entry]]
id = "b"
band = "Beta"
[[entry]]
id = "c"
band = "Gamma"
"""

SHEETS = {"one": "entry,total,comment\na,18,\nb,24,\nc,30,\n", "two": "entry,total,comment\na,62,\nb,50,\nc,45,\n"}

GAP_S = 0.3


@pytest.fixture(scope="session")
def minor() -> Piece:
    return read_piece(PIECE, name="minor.toml")


@pytest.fixture(scope="session")
def log_of(minor: Piece) -> Callable[..., StrikeLog]:
    """The piece rung evenly at 300 ms with open handstroke leads, but for blows moved by so many ms."""

    def make(
        late_ms: Mapping[tuple[int, int], float] | None = None, *, rows: int | None = None, spread_ms: float = 1.0
    ) -> StrikeLog:
        rung = minor.rows[:rows]
        count, bells = rung.shape
        whole_pulls = (np.arange(count) + 1) // 2 if not minor.is_hand[0] else np.arange(count) // 2
        times_s = (np.arange(count * bells).reshape(count, bells) + whole_pulls[:, None]) * GAP_S
        for (row, place), late in (late_ms or {}).items():
            times_s[row, place - 1] += late / 1000
        order = np.argsort(times_s.ravel(), kind="stable")
        return StrikeLog(
            times_s.ravel()[order],
            rung.ravel()[order].astype(np.int8),
            np.full(count * bells, spread_ms),
            "by hand",
        )

    return make


@pytest.fixture(scope="session")
def day_of(minor: Piece) -> Callable[..., ContestDay]:
    """A day from the texts of its files, each of which a test may change."""

    def make(
        *,
        rules: str = RULES,
        entries: str = ENTRIES,
        sheets: Mapping[str, str] | None = None,
        logs: Mapping[str, StrikeLog] | None = None,
    ) -> ContestDay:
        declared: RuleSet = read_rules(rules, name="rules.toml")
        entered = read_entries(entries, name="entries.toml", rules=declared)
        signed: list[Sheet] = []
        for judge, text in (SHEETS if sheets is None else sheets).items():
            signed += read_sheets(text, name=f"{judge}.csv", judge=judge, entries=entered, rules=declared.marks.sheets)
        return ContestDay(
            rules=declared,
            entries=entered,
            judges=declared.judges,
            pieces={"minor": minor},
            logs=logs or {},
            sheets=tuple(signed),
            order=draw(entered, declared.draw_seed),
        )

    return make
