"""Rooms against the two numbers they declare, measured as ISO 3382-1 does it: Schroeder's backward integration."""

import numpy as np
import pytest
from scipy.signal import butter, fftconvolve, sosfiltfilt

from judging.errors import InputError
from judging.sounding import ROOMS, ring, ring_of_bells, room_named
from judging.sounding.mixing import BLOCK, reverberate
from judging.sounding.rooms import diffuse_tail, early_reflections
from judging.striking.strike_log import StrikeLog

RATE = 44_100
WET = [name for name in ROOMS if name != "dry"]


def response(name: str, seed: int) -> np.ndarray:
    """What a click becomes in a room."""
    room = ROOMS[name]
    click = np.zeros(3 * RATE, np.float32)
    click[0] = 1
    sound = early_reflections(room, RATE, np.random.default_rng(seed)).heard(click)
    reverberate(sound, diffuse_tail(room, RATE, np.random.default_rng([seed, 1])))
    return sound.astype(float)


@pytest.mark.parametrize("name", WET)
@pytest.mark.parametrize("seed", [1, 2])
def test_direct_sound_comes_first_and_has_the_declared_share(name: str, seed: int) -> None:
    heard = response(name, seed)
    first, rest = heard[0] ** 2, (heard[1:] ** 2).sum()

    assert heard[0] == 1
    assert np.abs(heard[1 : int(0.002 * RATE)]).max() < 1e-7
    assert 10 * np.log10(first / rest) == pytest.approx(ROOMS[name].direct_to_reverberant_db, abs=0.7)


@pytest.mark.parametrize("name", WET)
def test_reverberation_time_is_as_declared_within_a_tenth(name: str) -> None:
    """T30: the line through -5 to -35 dB of the backward integral, in 500 Hz to 2 kHz, mean over four rooms."""
    found_s = []
    for seed in range(4):
        tail = diffuse_tail(ROOMS[name], RATE, np.random.default_rng(seed)).astype(float)
        band = sosfiltfilt(butter(3, (500, 2000), "bandpass", fs=RATE, output="sos"), tail)
        left_db = 10 * np.log10(np.cumsum(band[::-1] ** 2)[::-1] / (band**2).sum())
        begins = np.argmax(np.abs(tail) > 0)
        part = slice(int(np.argmax(left_db < -5)), int(np.argmax(left_db < -35)))
        assert part.start > begins
        time_s = np.arange(len(tail)) / RATE
        found_s.append(-60 / np.polyfit(time_s[part], left_db[part], 1)[0])

    assert np.mean(found_s) == pytest.approx(ROOMS[name].t60_s, rel=0.1)


def test_reverberation_in_blocks_is_reverberation_at_once() -> None:
    """Against scipy's convolution of the whole."""
    rng = np.random.default_rng(3)
    dry = rng.standard_normal(2 * BLOCK + 1234).astype(np.float32)
    tail = rng.standard_normal(5000).astype(np.float32)
    wet = dry.copy()
    reverberate(wet, tail)

    assert np.abs(wet - (dry + fftconvolve(dry, tail)[: len(dry)])).max() < 2e-3


@pytest.mark.parametrize("name", ROOMS)
def test_no_room_moves_the_first_arrival(name: str) -> None:
    log = StrikeLog(np.array([0.0]), np.array([3], np.int8), np.zeros(1))
    samples, rung = ring(log, ring_of_bells(6, seed=1), ROOMS[name], seed=2, lead_in_s=1.25)
    arrives_s = int(np.argmax(np.abs(samples) > 1e-5 * np.abs(samples).max())) / RATE

    assert rung.times_s[0] == 1.25
    assert arrives_s == pytest.approx(1.25, abs=0.00005)


def test_a_room_nobody_built_is_refused_with_those_there_are() -> None:
    with pytest.raises(InputError, match=r"crypt.*ringing chamber"):
        room_named("crypt")
