"""What was counted before is not counted again, and nothing else is ever given for it."""

import json
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from judging.errors import NothingHeard
from judging.piece import Piece, rounds
from judging.sounding import Character, human_log
from judging.striking import CountingRules, StrikeLog, ToleranceBands, count_document, count_striking
from judging.web import counted
from judging.web.counted import Counted

PIECE = Piece("rounds", np.tile(rounds(6), (16, 1)))


def rung(seed: int, spread_ms: float = 50.0) -> StrikeLog:
    return human_log(PIECE, Character(spread_ms=spread_ms), peal_minutes=170.0, seed=seed).log


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Names of the logs that were really counted."""
    names: list[str] = []

    def noted(*given: Any, name: str) -> Any:  # noqa: ANN401 passed on
        names.append(name)
        return count_striking(*given, name=name)

    monkeypatch.setattr(counted, "count_striking", noted)
    return names


def test_the_same_log_read_again_is_counted_once_and_comes_to_what_it_comes_to(asked: list[str]) -> None:
    count = Counted()
    first, again = (count(rung(1), PIECE, CountingRules(), name="a") for _ in range(2))

    assert first is again
    assert asked == ["a"]
    fresh = count_striking(rung(1), PIECE, CountingRules())
    assert json.dumps(count_document(first)) == json.dumps(count_document(fresh))


def test_whatever_differs_in_log_piece_or_rules_is_counted_for_itself(asked: list[str]) -> None:
    log = rung(1)
    late = log.times_s.copy()
    late[40] += 0.001
    wider = CountingRules(bands=replace(ToleranceBands(), half_gaps=0.3))
    count = Counted()
    count(log, PIECE, CountingRules(), name="as it is")
    count(replace(log, times_s=late), PIECE, CountingRules(), name="a blow a thousandth later")
    count(replace(log, spread_ms=log.spread_ms + 1), PIECE, CountingRules(), name="less sure")
    count(log, replace(PIECE, opening=4), CountingRules(), name="another opening")
    count(log, PIECE, wider, name="other lines")

    assert len(asked) == 5


def test_what_is_refused_is_refused_each_time_by_the_name_it_has_then(asked: list[str]) -> None:
    nothing = StrikeLog(np.array([]), np.array([], np.int8), np.array([]))
    count = Counted()
    for name in ("weir", "lock"):
        with pytest.raises(NothingHeard, match=name):
            count(nothing, PIECE, CountingRules(), name=name)
    assert asked == ["weir", "lock"]


def test_the_one_that_was_longest_not_asked_for_is_forgotten(asked: list[str]) -> None:
    count = Counted(most=2)
    for seed in (1, 2, 1, 3, 1, 2):
        count(rung(seed), PIECE, CountingRules(), name=str(seed))

    assert asked == ["1", "2", "3", "2"]
