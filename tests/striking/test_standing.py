"""The stand: normally outside the marking, yet a bell failing to stand has been charged a fault (trade.md §1, W2)."""

from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_bands import human, joined, out, plain_bob, without

from judging.piece.piece import Piece
from judging.striking import SCHEMES, CountingRules, Marked, StrikeLog, count_striking, lay

PIECE = plain_bob(6, 5)
#: The same with four rows of rounds after it, up to the stand.
TO_THE_STAND = replace(PIECE, rows=np.concatenate([PIECE.rows, np.tile(PIECE.rows[0], (4, 1))]), closing=4)
MARKED = CountingRules(marked=Marked(stand=True))


def then(log: StrikeLog, *blows: tuple[int, float]) -> StrikeLog:
    """The log, and these bells so many seconds after its last blow."""
    times = np.array([log.times_s[-1] + after for _, after in blows])
    return joined(log, StrikeLog(times, np.array([bell for bell, _ in blows], dtype=np.int8), np.zeros(len(blows))))


def stand(log: StrikeLog, piece: Piece = PIECE) -> list[str]:
    return [event.sentence for event in lay(log, piece).events if event.kind == "stand"]


@pytest.mark.parametrize("piece", [PIECE, TO_THE_STAND])
def test_bells_that_stand_together_are_nothing_to_speak_of(piece: Piece) -> None:
    assert stand(out(TO_THE_STAND, {}), piece) == []


@pytest.mark.parametrize("piece", [PIECE, TO_THE_STAND])
def test_a_bell_that_strikes_once_more_did_not_stand_with_the_others(piece: Piece) -> None:
    log = then(out(TO_THE_STAND, {}), (4, 1.5))
    assert stand(log, piece) == ["At the stand: 4 did not stand with the others"]
    assert count_striking(log, piece).total == 0
    count = count_striking(log, piece, MARKED)
    assert [(fault.kind, fault.bell, fault.charge) for fault in count.faults if fault.charge] == [("stand", 4, 1)]
    assert count.charge.sum() == 1
    assert not any(
        "without a fault" in habit.sentence for habit in count.habits
    )  # all sixty changes are, as in the rest


def test_a_bell_that_needs_three_more_pulls_is_one_fault() -> None:
    log = then(out(TO_THE_STAND, {}), (3, 1.0), (3, 3.0), (3, 5.0))
    assert stand(log) == ["At the stand: 3 did not stand with the others"]
    assert count_striking(log, PIECE, MARKED).total == 1


def test_two_bells_that_ring_on_are_two_faults() -> None:
    log = then(out(TO_THE_STAND, {}), (2, 0.8), (5, 1.4))
    assert stand(log) == ["At the stand: 2 and 5 did not stand with the others"]
    assert count_striking(log, PIECE, MARKED).total == 2


def test_a_bell_set_a_pull_too_soon_stood_before_the_others() -> None:
    log = out(TO_THE_STAND, {})
    assert stand(without(log, len(log) - 4)) == ["At the stand: 3 stood before the others"]


@given(whole=st.integers(0, 3), cut=st.integers(2, 5))
@settings(max_examples=20, deadline=None)
def test_a_log_that_breaks_off_within_a_row_says_nothing_of_the_stand(whole: int, cut: int) -> None:
    log = human(TO_THE_STAND, 1, spread_ms=15)
    assert stand(without(log, *range(PIECE.rows.size + 6 * whole + cut, len(log)))) == []


def test_a_piece_that_was_not_rung_to_its_end_has_no_stand() -> None:
    short = replace(PIECE, rows=PIECE.rows[:40].copy())
    assert stand(then(out(short, {}), (4, 1.5)), PIECE) == []


def test_a_blow_long_afterwards_is_no_part_of_it() -> None:
    assert stand(then(out(TO_THE_STAND, {}), (4, 20.0))) == []


@pytest.mark.parametrize("name", sorted(SCHEMES))
def test_what_it_costs_is_declared_and_no_cap_of_a_row_swallows_it(name: str) -> None:
    log = then(out(TO_THE_STAND, {}), (4, 1.5))
    scheme = replace(SCHEMES[name], stand=Decimal("1.5"))
    unmarked, marked = (
        count_striking(log, PIECE, CountingRules(scheme=scheme, marked=Marked(stand=is_marked)))
        for is_marked in (False, True)
    )
    assert marked.total - unmarked.total == Decimal("1.5")


def test_rounds_then_a_stand_then_the_test_piece_then_a_stand_then_rounds() -> None:
    """One guild's order of the day: 40 rounds, stand, test piece, stand, 40 rounds (trade.md §1, R6)."""
    forty = replace(PIECE, rows=np.tile(PIECE.rows[0], (40, 1)))
    before, piece, after = (human(one, seed, spread_ms=15) for seed, one in enumerate((forty, PIECE, forty)))
    log = joined(
        before,
        replace(piece, times_s=piece.times_s + before.times_s[-1] + 30),
        replace(after, times_s=after.times_s + before.times_s[-1] + piece.times_s[-1] + 60),
    )
    count = count_striking(log, PIECE)
    assert count.rung.strike[-60:, 0].tolist() == list(range(44 * 6, 104 * 6, 6))
    assert (count.rows_judged, count.changes_missing, count.rung.events) == (60, 0, ())
    assert count.total < 5
