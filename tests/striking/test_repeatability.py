"""Two recorders of one touch, their clocks, places and errors known, against what is told of them."""

import numpy as np
import pytest

from judging.errors import NothingHeard
from judging.figures import figure
from judging.piece import read_piece
from judging.sounding import Character, human_log
from judging.striking import count_striking
from judging.striking.repeatability import repeatability, together
from judging.striking.strike_log import StrikeLog
from judging.striking.values import Count

PIECE = read_piece('piece = 1\nmethod = "Plain Bob Minor"\ncalling = "ppppp"\nopening_rows = 4\n', name="minor.toml")
TRUE = human_log(PIECE, Character(spread_ms=25), peal_minutes=165, seed=3).log


def recorded(
    seed: int, error_ms: float, *, begun_s: float = 0.0, ppm: float = 0.0, bell_ms: tuple[float, ...] = (0,) * 6
) -> StrikeLog:
    chance = np.random.default_rng(seed)
    late = np.array(bell_ms)[TRUE.bells - 1] + chance.normal(0, error_ms, len(TRUE))
    times = TRUE.times_s * (1 + ppm * 1e-6) + begun_s + late / 1000
    order = np.argsort(times)
    return StrikeLog(times[order], TRUE.bells[order], np.ones(len(order)))


def counted(log: StrikeLog) -> Count:
    return count_striking(log, PIECE)


def test_the_error_of_one_time_is_recovered_whatever_the_clocks_say() -> None:
    """Each of two equal recorders has the spread of their difference over the square root of two (textbook)."""
    told = repeatability(counted(recorded(1, 2.0)), counted(recorded(2, 2.0, begun_s=83.0, ppm=120)))
    assert told.blow_ms == pytest.approx(2.0, rel=0.15)
    assert told.clock_ppm == pytest.approx(120, abs=15)
    assert told.blows == len(TRUE)
    assert told.apart == told.only_one == 0


def test_a_bell_that_hangs_nearer_one_recorder_is_named() -> None:
    told = repeatability(counted(recorded(1, 1.0)), counted(recorded(2, 1.0, bell_ms=(0, 0, 0, 9.0, 0, 0))))
    assert told.bell_ms[3] == pytest.approx(9, abs=0.7)
    assert np.abs(np.delete(told.bell_ms, 3)).max() < 0.7
    assert told.blow_ms == pytest.approx(1.0, rel=0.15)
    assert "Bell 4 differs most" in told.sentence


def test_blows_that_only_one_recorder_heard_are_counted_and_not_compared() -> None:
    log = recorded(2, 1.0)
    kept = np.ones(len(log), bool)
    kept[[40, 41, 200]] = False
    short = StrikeLog(log.times_s[kept], log.bells[kept], log.spread_ms[kept].copy())
    told = repeatability(counted(recorded(1, 1.0)), counted(short))
    assert told.only_one == 3
    assert told.blows == len(TRUE) - 3


def test_another_touch_of_the_same_piece_is_seen_to_be_another() -> None:
    other = human_log(PIECE, Character(spread_ms=25, pace_drift=0.004), peal_minutes=185, seed=9).log
    with pytest.raises(NothingHeard, match="the same touch"):
        repeatability(counted(recorded(1, 1.0)), counted(other))


def test_both_counts_are_told() -> None:
    first, second = counted(recorded(1, 1.0)), counted(recorded(2, 1.0))
    told = repeatability(first, second)
    assert told.faults == (first.total, second.total)
    assert f"It counts {figure(first.total)} fault" in told.sentence
    assert f" in the first and {figure(second.total)} in the second." in told.sentence


def test_several_touches_are_told_together_and_one_by_itself() -> None:
    pairs = [(recorded(seed, 1.0), recorded(seed + 10, 1.0)) for seed in range(3)]
    each = [repeatability(counted(first), counted(second)) for first, second in pairs]
    apart = [abs(one.faults[0] - one.faults[1]) for one in each]

    told = together(each)

    assert together([]) == ""
    assert together(each[:1]) == each[0].sentence
    assert f"heard 3 of the touches: {3 * len(TRUE):,} blows in both" in told
    assert f"each placed to {sorted(one.blow_ms for one in each)[1]:.1f} ms" in told
    assert f"and by {figure(max(apart))} at most" in told
