from collections.abc import Callable
from itertools import islice

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt, welch

from judging.errors import InputError
from judging.piece.piece import Piece
from judging.sounding import ROOMS, Noise, ideal_log, ring, ring_of_bells
from judging.sounding.noise import KINDS, QUIET, NoiseKind, noise_blocks
from judging.striking.strike_log import StrikeLog

RATE = 44_100


def heard(sound: NDArray[np.float32]) -> NDArray[np.float64]:
    """What lies in the band that is compared."""
    return np.asarray(sosfilt(butter(6, (400, 10_000), "bandpass", fs=RATE, output="sos"), sound.astype(float)))


def three_bells(hunting: Callable[..., Piece], noise: Noise = QUIET) -> tuple[NDArray[np.float32], StrikeLog]:
    log, bells = ideal_log(hunting(3, rows=10, opening=2), peal_minutes=90), ring_of_bells(3, seed=2)
    return ring(log, bells, ROOMS["ringing chamber"], noise, seed=3)


@pytest.fixture(scope="module")
def clean(hunting: Callable[..., Piece]) -> tuple[NDArray[np.float32], StrikeLog]:
    return three_bells(hunting)


@pytest.mark.parametrize(("kind", "ratio_db"), [("wind", 25), ("street", 6), ("birds", 12), ("hiss", 0), ("wind", -6)])
def test_signal_to_noise_is_as_declared(
    kind: NoiseKind,
    ratio_db: float,
    hunting: Callable[..., Piece],
    clean: tuple[NDArray[np.float32], StrikeLog],
) -> None:
    """In 400 Hz to 10 kHz, over the ringing; the noise is what the same ringing without it does not explain."""
    bare_sound, rung = clean
    noisy, _ = three_bells(hunting, Noise(kind, ratio_db))
    span = slice(int(rung.times_s[0] * RATE), int(rung.times_s[-1] * RATE))
    bare, both = heard(bare_sound)[span], heard(noisy)[span]
    signal = bare * (bare @ both) / (bare @ bare)
    noise = both - signal

    assert 10 * np.log10((signal @ signal) / (noise @ noise)) == pytest.approx(ratio_db, abs=0.5)


def test_only_noise_is_heard_before_the_first_blow(hunting: Callable[..., Piece]) -> None:
    log, bells = ideal_log(hunting(3, rows=2, opening=1), peal_minutes=90), ring_of_bells(3, seed=2)
    leads_s = []
    for seed in range(5):
        samples, rung = ring(log, bells, noise=Noise("wind", 20), seed=seed)
        before = samples[: int(rung.times_s[0] * RATE) - 1]
        after = samples[len(before) : 2 * len(before)]
        leads_s.append(rung.times_s[0])
        assert 0 < np.abs(before).max() < np.abs(after).max()
        assert np.abs(before[:1000]).max() > 0
    assert min(leads_s) >= 1
    assert max(leads_s) <= 3
    assert np.ptp(leads_s) > 0.1


def share_db(kind: NoiseKind, low_hz: float, high_hz: float) -> float:
    """Power of a noise in a band over its whole power, by Welch's method."""
    sound = np.concatenate(list(islice(noise_blocks(kind, RATE, 4), 4)))
    hz, density = welch(sound, RATE, nperseg=1 << 14)
    return float(10 * np.log10(density[(hz >= low_hz) & (hz < high_hz)].sum() / density.sum()))


def test_each_noise_sounds_like_its_name() -> None:
    """Wind is low; a street less so; birds sing between 2 and 7 kHz; hiss is even."""
    assert share_db("wind", 0, 400) > -1.5
    assert share_db("wind", 400, 20_000) < share_db("street", 400, 20_000)
    assert share_db("birds", 2000, 7000) > share_db("wind", 2000, 7000) + 6
    assert share_db("hiss", 0, 11_025) == pytest.approx(-3, abs=0.2)


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "none"])
def test_noise_runs_on_from_block_to_block_and_never_repeats(kind: NoiseKind) -> None:
    first, second, third = islice(noise_blocks(kind, RATE, 4), 3)
    steps = np.abs(np.diff(np.concatenate([first, second])))

    assert steps[len(first) - 1] < 6 * np.sqrt((steps**2).mean())
    assert abs(np.corrcoef(first, third)[0, 1]) < 0.05
    assert np.array_equal(first, next(noise_blocks(kind, RATE, 4)))


@pytest.mark.parametrize(
    ("kind", "ratio_db", "match"), [("talk", 20, "wind"), ("wind", 1000, "dB"), ("wind", np.nan, "dB")]
)
def test_a_noise_that_is_not_made_is_refused(kind: NoiseKind, ratio_db: float, match: str) -> None:
    with pytest.raises(InputError, match=match):
        Noise(kind, ratio_db)
