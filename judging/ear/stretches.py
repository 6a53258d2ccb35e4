"""A long recording → the stretches of it in which bells ring: one recorder left running for a whole day.

Bells on one ring in front of one recorder are about as loud all day, and their blows come evenly; talk, traffic and
chairs are neither for long. Nothing is said here of what was rung.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, percentile_filter

from judging.ear.features import FRAME_S, RATE_HZ, onsets
from judging.ear.tables import let_go

#: Loudness is taken ten times a second; bells hum on between blows, so the quiet fifth of two seconds tells them apart.
_STEP = RATE_HZ // 10
_STEP_S = _STEP / RATE_HZ
_HELD_STEPS, _HELD_SHARE = 21, 20
#: Evenness is taken each second, over ten.
_WINDOW_S, _EVERY_S = 10.0, 1.0
#: Gaps between blows of three to sixteen bells at peal speeds.
_SHORTEST_GAP_S, _LONGEST_GAP_S = 0.12, 0.5
#: Seconds as even as this say how loud the ringing is. Simulated ringing at 35 ms has 0.31 to 0.43, talk 0.15.
_SURELY_EVEN, _EVEN = 0.3, 0.22
#: Ringing falls below its usual loudness by no more than this, in dB: 6 in simulated bands in rooms.
_SOFTER_DB = 9.0
#: A shorter pause is one within the ringing; shorter ringing is nobody's touch.
PAUSE_S, SHORTEST_S = 3.0, 8.0
#: Samples looked at together.
_BLOCK = 600 * _STEP


@dataclass(frozen=True, slots=True)
class Stretch:
    """Where bells ring.

    Parameters
    ----------
    begin_s, end_s : float
        From about the first blow to about the last, to some tenths of a second.
    evenness : float
        How evenly blows come, 0 to about 1: how sure it is that these are bells.
    """

    begin_s: float
    end_s: float
    evenness: float

    @property
    def seconds(self) -> float:
        """How long it lasts."""
        return self.end_s - self.begin_s


def ringing_stretches(
    samples: NDArray[np.float32], strengths: NDArray[np.float32] | None = None
) -> tuple[Stretch, ...]:
    """Find where bells ring.

    Parameters
    ----------
    samples : ndarray of float32, shape (samples,)
        Mono, at ``RATE_HZ``; may be hours long and mapped from the disk.
    strengths : ndarray of float32, shape (frames,), optional
        From `onsets` of the same samples, where they are known already.

    Returns
    -------
    tuple of Stretch
        In order of time; none where nothing sounds like bells.
    """
    held = _held_loudness(samples)
    even = _evenness(onsets(samples) if strengths is None else strengths)
    seconds = np.arange(len(even)) * _EVERY_S + _WINDOW_S / 2
    at_seconds = held[np.minimum((seconds / _STEP_S).astype(int), len(held) - 1)] if len(held) else held
    sure = even > _SURELY_EVEN
    if not sure.any():
        return ()
    usual = float(np.median(at_seconds[sure]))
    found = []
    for begin_s, end_s in _joined(held > usual - _SOFTER_DB):
        inside = (seconds > begin_s) & (seconds < end_s)
        if not inside.any():
            inside = np.abs(seconds - (begin_s + end_s) / 2) <= _WINDOW_S / 2
        evenness = float(np.median(even[inside])) if inside.any() else 0.0
        if end_s - begin_s >= SHORTEST_S and evenness >= _EVEN:
            found.append(Stretch(round(begin_s, 1), round(end_s, 1), round(evenness, 2)))
    return tuple(found)


def _held_loudness(samples: NDArray[np.float32]) -> NDArray[np.float64]:
    """Loudness that lasts between blows, in dB, of each tenth of a second; differences of samples leave out rumble."""
    levels = []
    for first in range(0, len(samples) - _STEP, _BLOCK):
        block = np.diff(samples[first : first + _BLOCK + 1].astype(np.float64))
        steps = block[: len(block) // _STEP * _STEP].reshape(-1, _STEP)
        levels.append(10 * np.log10((steps**2).mean(axis=1) + 1e-12))
        let_go(samples)
    level = np.concatenate(levels) if levels else np.zeros(0)
    held: NDArray[np.float64] = percentile_filter(level, _HELD_SHARE, size=_HELD_STEPS) if len(level) else level
    return held


def _evenness(rises: NDArray[np.float32]) -> NDArray[np.float64]:
    """How far onsets repeat after one, two and three gaps, at the gap at which they do most; of each second."""
    window, every = int(_WINDOW_S / FRAME_S), int(_EVERY_S / FRAME_S)
    lags = np.arange(int(_SHORTEST_GAP_S / FRAME_S), int(_LONGEST_GAP_S / FRAME_S))
    middle = float(np.median(rises)) or 1.0
    even = np.zeros(max(0, (len(rises) - window) // every + 1))
    for second in range(len(even)):
        part = gaussian_filter1d(np.log1p(rises[second * every :][:window].astype(np.float64) / middle), 1.0)
        part -= gaussian_filter1d(part, 60)
        power = float((part**2).mean())
        if power > 0:
            repeats = np.fft.irfft(np.abs(np.fft.rfft(part, 2 * window)) ** 2)[:window] / (window * power)
            even[second] = (repeats[lags] + repeats[2 * lags] + repeats[3 * lags]).max()
    return even


def _joined(loud: NDArray[np.bool_]) -> list[tuple[float, float]]:
    """Stretches of loud steps, pauses within ringing bridged, in seconds."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], loud, [False]]).astype(np.int8)))
    stretches: list[tuple[float, float]] = []
    for begin, end in zip(edges[::2], edges[1::2], strict=True):
        if stretches and begin * _STEP_S - stretches[-1][1] < PAUSE_S:
            stretches[-1] = (stretches[-1][0], float(end * _STEP_S))
        else:
            stretches.append((float(begin * _STEP_S), float(end * _STEP_S)))
    return stretches
