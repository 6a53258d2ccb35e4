"""Recording and the times of its blows → how much of every narrow band's energy each bell has, at every moment.

Bells sound on long after the next ones are struck, so that no bell is ever heard alone. But energies of different bells
add up, on average, and when each is struck is known: in one band the energy is a sum of decays that begin at the blows
of each bell, every one with a weight that cannot be negative. That is linear, and solved for all bands at once.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.fft import rfft
from scipy.signal import get_window

#: Decays offered to every bell, as times to fall 60 dB: the shortest takes what is not a partial at all.
DECAYS_S: Final = np.array([0.12, 0.3, 0.6, 1.2, 2.4, 4.8, 9.6, 19.2])

#: Frames overlap by seven eighths.
FRAMES_A_WINDOW: Final = 8

#: Rounds of coordinate descent; weights move by under a hundredth from here on.
_ROUNDS: Final = 80

#: Grid on which decays as seen through a window are worked out, a second.
_GRID_HZ: Final = 1000.0

#: Natural logarithm of the amplitude lost in a fall of 60 dB.
FALL: Final = np.log(1000.0)


@dataclass(frozen=True, slots=True)
class Picture:
    """A recording as narrow bands, frame by frame.

    Parameters
    ----------
    spectrum : ndarray of complex64, shape (F, B)
        Scaled so that the sum over bands of its squared size is the squared amplitude of a sine.
    rate : int
        Samples a second of the recording.
    window : int
        Samples of a frame.
    first_band : int
        Number of the first band kept; band k lies at ``k * rate / window`` Hz.
    """

    spectrum: NDArray[np.complex64]
    rate: int
    window: int
    first_band: int

    @property
    def hop_s(self) -> float:
        """Time from frame to frame."""
        return self.window // FRAMES_A_WINDOW / self.rate

    @property
    def window_s(self) -> float:
        """Length of a frame."""
        return self.window / self.rate

    @property
    def middle_s(self) -> NDArray[np.float64]:
        """Middle of each frame, from the start of the recording."""
        return np.asarray(np.arange(len(self.spectrum)) * self.hop_s + self.window_s / 2, np.float64)

    @property
    def hz(self) -> NDArray[np.float64]:
        """Where each band lies."""
        return np.asarray((np.arange(self.spectrum.shape[1]) + self.first_band) * (self.rate / self.window), np.float64)


def picture_of(samples: NDArray[np.float32], rate: int, *, window: int, from_hz: float, to_hz: float) -> Picture:
    """Narrow bands of a recording.

    Parameters
    ----------
    samples : ndarray of float32, shape (S,)
        Mono, at least a window long.
    rate : int
        Samples a second.
    window : int
        Samples of a frame.
    from_hz, to_hz : float
        What is kept, with eight bands more on either side.

    Returns
    -------
    Picture
    """
    hop = window // FRAMES_A_WINDOW
    shape = get_window("hann", window).astype(np.float32)
    shape /= np.sqrt((shape**2).sum() * window / 4)
    first = max(0, int(from_hz * window / rate) - 8)
    last = min(int(to_hz * window / rate) + 8, window // 2)
    frames = np.lib.stride_tricks.sliding_window_view(samples, window)[::hop]
    spectrum = np.empty((len(frames), last - first), np.complex64)
    for start in range(0, len(frames), 256):
        spectrum[start : start + 256] = rfft(frames[start : start + 256] * shape, axis=1)[:, first:last]
    return Picture(spectrum, rate, window, first)


def seen_decay(
    lag_s: NDArray[np.float64], t60_s: float, window_s: float, *, beat_hz: float = 0.0, share: float = 1.0
) -> NDArray[np.float64]:
    """Energy of one blow of squared amplitude 1 in a frame whose middle lies so long after it.

    Parameters
    ----------
    lag_s : ndarray of float64, shape (L,)
        Ascending; a frame begins to see a blow half a window before it.
    t60_s : float
        Time to fall 60 dB.
    window_s : float
        Length of a frame.
    beat_hz, share : float
        Of a partial of two halves: how far apart they lie, and the share of the amplitude in the louder.

    Returns
    -------
    ndarray of float64, shape (L,)
    """
    shape = get_window("hann", int(window_s * _GRID_HZ)) ** 2
    time_s = np.arange(int((lag_s[-1] + window_s) * _GRID_HZ) + 2) / _GRID_HZ
    halves = share + (1 - share) * np.exp(2j * np.pi * beat_hz * time_s)
    energy = np.exp(-2 * FALL / t60_s * time_s) * np.abs(halves) ** 2
    seen = np.convolve(energy, shape / shape.sum())[: len(time_s)]  # by a frame that ends so long after the blow
    return np.interp(lag_s + window_s / 2, time_s, seen, left=0.0, right=0.0)


@dataclass(frozen=True, slots=True)
class Overlap:
    """How the bells' decays overlap in the frames of a picture.

    Parameters
    ----------
    columns : ndarray of float32, shape (n * D + 1, F)
        Energy that blows of amplitude 1 would leave in each frame: decay by decay, bell by bell; last, a steady noise.
    weight : ndarray of float32, shape (F,)
        Of each frame: loud frames vary more.
    """

    columns: NDArray[np.float32]
    weight: NDArray[np.float32]

    def solved(self, energy: NDArray[np.float32]) -> NDArray[np.float64]:
        """Weight of every column in each band, none negative; shapes (F, B) to (n * D + 1, B)."""
        weighed = self.columns * self.weight
        gram = (weighed @ self.columns.T).astype(np.float64)
        size = np.sqrt(np.diag(gram))
        gram /= np.outer(size, size)
        right = (weighed @ energy).astype(np.float64) / size[:, None]
        found = np.zeros_like(right)
        for _ in range(_ROUNDS):
            for one in range(len(gram)):
                found[one] = np.maximum(0.0, found[one] + right[one] - gram[one] @ found)
        return np.asarray(found / size[:, None])

    def of_bell(self, bell: int) -> slice:
        """Columns of a bell, counted from 0."""
        return slice(bell * len(DECAYS_S), (bell + 1) * len(DECAYS_S))


def overlap_of(picture: Picture, blows_s: Sequence[NDArray[np.float64]]) -> Overlap:
    """Columns of every bell in the frames of a picture.

    Parameters
    ----------
    picture : Picture
        Of the recording.
    blows_s : sequence of ndarray of float64
        The blows of each bell, ascending.

    Returns
    -------
    Overlap
    """
    middle_s, window_s = picture.middle_s, picture.window_s
    columns = np.zeros((len(blows_s) * len(DECAYS_S) + 1, len(middle_s)), np.float32)
    columns[-1] = 1.0
    for index, t60_s in enumerate(DECAYS_S):
        reach_s = 1.1 * t60_s + window_s
        lag_s = np.linspace(-window_s, reach_s, int((reach_s + window_s) * 500))
        seen = seen_decay(lag_s, float(t60_s), window_s)
        for bell, own_s in enumerate(blows_s):
            column = columns[bell * len(DECAYS_S) + index]
            for blow_s in own_s:
                begin, end = np.searchsorted(middle_s, [blow_s - window_s / 2, blow_s + reach_s])
                column[begin:end] += np.interp(middle_s[begin:end] - blow_s, lag_s, seen)
    loud = (np.abs(picture.spectrum) ** 2).mean(axis=1)
    return Overlap(columns, np.asarray(1 / (loud + 0.1 * loud.mean() + 1e-20), np.float32))
