from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray
from scipy.signal import butter, correlate, sosfiltfilt

from judging.errors import InputError
from judging.piece.piece import Piece
from judging.sounding import Noise, ideal_log, ring, ring_of_bells, ring_to_file, write_wav
from judging.striking.strike_log import StrikeLog

RATE = 44_100


def log_of(times_s: Sequence[float], bells: Sequence[int]) -> StrikeLog:
    count = len(times_s)
    return StrikeLog(np.asarray(times_s, float), np.asarray(bells, np.int8), np.zeros(count), "test")


def first_arrival_s(samples: NDArray[np.float32]) -> float:
    """When sound begins after digital silence: the first sample above a hundred-thousandth of the peak."""
    return int(np.argmax(np.abs(samples) > 1e-5 * np.abs(samples).max())) / RATE


@pytest.mark.parametrize("number", [1, 3, 6])
@pytest.mark.parametrize("lead_in_s", [1.0, 1.00000907, 1.37])
def test_a_single_blow_arrives_when_the_log_says(number: int, lead_in_s: float) -> None:
    samples, log = ring(log_of([0.0], [number]), ring_of_bells(6, seed=1), seed=2, lead_in_s=lead_in_s)

    assert log.times_s[0] == lead_in_s
    assert first_arrival_s(samples) == pytest.approx(lead_in_s, abs=0.00005)


def test_blows_are_apart_as_the_log_says_to_a_twentieth_of_a_millisecond() -> None:
    """Two blows of one bell, far apart: the lag at which the envelopes of their attacks match best."""
    apart_s = 20.123457
    samples, log = ring(
        log_of([0.0, apart_s], [4, 4]), ring_of_bells(6, seed=1), seed=5, lead_in_s=1.0, is_hand=np.array([True, True])
    )
    band = butter(4, (1000, 9000), "bandpass", fs=RATE, output="sos")
    loud = np.abs(sosfiltfilt(band, samples.astype(float)))
    attacks = [loud[int(t * RATE) - 441 : int(t * RATE) + 441] for t in log.times_s]
    lag = int(np.argmax(correlate(attacks[1], attacks[0]))) - 881
    heard_s = int(log.times_s[1] * RATE) / RATE - int(log.times_s[0] * RATE) / RATE + lag / RATE

    assert heard_s == pytest.approx(apart_s, abs=0.00005)


def test_file_and_memory_hold_the_same_sound(tmp_path: Path, hunting: Callable[..., Piece]) -> None:
    log = ideal_log(hunting(3, rows=4), peal_minutes=90)
    ring_to_file(tmp_path / "a.flac", log, bells=ring_of_bells(3, seed=3), seed=4, noise=Noise("wind", 20))
    samples, _ = ring(log, ring_of_bells(3, seed=3), noise=Noise("wind", 20), seed=4)
    read, rate = soundfile.read(tmp_path / "a.flac", dtype="int16")

    assert rate == RATE
    assert np.array_equal(read, np.rint(samples * 32_767).astype(np.int16))
    assert 20 * np.log10(np.abs(read).max() / 32_767) == pytest.approx(-3, abs=0.01)


@pytest.mark.parametrize("bad", ["x.mp3", "x"])
def test_a_container_that_is_not_written_is_refused_and_leaves_nothing(tmp_path: Path, bad: str) -> None:
    with pytest.raises(InputError, match=r"\.wav or \.flac"):
        ring_to_file(tmp_path / bad, log_of([0.0], [1]), bells=ring_of_bells(1, seed=1), seed=1)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    ("times_s", "bells", "match"),
    [
        ([], [], "nothing to ring"),
        ([0.0], [0], "nothing to ring"),
        ([0.0], [7], "bell 7"),
        ([0.0, np.nan], [1, 2], "not a number"),
        ([0.0, 90_000_000.0], [1, 2], "in seconds"),
    ],
)
def test_a_log_that_cannot_be_rung_is_refused(times_s: list[float], bells: list[int], match: str) -> None:
    with pytest.raises(InputError, match=match):
        ring(log_of(times_s, bells), ring_of_bells(6, seed=1), seed=1)


def test_blows_of_an_unknown_bell_are_left_out_and_strokes_alternate() -> None:
    log = log_of([0.0, 0.5, 3.0, 6.0], [2, 0, 2, 2])
    bells = ring_of_bells(3, seed=1)
    told = ring(log, bells, seed=2, lead_in_s=1.0, is_hand=np.array([True, True, False, True]))
    alternating = ring(log, bells, seed=2, lead_in_s=1.0)

    assert alternating[1].bells.tolist() == [2, 2, 2]
    assert alternating[1].times_s == pytest.approx([1.0, 4.0, 7.0])
    assert np.array_equal(told[0], alternating[0])
    with pytest.raises(InputError, match="3 strokes were given for 4 blows"):
        ring(log, bells, seed=2, is_hand=np.array([True, False, True]))


def test_two_bells_together_are_the_sum_of_each_alone() -> None:
    """Sound adds up: nothing is cut off by a later blow."""
    bells = ring_of_bells(4, seed=1)
    both, log = ring(log_of([0.0, 0.3, 0.7], [1, 3, 1]), bells, seed=2, lead_in_s=1.0)
    one, _ = ring(log_of([0.0, 0.7], [1, 1]), bells, seed=2, lead_in_s=1.0)
    other, _ = ring(log_of([0.3], [3]), bells, seed=2, lead_in_s=1.3)
    other = np.concatenate([other, np.zeros(len(both) - len(other), np.float32)])
    parts = np.stack([one, other], axis=1).astype(float)
    mix, *_ = np.linalg.lstsq(parts[: 4 * RATE], both[: 4 * RATE].astype(float), rcond=None)

    assert (mix > 0).all()
    assert np.abs(parts[: 4 * RATE] @ mix - both[: 4 * RATE]).max() < 1e-5
    assert log.bells.tolist() == [1, 3, 1]


def test_a_folder_that_is_not_there_is_said_to_be_missing(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="folder is not there"):
        ring_to_file(tmp_path / "no" / "x.wav", log_of([0.0], [1]), bells=ring_of_bells(1, seed=1), seed=1)


def test_writing_cuts_off_what_is_beyond_full_scale(tmp_path: Path) -> None:
    write_wav(tmp_path / "x.wav", np.array([0.0, 2.0, -2.0, 0.5], np.float32), RATE)

    assert soundfile.read(tmp_path / "x.wav", dtype="int16")[0].tolist() == [0, 32_767, -32_767, 16_384]
