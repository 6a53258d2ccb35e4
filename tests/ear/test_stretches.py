"""Where bells ring in a long recording, against when they were rung."""

import numpy as np

from judging.ear.features import RATE_HZ
from judging.ear.stretches import ringing_stretches
from judging.piece import Piece
from judging.sounding import ROOMS, Character, Noise, human_log, ring, ring_of_bells

ROUNDS = Piece("rounds", np.tile(np.arange(1, 7, dtype=np.int8), (20, 1)), opening=0)


def chatter(seconds: float, seed: int) -> np.ndarray:
    """Noise that comes and goes four times a second, unevenly, as syllables do."""
    rng = np.random.default_rng(seed)
    count = int(seconds * RATE_HZ)
    loud = np.interp(np.arange(count), np.sort(rng.integers(0, count, int(8 * seconds))), rng.random(int(8 * seconds)))
    return (0.05 * loud**3 * rng.standard_normal(count)).astype(np.float32)


def rung(seed: int) -> tuple[np.ndarray, float, float]:
    """Forty seconds of rounds by an ordinary band, with its first and last blow."""
    touch = human_log(ROUNDS, Character(spread_ms=40), peal_minutes=170, handstroke_gap=1.0, seed=seed)
    bells = ring_of_bells(6, seed=3)
    sound, log = ring(touch.log, bells, ROOMS["church"], Noise("wind", 20), seed=seed, rate=RATE_HZ)
    return sound, float(log.times_s[0]), float(log.times_s[-1])


def test_ringing_is_found_between_talk_and_silence_to_two_seconds() -> None:
    parts, true, now = [], [], 0.0
    for seed, wait_s in enumerate((20, 12, 30)):
        between = chatter(wait_s, seed)
        sound, first_s, last_s = rung(seed)
        true.append((now + wait_s + first_s, now + wait_s + last_s))
        parts += [between, sound]
        now += wait_s + len(sound) / RATE_HZ
    found = ringing_stretches(np.concatenate([*parts, chatter(20, 9)]))
    assert len(found) == 3
    np.testing.assert_allclose([(s.begin_s, s.end_s) for s in found], true, atol=2)


def test_talk_noise_and_silence_hold_no_ringing() -> None:
    rng = np.random.default_rng(1)
    assert ringing_stretches(chatter(60, 4)) == ()
    assert ringing_stretches((0.1 * rng.standard_normal(60 * RATE_HZ)).astype(np.float32)) == ()
    assert ringing_stretches(np.zeros(60 * RATE_HZ, np.float32)) == ()


def test_a_second_of_sound_is_no_ringing_and_no_trouble() -> None:
    assert ringing_stretches(rung(1)[0][:RATE_HZ]) == ()
