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
from judging.sounding.chance import chance

NoiseKind = Literal["none", "hiss", "wind", "street", "birds"]

#: Kinds of noise, in words.
KINDS: Final = get_args(NoiseKind)


@dataclass(frozen=True, slots=True)
class Colour:
    """What a noise is made of.

    Parameters
    ----------
    corner_hz : float
        White noise falling 6 dB an octave above this.
    gustiness : float
        How much its level swells and sinks over seconds (standard deviation, nepers).
    hiss : float
        White noise beside it, steady.
    chirps_a_second : float
        Birds.
    """

    corner_hz: float
    gustiness: float = 0.0
    hiss: float = 0.01
    chirps_a_second: float = 0.0


#: What each kind is made of (ours).
COLOURS: Final = {
    "hiss": Colour(100.0, hiss=1.0),
    "wind": Colour(120.0, gustiness=0.6),
    "street": Colour(350.0, gustiness=0.4),
    "birds": Colour(200.0, gustiness=0.3, chirps_a_second=1.5),
}

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


def noise_blocks(kind: NoiseKind, rate: int, seed: int) -> Iterator[NDArray[np.float32]]:
    """Blocks of noise without end, at no particular level.

    Parameters
    ----------
    kind : {"hiss", "wind", "street", "birds"}
        What it sounds like.
    rate : int
        Samples a second.
    seed : int
        The same seed makes the same noise.

    Yields
    ------
    ndarray of float32, shape (BLOCK,)
        The next samples; filters and gusts run on from block to block.
    """
    rng = chance(seed, "noise", kind)
    colour = COLOURS[kind]
    rumble = butter(1, colour.corner_hz, fs=rate, output="sos")
    state = np.zeros((1, 2))
    gusts = [rng.normal()]
    while True:
        white = rng.standard_normal(BLOCK, dtype=np.float32)
        low, state = sosfilt(rumble, white, zi=state)
        for _ in range(max(1, round(BLOCK / rate))):
            gusts.append(0.7 * gusts[-1] + 0.7 * rng.normal())
        swell = np.interp(np.linspace(0, len(gusts) - 1, BLOCK), range(len(gusts)), gusts)
        gusts = gusts[-1:]
        out = (low * np.exp(colour.gustiness * swell) + colour.hiss * white).astype(np.float32)
        for _ in range(rng.poisson(colour.chirps_a_second * BLOCK / rate)):
            _sing(out, rate, rng)
        yield out


def _sing(out: NDArray[np.float32], rate: int, rng: np.random.Generator) -> None:
    """Add one chirp, 60 to 200 ms, gliding between 2 and 7 kHz."""
    count = int(rng.uniform(0.06, 0.2) * rate)
    start = int(rng.integers(0, len(out) - count + 1))
    from_hz, to_hz = rng.uniform(2000, min(7000, 0.45 * rate), 2)
    glide_hz = np.linspace(from_hz, to_hz, count)
    chirp = np.sin(2 * np.pi * np.cumsum(glide_hz) / rate) * np.hanning(count)
    out[start : start + count] += (rng.uniform(0.05, 0.4) * chirp).astype(np.float32)


def add_noise(track: NDArray[np.float32], span: slice, noise: Noise, *, rate: int, seed: int) -> None:
    """Add noise that stands in the declared ratio to what is on the track.

    Parameters
    ----------
    track : ndarray of float32, shape (S,)
        Sound of the bells; the noise is added to it.
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
    energy = [0.0, 0.0]
    for start, block in zip(range(0, span.stop, BLOCK), noise_blocks(noise.kind, rate, seed), strict=False):
        part = slice(max(start, span.start), min(start + BLOCK, span.stop))
        if part.start < part.stop:
            for which, sound in enumerate((track[part], block[part.start - start : part.stop - start])):
                energy[which] += len(sound) * band_power(sound, rate)
    gain = np.sqrt(energy[0] / energy[1]) * 10 ** (-noise.signal_to_noise_db / 20)
    for start, block in zip(range(0, len(track), BLOCK), noise_blocks(noise.kind, rate, seed), strict=False):
        part = slice(start, min(start + BLOCK, len(track)))
        track[part] += np.float32(gain) * block[: part.stop - start]


def band_power(samples: NDArray[np.float32], rate: int) -> float:
    """Mean power in 400 Hz to 10 kHz.

    Parameters
    ----------
    samples : ndarray of float32, shape (N,)
        Sound, at least one sample.
    rate : int
        Samples a second.

    Returns
    -------
    float
        ``2 / N**2`` times the sum of ``|X|**2`` over the band.
    """
    hz = np.fft.rfftfreq(len(samples), 1 / rate)
    spectrum = np.fft.rfft(samples)[(hz >= BAND_HZ[0]) & (hz <= BAND_HZ[1])]
    return float(2 * (np.abs(spectrum) ** 2).sum() / len(samples) ** 2)
