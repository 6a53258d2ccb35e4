"""What the ear looks at: energy in narrow bands two hundred times a second, and a sharper sign of onsets.

Conventions
-----------
Sound is mono float32 at ``RATE_HZ``. Frame ``i`` is centred on sample ``i * HOP``, that is on ``i * FRAME_S`` seconds.
"""

from collections.abc import Iterator

import numpy as np
import scipy.fft
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from judging.ear.tables import let_go, table

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
_BLOCK, _FEW = 2048, 200
#: A rise is measured over 20 ms.
_LAG = 2
#: Added to each band's energy, where its median is 1; and how many frames the median is taken of.
_FLOOR, _LOOKED_AT = 0.1, 20_000


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


def _spectra(sound: NDArray[np.float32], window: int) -> Iterator[tuple[slice, NDArray[np.complex64]]]:
    """Spectra of all frames, block by block; silence is taken before and after the sound."""
    taper = np.hanning(window + 1)[:-1].astype(np.float32)
    count = len(sound) // HOP + 1
    for first in range(0, count, _BLOCK):
        last = min(count, first + _BLOCK)
        begin, end = first * HOP - window // 2, (last - 1) * HOP + window // 2
        taken = np.pad(sound[max(0, begin) : end], (max(0, -begin), max(0, end - len(sound))))
        frames = sliding_window_view(taken, window)[::HOP]
        let_go(sound)
        yield slice(first, last), scipy.fft.rfft(frames * taper, axis=1)


def band_energy(sound: NDArray[np.float32]) -> NDArray[np.float32]:
    """Energy in each band, frame by frame; shape (frames, bands)."""
    bands = band_matrix()
    energy = table(len(sound) // HOP + 1, bands.shape[1])
    for block, spectrum in _spectra(sound, WINDOW):
        np.matmul(spectrum.real**2 + spectrum.imag**2, bands, out=energy[block])
        let_go(energy)
    return energy


def loudness(energy: NDArray[np.float32], ringing: slice) -> NDArray[np.float32]:
    """Logarithm of the energy over each band's own median while the bells ring: free of gain and steady noise.

    Parameters
    ----------
    energy : ndarray of float32, shape (frames, bands)
        Overwritten, since it is the largest thing in memory.
    ringing : slice
        The frames in which bells ring.

    Returns
    -------
    ndarray of float32, shape (frames, bands)
        The array given.
    """
    looked = np.arange(ringing.start, ringing.stop, 1 + (ringing.stop - ringing.start) // _LOOKED_AT)
    usual = np.median(_some(energy, looked), axis=0)
    usual += np.float32(1e-8 * usual.max() + 1e-20)
    for first in range(0, len(energy), _BLOCK):
        block = energy[first : first + _BLOCK]
        block /= usual
        block += np.float32(_FLOOR)
        np.log(block, out=block)
        let_go(energy)
    return energy


def _some(energy: NDArray[np.float32], frames: NDArray[np.int64]) -> NDArray[np.float32]:
    """Return some frames, without those between them staying in memory."""
    taken = np.empty((len(frames), energy.shape[1]), np.float32)
    for first in range(0, len(frames), _FEW):
        taken[first : first + _FEW] = energy[frames[first : first + _FEW]]
        let_go(energy)
    return taken


def onsets(sound: NDArray[np.float32]) -> NDArray[np.float32]:
    """How much the spectrum rises, frame by frame: sharp in time, and blind to which bell it was; shape (frames,)."""
    low, high = int(500 * SHORT / RATE_HZ), int(9_500 * SHORT / RATE_HZ)
    rise = np.zeros(len(sound) // HOP + 1, np.float32)
    earlier = np.zeros((2 * _LAG, high - low), np.float32)
    for block, spectrum in _spectra(sound, SHORT):
        level = np.concatenate([earlier, np.sqrt(np.abs(spectrum[:, low:high]))])
        before = np.maximum(level, np.maximum(np.roll(level, 1, axis=1), np.roll(level, -1, axis=1)))
        sums = np.maximum(0.0, level[2 * _LAG :] - before[: -2 * _LAG]).sum(axis=1)
        first = max(0, _LAG - block.start)
        rise[block.start + first - _LAG : block.start + len(sums) - _LAG] = sums[first:]
        earlier = level[-2 * _LAG :]
    rise[:_LAG] = 0.0
    return rise


def steady_out(rises: NDArray[np.float32]) -> NDArray[np.float32]:
    """Take the steady part of noise out of the sign of onsets, and keep single knocks from outweighing bells."""
    level = median_filter(rises, 201)
    spread = median_filter(np.abs(rises - level), 201)
    clean = np.maximum(0.0, rises - level - 1.5 * spread)
    loud = float(np.percentile(clean[clean > 0], 95)) if (clean > 0).any() else 1.0
    return np.minimum(clean / loud, 1.0).astype(np.float32)
