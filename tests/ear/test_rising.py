"""Bells raised and lowered are known by their pace, and are no pull-off; a band that rings on keeps its pace."""

import numpy as np
import pytest

from judging.ear.alone import is_one_at_a_time
from judging.ear.features import RATE_HZ
from judging.ear.lines import NewLines
from judging.ear.live import Begun, LiveEar, Stood
from judging.ear.rising import Gaps
from judging.sounding import Character, human_log, ring, ring_of_bells, room_named

from .raised import raised, raised_alone
from .test_live import pull_off_piece


def change(sound: np.ndarray, rung_s: float) -> float:
    gaps = Gaps()
    for begin in range(0, len(sound), RATE_HZ // 2):
        gaps.feed(sound[begin : begin + RATE_HZ // 2])
    return gaps.change(rung_s)


def clicks(gaps_s: np.ndarray) -> np.ndarray:
    """Short noises with these gaps between them: no bells at all, only their times."""
    chance = np.random.default_rng(0)
    at = (RATE_HZ * np.cumsum(gaps_s)).astype(int)
    sound = 1e-4 * chance.standard_normal(at[-1] + RATE_HZ)
    for one in at:
        sound[one : one + 200] += chance.standard_normal(200) * np.exp(-np.arange(200) / 50)
    return sound.astype(np.float32)


@pytest.mark.parametrize("factor", [0.5, 0.7, 1.0, 1.4, 2.0])
def test_the_change_of_the_gap_is_what_it_is(factor: float) -> None:
    gaps_s = np.geomspace(0.25, 0.25 * factor, 240)
    rung_s = float(gaps_s.sum())

    found = change(clicks(gaps_s), rung_s)

    # Eight seconds at a time, every four: what the gap truly is at their middles, and a step of 2 % either way.
    middles_s = np.arange(4.0, rung_s - 4.0, 4.0)
    true = np.log(np.interp(middles_s, np.cumsum(gaps_s), gaps_s))
    assert found == pytest.approx(np.polyfit(middles_s, true, 1)[0] * np.ptp(middles_s), abs=0.04)


def test_too_little_says_nothing() -> None:
    gaps_s = np.geomspace(0.2, 0.4, 70)
    assert change(clicks(gaps_s), 20.0) == 0.0
    assert Gaps().change() == 0.0


def test_what_comes_after_the_ringing_does_not_count() -> None:
    steady, slower = np.full(200, 0.2), np.geomspace(0.2, 0.5, 100)
    sound = clicks(np.concatenate([steady, slower]))
    assert abs(change(sound, 40.0)) < 0.05
    assert change(sound, 72.0) > 0.3


@pytest.mark.slow
@pytest.mark.parametrize(("way", "bells", "seconds"), [("raised", 6, 60.0), ("lowered", 6, 90.0), ("lowered", 8, 60.0)])
def test_bells_raised_or_lowered_are_told_as_that_once_they_stand(way: str, bells: int, seconds: float) -> None:
    rate = 16_000
    sound, true = raised(bells, seconds=seconds, seed=bells, rate=rate, lowered=way == "lowered", rounds_s=6.0)
    sound = np.concatenate([sound, np.zeros(6 * rate)])
    sound += 2e-4 * np.random.default_rng(1).standard_normal(len(sound))
    ear, moments = LiveEar(pull_off_piece(bells), rate, kept_s=24.0), []
    for begin in range(0, len(sound), rate // 2):
        moments += ear.feed(sound[begin : begin + rate // 2].astype(np.float32))

    (stood,) = (moment for moment in moments if isinstance(moment, Stood))
    assert stood.heard is None
    assert stood.problem == f"bells were being {way}, which is not judged"
    assert 0 < stood.noticed_s - true.times_s[-1] < 6


@pytest.mark.slow
@pytest.mark.parametrize(("room", "pause_s"), [("ringing chamber", 6.0), ("church", 1.0)])
def test_bells_raised_one_after_another_are_no_ringing_however_long_it_takes(room: str, pause_s: float) -> None:
    rate, parts = 16_000, []
    for bell in (1, 4, 6):
        alone = raised_alone(bell, 6, seconds=35.0, seed=bell, rate=rate, room=room)
        parts += [0.5 * alone, np.zeros(int(pause_s * rate))]
    sound = np.concatenate([*parts, np.zeros(5 * rate)])
    sound += 2e-4 * np.random.default_rng(1).standard_normal(len(sound))
    ear, moments = LiveEar(pull_off_piece(6), rate, kept_s=24.0), []
    for begin in range(0, len(sound), rate // 2):
        moments += ear.feed(sound[begin : begin + rate // 2].astype(np.float32))

    stands = [moment for moment in moments if isinstance(moment, Stood)]
    assert stands
    assert all(stood.is_no_ringing and stood.heard is None for stood in stands)


@pytest.mark.parametrize("bells", [3, 5, 12])
def test_a_band_in_rounds_is_not_taken_for_one_bell_at_a_time(bells: int) -> None:
    log = human_log(pull_off_piece(bells, 1), Character(spread_ms=40.0), peal_minutes=170.0, seed=bells).log
    sound, _ = ring(log, ring_of_bells(bells, seed=bells), room_named("church"), seed=bells, rate=RATE_HZ)
    assert not is_one_at_a_time(sound.astype(np.float32))


def test_few_faint_new_lines_at_every_look_begin_a_stretch_and_no_crash(monkeypatch: pytest.MonkeyPatch) -> None:
    """Fewer at each than a blow makes, and enough in a second: a bell raised from the bottom, far away."""
    monkeypatch.setattr(NewLines, "feed", lambda _self, sound: np.full(len(sound) // 1024, 2))
    ear = LiveEar(pull_off_piece(6), RATE_HZ)
    moments = [moment for _ in range(8) for moment in ear.feed(np.full(RATE_HZ // 2, 1e-3, np.float32))]
    assert any(isinstance(moment, Begun) for moment in moments)
