"""What the ear looks at: energy in narrow bands two hundred times a second, and a sharper sign of onsets.

Conventions
-----------
Sound is mono float32 at ``RATE_HZ``. Frame ``i`` is centred on sample ``i * HOP``, that is on ``i * FRAME_S`` seconds.
"""

import numpy as np
import scipy.fft
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

#: Upper partials of a treble reach about 9 kHz; 22,050 Hz carries them with no more frames than needed.
RATE_HZ = 22_050
#: 5 ms: two bells a hard-struck clash apart still fall into different frames.
HOP = 110
FRAME_S = HOP / RATE_HZ
#: 93 ms tells neighbouring bells of a ring of twelve apart (46 ms lost 7 to 16 points of recall on dull bells).
WINDOW = 2048
#: The onset window: 23 ms.
SHORT = 512
BANDS_AN_OCTAVE = 24
LOWEST_HZ, HIGHEST_HZ = 180.0, 9_500.0
#: Offsets of a patch, in frames: 50 ms either side of the blow in steps of 25 ms.
OFFSETS = (-10, -5, 0, 5, 10)
_BLOCK = 2048


def _edges() -> NDArray[np.float64]:
    """Edges of the bands; those that would be narrower than a bin are merged."""
    bin_hz = RATE_HZ / WINDOW
    count = int(np.log2(HIGHEST_HZ / LOWEST_HZ) * BANDS_AN_OCTAVE) + 3
    kept = [LOWEST_HZ * 2.0 ** (-1 / BANDS_AN_OCTAVE)]
    for edge in LOWEST_HZ * 2.0 ** (np.arange(count) / BANDS_AN_OCTAVE):
        if edge - kept[-1] >= bin_hz:
            kept.append(edge)
    return np.array(kept)


#: Bands from here on are a full twenty-fourth of an octave wide.
WIDE_BANDS = int(np.searchsorted(_edges()[1:-1], 400.0))


def band_matrix() -> NDArray[np.float32]:
    """Triangular bands on a logarithmic scale.

    Returns
    -------
    ndarray of float32, shape (WINDOW // 2 + 1, bands)
        Weight of each bin of the spectrum in each band; bands narrower than a bin are merged.
    """
    centres = _edges()
    hz = np.arange(WINDOW // 2 + 1)[:, None] * RATE_HZ / WINDOW
    up = (hz - centres[:-2]) / (centres[1:-1] - centres[:-2])
    down = (centres[2:] - hz) / (centres[2:] - centres[1:-1])
    weights: NDArray[np.float32] = np.maximum(0.0, np.minimum(up, down)).astype(np.float32)
    return weights


def _frames(sound: NDArray[np.float32], window: int) -> NDArray[np.float32]:
    padded = np.concatenate([np.zeros(window // 2, np.float32), sound, np.zeros(window // 2, np.float32)])
    return sliding_window_view(padded, window)[::HOP]


def band_energy(sound: NDArray[np.float32]) -> NDArray[np.float32]:
    """Energy in each band, frame by frame; shape (frames, bands)."""
    taper = np.hanning(WINDOW + 1)[:-1].astype(np.float32)
    bands = band_matrix()
    frames = _frames(sound, WINDOW)
    energy = np.empty((len(frames), bands.shape[1]), np.float32)
    for first in range(0, len(frames), _BLOCK):
        spectrum = scipy.fft.rfft(frames[first : first + _BLOCK] * taper, axis=1)
        power = spectrum.real**2 + spectrum.imag**2
        np.matmul(power, bands, out=energy[first : first + _BLOCK])
    return energy


def loudness(energy: NDArray[np.float32], ringing: slice) -> NDArray[np.float32]:
    """Logarithm of the energy over each band's own median while the bells ring: free of gain and steady noise."""
    usual = np.median(energy[ringing], axis=0)
    floor = 1e-8 * usual.max() + 1e-20
    loud: NDArray[np.float32] = np.log(energy / (usual + floor) + np.float32(0.1))
    return loud


def onsets(sound: NDArray[np.float32]) -> NDArray[np.float32]:
    """How much the spectrum rises, frame by frame: sharp in time, and blind to which bell it was; shape (frames,)."""
    taper = np.hanning(SHORT + 1)[:-1].astype(np.float32)
    frames = _frames(sound, SHORT)
    low, high = int(500 * SHORT / RATE_HZ), int(9_500 * SHORT / RATE_HZ)
    level = np.empty((len(frames), high - low), np.float32)
    for first in range(0, len(frames), _BLOCK):
        spectrum = scipy.fft.rfft(frames[first : first + _BLOCK] * taper, axis=1)[:, low:high]
        level[first : first + _BLOCK] = np.sqrt(np.abs(spectrum))
    lag = 2
    rise = np.zeros(len(level), np.float32)
    before = np.maximum(level, np.maximum(np.roll(level, 1, axis=1), np.roll(level, -1, axis=1)))
    rise[lag:-lag] = np.maximum(0.0, level[2 * lag :] - before[: -2 * lag]).sum(axis=1)
    return rise
