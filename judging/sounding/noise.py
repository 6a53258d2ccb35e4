"""What else a microphone picks up: wind, a street, birds; never speech.

Noise is made block by block from one seed, so that a recording of any length needs the memory of one block.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal, get_args

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

from judging.errors import InputError

NoiseKind = Literal["none", "hiss", "wind", "street", "birds"]

#: Kinds of noise, in words.
KINDS: Final = get_args(NoiseKind)

#: Samples made at a time.
BLOCK: Final = 1 << 18

#: Band in which signal and noise are compared, Hz.
BAND_HZ: Final = (400.0, 10_000.0)


@dataclass(frozen=True, slots=True)
class Noise:
    """Noise at a declared ratio.

    Parameters
    ----------
    kind : {"none", "hiss", "wind", "street", "birds"}
        What it sounds like.
    signal_to_noise_db : float
        Power of the ringing over power of the noise, both in 400 Hz to 10 kHz and from the first blow to the last.
    """

    kind: NoiseKind = "none"
    signal_to_noise_db: float = 30.0

    def __post_init__(self) -> None:
        """Refuse a kind that is not known and a ratio that makes no sense."""
        if self.kind not in KINDS:
            raise InputError("noise", f"no noise is called {self.kind!r}; there are {', '.join(KINDS)}")
        if not -20.0 <= self.signal_to_noise_db <= 100.0:
            raise InputError("signal_to_noise_db", f"{self.signal_to_noise_db:g} dB is not between -20 and 100 dB")


#: No noise at all.
QUIET: Final = Noise()


def noise_blocks(kind: NoiseKind, rate: int, block: int, seed: int) -> Iterator[NDArray[np.float32]]:
    """Blocks of noise without end, at no particular level.

    Parameters
    ----------
    kind : {"hiss", "wind", "street", "birds"}
        What it sounds like.
    rate : int
        Samples a second.
    block : int
        Samples a block.
    seed : int
        The same seed makes the same noise.

    Yields
    ------
    ndarray of float32, shape (block,)
        The next samples; filters and gusts run on from block to block.
    """
    rng = np.random.default_rng([seed, KINDS.index(kind)])
    corner_hz = {"hiss": 0.4 * rate, "wind": 120.0, "street": 350.0, "birds": 200.0}[kind]
    rumble = butter(1, corner_hz, fs=rate, output="sos")
    state = np.zeros((1, 2))
    depth = {"hiss": 0.0, "wind": 0.6, "street": 0.4, "birds": 0.3}[kind]
    gust = rng.normal()
    while True:
        white = rng.standard_normal(block, dtype=np.float32)
        low, state = sosfilt(rumble, white, zi=state)
        knots = [gust]
        for _ in range(max(1, round(block / rate))):  # a gust lasts seconds
            knots.append(0.7 * knots[-1] + 0.7 * rng.normal())
        gust = knots[-1]
        swell = np.exp(depth * np.interp(np.linspace(0, len(knots) - 1, block), range(len(knots)), knots))
        out = (low * swell + 0.01 * white).astype(np.float32)
        if kind == "birds":
            for _ in range(rng.poisson(1.5 * block / rate)):
                _sing(out, rate, rng)
        yield out


def _sing(out: NDArray[np.float32], rate: int, rng: np.random.Generator) -> None:
    """Add one chirp, 60 to 200 ms, gliding between 2 and 7 kHz."""
    count = min(len(out), int(rng.uniform(0.06, 0.2) * rate))
    start = int(rng.integers(0, len(out) - count + 1))
    low_hz, high_hz = rng.uniform(2000, 7000, 2)
    glide_hz = np.linspace(low_hz, high_hz, count)
    chirp = np.sin(2 * np.pi * np.cumsum(glide_hz) / rate) * np.hanning(count)
    out[start : start + count] += (rng.uniform(0.05, 0.4) * chirp).astype(np.float32)


def lay_noise(
    bed: NDArray[np.float32], ringing: NDArray[np.float32], span: slice, noise: Noise, *, rate: int, seed: int
) -> None:
    """Fill a bed with noise that stands in the declared ratio to the ringing.

    Parameters
    ----------
    bed : ndarray of float32, shape (S,)
        What is filled.
    ringing : ndarray of float32, shape (S,)
        Sound of the bells.
    span : slice
        Samples over which the powers are compared.
    noise : Noise
        Kind and ratio.
    rate : int
        Samples a second.
    seed : int
        The same seed makes the same noise.
    """
    if noise.kind == "none":
        return
    blocks = noise_blocks(noise.kind, rate, BLOCK, seed)
    for start in range(0, len(bed), BLOCK):
        part = bed[start : start + BLOCK]
        part[:] = next(blocks)[: len(part)]
    gain = np.sqrt(band_power(ringing[span], rate) / band_power(bed[span], rate))
    gain *= 10 ** (-noise.signal_to_noise_db / 20)
    for start in range(0, len(bed), BLOCK):
        bed[start : start + BLOCK] *= np.float32(gain)


def band_power(samples: NDArray[np.float32], rate: int) -> float:
    """Mean power in 400 Hz to 10 kHz.

    Parameters
    ----------
    samples : ndarray of float32, shape (N,)
        Sound.
    rate : int
        Samples a second.

    Returns
    -------
    float
        Mean over blocks, weighted by their length, of ``2 / N**2`` times the sum of ``|X|**2`` over the band.
    """
    energy = 0.0
    for start in range(0, len(samples), BLOCK):
        part = samples[start : start + BLOCK]
        hz = np.fft.rfftfreq(len(part), 1 / rate)
        spectrum = np.fft.rfft(part)[(hz >= BAND_HZ[0]) & (hz <= BAND_HZ[1])]
        energy += float(2 * (np.abs(spectrum) ** 2).sum() / len(part))
    return energy / max(1, len(samples))
