import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import butter, sosfilt

from judging.sounding import ring, ring_of_bells
from judging.sounding.clapper import contacts
from judging.striking.strike_log import StrikeLog

RATE = 44_100


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**31), st.integers(1, 40))
def test_bounces_are_weaker_duller_contacts_40_to_150_ms_after_a_blow(seed: int, blows: int) -> None:
    """A long decreasing series after each blow (Woodhouse et al. 2012); times and levels are estimates."""
    times_s = 10.0 * np.arange(blows)
    struck = contacts(times_s, np.arange(blows) % 2 == 0, np.random.default_rng(seed))
    of = np.searchsorted(times_s, struck.time_s, side="right") - 1
    bounce = np.arange(len(struck.time_s)) >= blows

    assert np.array_equal(struck.time_s[:blows], times_s)
    assert np.array_equal(struck.is_hand, (of % 2 == 0))
    after_s = struck.time_s[bounce] - times_s[of[bounce]]
    softer_db = struck.level_db[bounce] - struck.level_db[of[bounce]]
    assert ((after_s >= 0.040) & (after_s <= 0.150)).all()
    assert ((softer_db >= -25) & (softer_db <= -14)).all()
    assert (struck.tilt_db[bounce] < struck.tilt_db[of[bounce]]).all()
    for one in range(blows):
        series = bounce & (of == one)
        assert 1 <= series.sum() <= 5
        assert (np.diff(struck.level_db[series][np.argsort(struck.time_s[series])]) < 0).all()


def test_blows_differ_in_force_and_the_two_strokes_in_colour() -> None:
    """Level of a blow: 2 dB standard deviation; spectra of hand- and backstroke differ more than chance makes them."""
    count, apart_s = 48, 2.5
    log = StrikeLog(apart_s * np.arange(count), np.full(count, 2, np.int8), np.zeros(count))
    samples, rung = ring(log, ring_of_bells(6, seed=4), seed=9, lead_in_s=1.0)
    octaves = [(350, 700), (700, 1400), (1400, 2800), (2800, 5600), (5600, 11_200)]
    levels = np.empty((count, len(octaves)))
    for b, band_hz in enumerate(octaves):
        sound = sosfilt(butter(4, band_hz, "bandpass", fs=RATE, output="sos"), samples)
        for i, t in enumerate(rung.times_s):
            new, old = (np.mean(sound[int(a * RATE) : int((a + 0.03) * RATE)] ** 2) for a in (t, t - 0.031))
            levels[i, b] = 10 * np.log10(max(new - old, 1e-12))
    hand, back = levels[::2], levels[1::2]
    spread_db = np.hstack([hand - hand.mean(axis=0), back - back.mean(axis=0)])[:, 2:4].std()
    apart = np.abs(hand.mean(axis=0) - back.mean(axis=0))
    chance = np.hypot(hand.std(axis=0), back.std(axis=0)) / np.sqrt(count / 2)

    assert 1.5 < spread_db < 3.5
    assert (apart / chance).max() > 3
    forceful = levels[:, 2:4].mean(axis=1) > np.median(levels[:, 2:4].mean(axis=1))
    tilt = levels[:, 4] - levels[:, 1]
    assert tilt[forceful].mean() > tilt[~forceful].mean()


def test_no_two_blows_share_a_waveform() -> None:
    """Else a detector could match samples, which it cannot with real bells."""
    log = StrikeLog(12.0 * np.arange(6), np.full(6, 3, np.int8), np.zeros(6))
    samples, rung = ring(log, ring_of_bells(6, seed=4), seed=9, lead_in_s=1.0, is_hand=np.full(6, True))
    starts = np.rint(rung.times_s * RATE).astype(int)
    attacks = np.array([samples[s : s + RATE // 10] for s in starts], float)
    alike = np.corrcoef(attacks)[np.triu_indices(6, 1)]

    assert alike.max() < 0.995
    assert alike.min() > 0.5


@pytest.mark.parametrize("rate", [16_000, 48_000])
def test_any_usual_rate_rings_the_same_bells(rate: int) -> None:
    log = StrikeLog(np.array([0.0]), np.array([1], np.int8), np.zeros(1))
    bells = ring_of_bells(6, seed=1)
    samples, _ = ring(log, bells, seed=1, rate=rate, lead_in_s=1.0)
    part = samples[int(2.2 * rate) : int(4.2 * rate)]
    spectrum = np.abs(np.fft.rfft(part * np.hanning(len(part)), 8 * len(part)))
    hz = np.fft.rfftfreq(8 * len(part), 1 / rate)
    near = np.flatnonzero(np.abs(hz - bells.bells[0].nominal_hz) < 30)

    assert hz[near[np.argmax(spectrum[near])]] == pytest.approx(bells.bells[0].nominal_hz, abs=1.5)
    assert not samples[: rate - 1].any()
