"""What is heard beside a band's own ringing: rung steadily, and with a habit put right."""

import numpy as np
import pytest
from made_bands import hunt, ideal, made_log, out

from judging.striking import Count, CountingRules, count_striking
from judging.striking.repairing import repaired, rung_steadily

PIECE = hunt(6, 60)


def late_tenor(seed: int = 1) -> Count:
    """6 late by 95 ms at every backstroke, all blows with small errors of their own."""
    times = ideal(PIECE) + np.random.default_rng(seed).normal(scale=0.015, size=PIECE.rows.shape)
    times[(PIECE.rows == 6) & ~PIECE.is_hand[:, None]] += 0.095
    return count_striking(made_log(PIECE, times), PIECE, CountingRules())


def test_ringing_made_steady_has_no_fault_and_the_bands_own_pace() -> None:
    count = late_tenor()

    steady = count_striking(rung_steadily(count), PIECE, CountingRules())

    assert count.total > 0
    assert (steady.total, len(steady.faults)) == (0, 0)
    assert np.median(steady.rhythm.gap_s) == pytest.approx(np.median(count.rhythm.gap_s), rel=1e-3)


def test_a_habit_put_right_saves_what_it_cost_and_leaves_every_other_blow_where_it_was() -> None:
    count = late_tenor()
    habit = count.habits[0]
    assert habit.bells == (6,)

    log = repaired(count, habit)

    again = count_striking(log, PIECE, CountingRules())
    assert float(count.total - again.total) >= 0.8 * float(habit.saves) > 0
    moved = ~np.isclose(again.rung.times_s, count.rung.times_s)
    assert set(count.rung.bells[moved].tolist()) == {6}
    assert set(np.flatnonzero(moved.any(axis=1)).tolist()) <= set(habit.rows)


def test_blows_that_were_missing_stay_missing_when_repaired_and_are_there_when_steady() -> None:
    log = out(PIECE, {(9, 6): 130.0})
    keep = np.arange(len(log)) != 100
    short = type(log)(log.times_s[keep], log.bells[keep], log.spread_ms[keep])
    count = count_striking(short, PIECE, CountingRules())
    habit = type(late_tenor().habits[0])(bells=(6,), sentence="", rows=(9,))

    assert len(repaired(count, habit)) == PIECE.rows.size - 1
    assert len(rung_steadily(count)) == PIECE.rows.size


def test_both_are_on_the_clock_of_what_was_counted() -> None:
    count = late_tenor()

    for log in (rung_steadily(count), repaired(count, count.habits[0])):
        assert log.times_s[0] == pytest.approx(count.rung.times_s[0, 0], abs=0.05)
        assert (np.diff(log.times_s) >= 0).all()
