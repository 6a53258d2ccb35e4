import numpy as np
import pytest
from scipy.signal import butter, sosfiltfilt

from judging.sounding import Bell, ring, ring_of_bells
from judging.sounding.voices import voice
from judging.striking.strike_log import StrikeLog

RATE = 44_100


def plainly(bell: Bell, partial: int, *, is_hand: bool, time_s: float) -> complex:
    """One partial at one moment, written down from the physics, slowly."""
    side = int(is_hand)
    shift = bell.doppler if is_hand else -bell.doppler
    decay_s = bell.settle_s / 3
    left_s = time_s + shift * decay_s * (1 - np.exp(-time_s / decay_s))
    size = 10 ** (bell.level_db[side, partial] / 20) * 10 ** (-3 * (time_s - 0.06) / bell.t60_s[partial])
    if bell.hz[partial] >= bell.nominal_hz:
        turned = np.sin(np.pi * bell.swing_hz * time_s) ** 2
        size *= 10 ** (-bell.swing_db * turned * np.exp(-time_s / bell.settle_s) / 20)
    if time_s < bell.contact_s:
        size *= np.sin(np.pi / 2 * time_s / bell.contact_s) ** 2
    share = bell.warble_share[side, partial]
    halves = share + (1 - share) * np.exp(2j * np.pi * bell.warble_hz[partial] * time_s)
    return complex(size * halves * np.exp(1j * (2 * np.pi * bell.hz[partial] * left_s + bell.phase[side, partial])))


@pytest.mark.parametrize("is_hand", [True, False])
def test_tables_are_what_the_physics_says_sample_by_sample(*, is_hand: bool) -> None:
    bell = ring_of_bells(8, seed=6).bells[4]
    stroke = voice(bell, is_hand=is_hand, rate=RATE)
    rng = np.random.default_rng(1)
    for span, table in stroke.groups:
        for row, partial in enumerate(range(span.start, span.stop)):
            last = int(0.85 * bell.t60_s[partial] * RATE)
            size = 10 ** (bell.level_db[int(is_hand), partial] / 20)
            for sample in (0, 1, 17, 63, 64, *rng.integers(65, last, 12)):
                right = plainly(bell, partial, is_hand=is_hand, time_s=sample / RATE)
                assert table[:, row, sample] == pytest.approx([right.real, -right.imag], abs=2e-3 * size)


def test_a_partial_let_go_is_too_soft_to_be_heard_going() -> None:
    bell = ring_of_bells(8, seed=6).bells[4]
    for span, table in voice(bell, is_hand=True, rate=RATE).groups:
        for row, partial in enumerate(range(span.start, span.stop)):
            sounding = np.flatnonzero(table[0, row])[-1]
            assert sounding / RATE == pytest.approx(bell.t60_s[partial], abs=0.01)
            loudest = np.abs(table[:, row]).max()
            assert np.abs(table[:, row, sounding - 200 :]).max() < 2e-4 * loudest


@pytest.mark.parametrize("part", [0.13, 0.25, 0.4, 0.49])
def test_a_blow_between_two_samples_sounds_between_them(part: float) -> None:
    """The delay that the phases of all partials agree on, to a twentieth of a sample (1 microsecond)."""
    log = StrikeLog(np.array([0.0]), np.array([5], np.int8), np.zeros(1))
    bells = ring_of_bells(6, seed=8)
    band = butter(4, (200, 8000), "bandpass", fs=RATE, output="sos")
    one, other = (
        np.fft.rfft(sosfiltfilt(band, ring(log, bells, seed=3, lead_in_s=1 + shift / RATE)[0][RATE - 100 : 2 * RATE]))
        for shift in (0.0, part)
    )
    hz = np.fft.rfftfreq(RATE + 100, 1 / RATE)
    strong = (np.abs(one) > 0.02 * np.abs(one).max()) & (hz > 200) & (hz < 8000)
    turned = np.angle(one[strong] / other[strong])
    weight = np.abs(one[strong]) ** 2
    slope = (weight * turned * hz[strong]).sum() / (weight * hz[strong] ** 2).sum()

    assert slope / (2 * np.pi) * RATE == pytest.approx(part, abs=0.05)
