"""Ear tests: where faults are hidden, and what taps and ticks find of them."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from judging.errors import InputError
from judging.marks.ear_test import (
    CLEAN_ROWS,
    LARGEST_GAPS,
    ROWS_APART,
    Planted,
    answered_by_rows,
    answered_by_taps,
    displaced,
    plant,
    rung_in_test,
)
from judging.marks.half_heard import of_way
from judging.sounding import ideal_log
from judging.sounding.steady import gap_s
from judging.striking import StrikeLog

PIECE = rung_in_test(6, 120, hunting=True)
GAP_S = gap_s(6, peal_minutes=165, handstroke_gap=1.0)
PLANTED = plant(PIECE, gap_s=GAP_S, seed=7)
IDEAL = ideal_log(PIECE, peal_minutes=165)
LOG = displaced(IDEAL, PLANTED, bells=6)
FAULT_S = np.array([LOG.times_s[fault.row * 6 + fault.place - 1] for fault in PLANTED])
END_S = float(LOG.times_s[-1]) + 2


def answered(tap_s: np.ndarray) -> list[bool]:
    return [one.was_heard for one in answered_by_taps(np.sort(tap_s), LOG, PLANTED, bells=6, until_s=END_S).heard]


@pytest.mark.parametrize("bells", [6, 8])
def test_plain_hunting_is_hunted_by_its_oldest_rule(bells: int) -> None:
    """Every bell moves one place at a time and lies two blows in front and behind; rounds come after 2n changes."""
    piece = rung_in_test(bells, 60, hunting=True)
    places = np.array([[list(row).index(bell) for bell in range(1, bells + 1)] for row in piece.rows.tolist()])
    changes = places[CLEAN_ROWS - 1 : CLEAN_ROWS + 2 * bells]
    assert np.abs(np.diff(changes, axis=0)).max() == 1
    assert (changes[0] == changes[-1]).all()
    assert len({tuple(row) for row in changes[1:].tolist()}) == 2 * bells
    assert (piece.rows[:CLEAN_ROWS] == np.arange(1, bells + 1)).all()


@settings(max_examples=60, deadline=None)
@given(st.sampled_from([6, 8]), st.sampled_from([120, 240]), st.integers(0, 2**40), st.integers(140, 220))
def test_faults_are_hidden_as_is_said(bells: int, rows: int, seed: int, peal_minutes: int) -> None:
    gap = gap_s(bells, peal_minutes=peal_minutes, handstroke_gap=1.0)
    piece = rung_in_test(bells, rows, hunting=False)
    planted = plant(piece, gap_s=gap, seed=seed)

    at = np.array([fault.row for fault in planted])
    assert at[0] >= CLEAN_ROWS
    assert at[-1] < rows - 1
    assert np.diff(at).min() >= ROWS_APART
    assert all(1 < fault.place < bells for fault in planted)
    late = sorted(fault.late_ms for fault in planted if fault.late_ms > 0)
    assert sorted(-fault.late_ms for fault in planted if fault.late_ms < 0) == late
    assert len(late) >= 12
    assert late[0] == 15
    assert late[-1] <= min(120, 1000 * LARGEST_GAPS * gap + 0.5)
    ideal = ideal_log(piece, peal_minutes=peal_minutes)
    moved = displaced(ideal, planted, bells=bells).times_s - ideal.times_s
    assert np.count_nonzero(moved) == len(planted)
    assert (np.diff(ideal.times_s + moved) > 0).all()


def test_another_seed_hides_them_elsewhere() -> None:
    assert plant(PIECE, gap_s=GAP_S, seed=7) == PLANTED
    assert plant(PIECE, gap_s=GAP_S, seed=8) != PLANTED


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10**6), st.floats(0.15, 0.9), st.floats(0.0, 0.1))
def test_taps_find_just_the_faults_they_answer(seed: int, reaction_s: float, spread_s: float) -> None:
    random = np.random.default_rng(seed)
    heard = random.random(len(PLANTED)) < 0.6
    heard[:8] = True
    taps = FAULT_S[heard] + reaction_s + np.clip(random.normal(0, spread_s, heard.sum()), -0.2, 0.2)

    assert answered(taps) == heard.tolist()


def test_taps_where_nothing_was_are_counted_and_allowed_for() -> None:
    between = (FAULT_S[:-1] + FAULT_S[1:]) / 2
    taps = np.sort(np.concatenate([FAULT_S[::2] + 0.4, between[:5] + 0.4]))

    told = answered_by_taps(taps, LOG, PLANTED, bells=6, until_s=END_S)

    assert told.false_alarms == 5
    assert told.reaction_s == pytest.approx(0.4, abs=1e-6)
    free_s = LOG.times_s[-1] - LOG.times_s[0] - 1.2 * len(PLANTED)
    assert told.guess == pytest.approx(1 - np.exp(-5.5 * 1.2 / free_s))


def test_luck_is_as_large_as_random_tapping_finds_it_to_be() -> None:
    """Taps at random, at a known rate, find a fault as often as `guess` says (the lag set right by sure ones)."""
    found, guesses = [], []
    for seed in range(60):
        random = np.random.default_rng(seed)
        sure = np.arange(len(PLANTED)) % 2 == 0
        stray = random.uniform(LOG.times_s[0], LOG.times_s[-1], random.poisson(12))
        stray = np.array([at for at in stray if np.abs(FAULT_S[sure] + 0.4 - at).min() > 0.7])
        told = answered_by_taps(np.sort(np.r_[FAULT_S[sure] + 0.4, stray]), LOG, PLANTED, bells=6, until_s=END_S)
        found.append(np.mean([one.was_heard for one, is_sure in zip(told.heard, sure, strict=True) if not is_sure]))
        guesses.append(told.guess)
    assert np.mean(guesses) == pytest.approx(np.mean(found), abs=0.05)


def test_taps_that_follow_nothing_are_too_few_to_tell() -> None:
    for taps in (np.array([]), FAULT_S[:2] + 0.4, FAULT_S[:3] + 0.4):
        with pytest.raises(InputError, match="too few to tell"):
            answered(taps)


def test_faults_after_the_listener_stopped_are_left_out() -> None:
    told = answered_by_taps(FAULT_S[:10] + 0.4, LOG, PLANTED, bells=6, until_s=float(FAULT_S[9]) + 1.6)
    assert [one.was_heard for one in told.heard] == [True] * 10


def test_ticked_rows_find_their_faults_and_their_neighbours() -> None:
    planted = tuple(Planted(row, 3, 40.0 if row % 2 else -40.0) for row in range(10, 110, 5))
    told = answered_by_rows([10, 16, 19, 33], planted, rows_rung=120)

    assert [at for at, one in enumerate(told.heard) if one.was_heard] == [0, 1, 2]
    assert told.false_alarms == 1
    assert told.reaction_s is None
    assert len(of_way(told.heard, late=True)) == 10


def test_the_log_is_still_a_log() -> None:
    assert isinstance(LOG, StrikeLog)
    assert (LOG.bells == IDEAL.bells).all()
