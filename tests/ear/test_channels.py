"""Of several channels those are heard in which the bells come through, and it is said which and why."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile
from scipy.signal import butter, sosfilt

from judging.ear.channels import Excerpts
from judging.ear.decode import Sound, decode
from judging.ear.features import RATE_HZ
from judging.piece import Piece
from judging.sounding import ROOMS, Noise, human_log, ring, ring_of_bells
from judging.striking.strike_log import StrikeLog

from .conftest import BAND

ROUNDS = Piece("rounds", np.tile(np.arange(1, 7, dtype=np.int8), (12, 1)), opening=0)


def rung(names: tuple[int, ...]) -> np.ndarray:
    """Half a minute of rounds on six, of which only some are heard."""
    log = human_log(ROUNDS, BAND, peal_minutes=165, handstroke_gap=1.0, seed=2).log
    kept = np.isin(log.bells, names)
    part = StrikeLog(log.times_s[kept], log.bells[kept], np.zeros(int(kept.sum())))
    lead_in_s = 1.0 + float(part.times_s[0] - log.times_s[0])
    return ring(
        part, ring_of_bells(6, seed=41), ROOMS["dry"], Noise("wind", 25), seed=3, rate=RATE_HZ, lead_in_s=lead_in_s
    )[0]


@pytest.fixture(scope="module")
def bells() -> np.ndarray:
    return 0.3 * rung((1, 2, 3, 4, 5, 6))


def hiss(like: np.ndarray, seed: int, times: float = 1.0) -> np.ndarray:
    return times * np.sqrt(np.square(like).mean()) * np.random.default_rng(seed).standard_normal(len(like))


@pytest.fixture
def decoded(tmp_path: Path) -> Callable[..., Sound]:
    def write_and_decode(*channels: np.ndarray) -> Sound:
        path = tmp_path / "touch.wav"
        shortest = min(len(channel) for channel in channels)
        samples = np.column_stack([channel[:shortest] for channel in channels])
        soundfile.write(path, np.clip(samples, -1, 1), RATE_HZ, subtype="FLOAT")
        return decode(path)

    return write_and_decode


@pytest.mark.parametrize("count", range(2, 9))
def test_one_good_channel_among_bad_ones_is_found(bells: np.ndarray, decoded: Callable[..., Sound], count: int) -> None:
    good = count // 2
    sound = decoded(*(bells if number == good else hiss(bells, number) for number in range(count)))
    np.testing.assert_allclose(sound.samples, bells, atol=1e-6)
    named = f"only channel {good + 1} of {count}" if count > 2 else "only the right of two channels"
    assert sound.note.startswith(f"{named} was heard, since the bells stand out less in the other")


def test_an_overloaded_channel_is_left_out_and_not_counted_as_overload(
    bells: np.ndarray, decoded: Callable[..., Sound]
) -> None:
    sound = decoded(bells, 40 * bells)
    np.testing.assert_allclose(sound.samples, bells, atol=1e-6)
    assert sound.note == (
        "only the left of two channels was heard, since the other is overloaded; turn the level down next time"
    )
    assert sound.clipped == 0


def test_a_channel_with_somebody_talking_beside_it_is_left_out(
    bells: np.ndarray, decoded: Callable[..., Sound]
) -> None:
    rng = np.random.default_rng(4)
    syllables = np.repeat(rng.random(len(bells) // 3000 + 1) ** 3, 3000)[: len(bells)]
    assert "left" in decoded(bells, bells + 4 * hiss(bells, 5) * syllables).note


def test_a_channel_that_holds_nothing_but_the_lowest_tones_is_not_taken_for_the_plainest(
    bells: np.ndarray, decoded: Callable[..., Sound]
) -> None:
    """As the fourth of six channels of a film's sound (5.1), which encoders cut off above 120 Hz."""
    lowest = sosfilt(butter(8, 120, fs=RATE_HZ, output="sos"), bells)
    assert decoded(bells, bells, bells, lowest).note == ""


def test_bells_to_either_side_are_heard_from_both(decoded: Callable[..., Sound]) -> None:
    left, right = rung((1, 3, 5)), rung((2, 4, 6))
    shortest = min(len(left), len(right))
    sound = decoded(left, right)
    assert sound.note == ""
    np.testing.assert_allclose(sound.samples, np.clip((left[:shortest] + right[:shortest]) / 2, -1, 1), atol=2e-2)


@pytest.mark.parametrize("late_s", [0.0, 0.0007, 0.003])
def test_a_pair_of_good_microphones_is_heard_together(
    bells: np.ndarray, decoded: Callable[..., Sound], late_s: float
) -> None:
    assert decoded(bells, np.roll(bells, round(late_s * RATE_HZ))).note == ""


def test_channels_that_are_noisy_each_for_itself_are_heard_together_without_a_useless_one(
    bells: np.ndarray, decoded: Callable[..., Sound]
) -> None:
    noisy = [bells + hiss(bells, number, 0.5) for number in range(3)]
    assert decoded(*noisy).note == ""
    sound = decoded(noisy[0], hiss(bells, 9, 8.0), *noisy[1:])
    assert sound.note.startswith("the mean of channels 1, 3 and 4 of 4 was heard")
    np.testing.assert_allclose(sound.samples, np.mean(noisy, axis=0), atol=1e-6)


def test_what_is_kept_of_a_recording_does_not_grow_with_it() -> None:
    excerpts = Excerpts(RATE_HZ)
    minute = np.random.default_rng(1).standard_normal((60 * RATE_HZ, 2)).astype(np.float32)
    for _ in range(12):
        excerpts.note(minute)
    kept = excerpts._kept
    assert 8 <= len(kept) <= 16
    assert all(one.shape == (int(2.5 * RATE_HZ), 2) for one in kept)
