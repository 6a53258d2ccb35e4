"""A tower's own bells, measured from a touch on real bells, are known again: by an ear that knows them, and by a ruler.

The bells of the folder are a descending major scale, by its own description; what each one's nominal is, is read off
the single blow's spectrum. How like two sounds are is a log-mel distance by librosa.
"""

from pathlib import Path

import librosa
import numpy as np
import pytest
import soundfile
import soxr

from judging.ear import listen
from judging.piece import Piece
from judging.sounding import Character, bells_of_recording, human_log, ring, ring_of_bells
from judging.sounding.bells import RingOfBells
from judging.striking.strike_log import StrikeLog

from .test_real_bells import RATE, put_together

pytestmark = pytest.mark.slow

MEASURED_HZ = 22_050
STEPS = np.array([19, 17, 16, 14, 12, 11, 9, 7, 5, 4, 2, 0])  # semitones of a major scale above its lowest bell
LOWEST_HZ = 1287.0  # read off the spectrum of 12.wav


def nominal_hz(blow: np.ndarray, number: int) -> float:
    """Strongest partial of a single blow within half a semitone of where the scale has its nominal."""
    spectrum = np.abs(np.fft.rfft(blow[: int(1.5 * RATE)] * np.hanning(int(1.5 * RATE)), 1 << 18))
    hz = np.arange(len(spectrum)) * RATE / (1 << 18)
    near = np.abs(np.log2(hz.clip(1) / (LOWEST_HZ * 2 ** (STEPS[number - 1] / 12)))) < 1 / 24
    return float(hz[near][spectrum[near].argmax()])


def single(bells: RingOfBells, number: int) -> np.ndarray:
    log = StrikeLog(np.zeros(1), np.array([number], np.int8), np.zeros(1))
    return ring(log, bells, seed=1, rate=RATE, lead_in_s=0.0)[0]


def distance_db(one: np.ndarray, other: np.ndarray) -> float:
    """R.m.s. difference of two log-mel spectrograms of the first second and a half, both as loud."""

    def mel(sound: np.ndarray) -> np.ndarray:
        sound = soxr.resample(sound[: int(1.5 * RATE)].astype(float), RATE, MEASURED_HZ)
        power = librosa.feature.melspectrogram(
            y=sound / np.sqrt((sound**2).mean()), sr=MEASURED_HZ, n_fft=1024, hop_length=256, n_mels=64, fmax=10_000
        )
        return 10 * np.log10(power + 1e-4)

    return float(np.sqrt(np.square(mel(one) - mel(other)).mean()))


@pytest.mark.parametrize("count", [6, 8])
def test_measured_bells_are_the_bells(real_bells: list[np.ndarray], tmp_path: Path, count: int) -> None:
    rows = [np.arange(1, count + 1)] * 6
    for change in range(54):
        row = rows[-1].copy()
        for place in range(change % 2, count - 1, 2):
            row[[place, place + 1]] = row[[place + 1, place]]
        rows.append(row)
    piece = Piece("plain hunting", np.array(rows, np.int8), 6)
    first = (12 - count) // 2
    true = real_bells[first : first + count]
    touch = human_log(piece, Character(spread_ms=30, pull_off_ms=35), peal_minutes={6: 165, 8: 178}[count], seed=4)
    log = StrikeLog(touch.log.times_s - touch.log.times_s.min() + 2, touch.log.bells.copy(), touch.log.spread_ms.copy())
    samples = put_together(true, log.times_s, log.bells, touch.is_hand)
    recorded = tmp_path / "recorded.wav"
    soundfile.write(recorded, samples, RATE)
    kept = listen(recorded, piece).voices

    own = bells_of_recording(soxr.resample(samples, RATE, MEASURED_HZ).astype(np.float32), MEASURED_HZ, log, count)

    for number, (bell, blow) in enumerate(zip(own.bells, true, strict=True), first + 1):
        assert bell.nominal_hz == pytest.approx(nominal_hz(blow, number), rel=0.01)
    made_up = ring_of_bells(count, seed=1657)
    apart = np.array([[distance_db(single(own, b + 1), blow) for blow in true] for b in range(count)])
    np.testing.assert_array_equal(apart.argmin(axis=1), np.arange(count))  # each is most like itself
    np.testing.assert_array_equal(apart.argmin(axis=0), np.arange(count))
    assert (apart.diagonal() < [distance_db(single(made_up, b + 1), blow) for b, blow in enumerate(true)]).all()

    rung = tmp_path / "rung.wav"
    sounded, on_its_clock = ring(log, own, seed=1, rate=RATE, lead_in_s=2.0, is_hand=touch.is_hand)
    soundfile.write(rung, sounded, RATE)
    heard = listen(rung, piece, voices=kept).log
    assert len(heard) == len(on_its_clock)
    for bell in range(1, count + 1):
        late_s = np.sort(heard.times_s[heard.bells == bell]) - np.sort(on_its_clock.times_s[on_its_clock.bells == bell])
        assert np.abs(late_s).max() < 0.03  # every label right; a dull bell's attack is heard a few ms late
