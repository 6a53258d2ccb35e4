"""Several channels → the one, or the mix, in which the bells come through most plainly, chosen by the sound itself.

Each channel, their mean, and the means of the plainest few are held against each other on some seconds here and there
of a recording, or on the first ringing of a stream: how far onsets stand out against what is between them. Hum, hiss,
talk beside one microphone, wind in it and overload all fill what is between; a channel that hears half of the bells has
onsets missing.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import soxr
from numpy.typing import NDArray

from judging.ear.features import RATE_HZ, onsets
from judging.figures import together

#: So many excerpts, of so many seconds, are kept of a recording however long it is: 28 MB of eight channels.
_MOST, _EXCERPT_S = 16, 2.5
#: The least of a recording that says anything (s).
_LEAST_S = 1.0
#: All channels are taken together unless others are so much plainer. Without a channel that is overloaded, in wind or
#: beside a talker made-up bells are 1.6 to 2.1 times as plain, without one of hum 1.3 and without one that comes 30 ms
#: later 1.4; without one that comes 3 ms later 1.01, and with half of the bells 0.5.
_PLAINER = 1.25
#: A channel whose onsets are weaker than this share of the strongest channel's holds next to nothing of bells, however
#: plain: the lowest tones alone of a film's sound have 0.04. Onsets go as the root of the sound, so this is 40 dB.
_FAINT = 0.1
#: A mean with less than this share of its strongest channel's power has channels that cancel each other.
_CANCELS = 0.1
#: A channel is overloaded where this share of its samples is at full scale, and silent this far below the strongest.
_OVERLOADED, _SILENT = 1e-3, 1e-4
FULL_SCALE = 0.999

Floats = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Taken:
    """Which channels of a recording are heard.

    Parameters
    ----------
    channels : tuple of int
        Their mean is; from 0.
    note : str
        Which and why, where not all are; else empty.
    """

    channels: tuple[int, ...]
    note: str = ""


class Excerpts:
    """Some seconds here and there of a recording of several channels, as it is read.

    Parameters
    ----------
    rate_hz : int
        Of the recording.
    """

    def __init__(self, rate_hz: int) -> None:
        self._rate_hz = rate_hz
        self._length = int(_EXCERPT_S * rate_hz)
        self._coming: list[Floats] = []
        self._held = self._number = 0
        self._every = 1
        self._kept: list[Floats] = []
        self._clipped: NDArray[np.int64] = np.zeros(1, np.int64)
        self._frames = 0

    def note(self, block: Floats) -> None:
        """Take in the next samples; shape (frames, channels)."""
        self._clipped = self._clipped + (np.abs(block) >= FULL_SCALE).sum(axis=0)
        self._frames += len(block)
        self._coming.append(block)
        self._held += len(block)
        while self._held >= self._length:
            whole = np.concatenate(self._coming)
            self._keep(whole[: self._length])
            self._coming = [whole[self._length :]]
            self._held -= self._length

    def _keep(self, excerpt: Floats) -> None:
        """Keep every so-manyth; where they become too many, every second of them, and half as many from then on."""
        if self._number % self._every == 0:
            self._kept.append(soxr.resample(excerpt, self._rate_hz, RATE_HZ))
            if len(self._kept) > _MOST:
                self._kept = self._kept[::2]
                self._every *= 2
        self._number += 1

    def choose(self) -> Taken:
        """Say which channels are best heard, once all has been read."""
        if not self._kept and self._held >= _LEAST_S * self._rate_hz:
            self._keep(np.concatenate(self._coming))
        return best_channels(self._kept, self._clipped / max(1, self._frames))


def excerpts_of(sound: Floats) -> list[Floats]:
    """Return a short stretch of ringing as excerpts.

    Parameters
    ----------
    sound : ndarray of float32, shape (samples, channels)
        At the ear's rate; of a longer one, the first forty seconds are taken.
    """
    taken = sound[: int(_MOST * _EXCERPT_S * RATE_HZ)]
    return np.array_split(taken, max(1, round(len(taken) / (_EXCERPT_S * RATE_HZ))))


def best_channels(excerpts: Sequence[Floats], clipped: NDArray[np.float64]) -> Taken:
    """Say which channels are best heard.

    Parameters
    ----------
    excerpts : sequence of ndarray of float32, shape (samples, channels)
        At the ear's rate, some of ringing.
    clipped : ndarray of float64, shape (channels,)
        Share of each channel's samples that are at full scale.
    """
    count = len(clipped)
    every = tuple(range(count))
    if not excerpts or count == 1:
        return Taken(every)
    loud = _ringing(excerpts)
    power = np.mean([np.square(one, dtype=np.float64).mean(axis=0) for one in loud], axis=0)
    plain: dict[tuple[int, ...], float] = {every: _plainness(loud, every)[0]}
    single = [_plainness(loud, (one,)) for one in every]
    strongest = max(strength for _, strength in single)
    able = [one for one in every if single[one][1] > _FAINT * strongest] or every
    plain |= {(one,): single[one][0] for one in able}
    ordered = sorted(able, key=lambda one: (-round(plain[one,], 1), -power[one]))
    for number in range(2, len(able) + 1):
        mix = tuple(sorted(ordered[:number]))
        plain[mix] = _plainness(loud, mix)[0]
    best = max((mix for mix in plain if mix != every), key=lambda mix: (round(plain[mix], 1), power[list(mix)].max()))
    together = np.mean([np.square(one.mean(axis=1), dtype=np.float64).mean() for one in loud])
    if plain[best] >= _PLAINER * plain[every]:
        why = _why([one for one in every if one not in best], power, clipped)
    elif together < _CANCELS * power.max():
        why = "the channels cancel each other"
    else:
        return Taken(every)
    return Taken(best, f"{_named(best, count)} was heard, since {why}")


def _why(left: Sequence[int], power: NDArray[np.float64], clipped: NDArray[np.float64]) -> str:
    """Say what is wrong with the channels that are left out."""
    others = "the other is" if len(left) == 1 else "the others are"
    if all(clipped[one] > _OVERLOADED for one in left):
        return f"{others} overloaded; turn the level down next time"
    if all(power[one] < _SILENT**2 * power.max() for one in left):
        return f"{others} silent; is the microphone connected?"
    there = "in the other" if len(left) == 1 else "in the others"
    return f"the bells stand out less {there}; is there wind, hum, or somebody talking beside that microphone?"


def _ringing(excerpts: Sequence[Floats]) -> list[Floats]:
    """Return the louder half, each channel beside its own usual level: bells are louder than what is not bells."""
    level = np.array([np.square(one, dtype=np.float64).mean(axis=0) for one in excerpts])
    loudness = (level / (np.median(level, axis=0) + 1e-20)).mean(axis=1)
    return [one for one, loud in zip(excerpts, loudness >= np.median(loudness), strict=True) if loud]


def _plainness(excerpts: Sequence[Floats], channels: Sequence[int]) -> tuple[float, float]:
    """How many times stronger the strong onsets are than what is usual between them; and how strong.

    Both of the mean of some channels.
    """
    told, strength = [], []
    for excerpt in excerpts:
        rises = onsets(np.ascontiguousarray(excerpt[:, list(channels)].mean(axis=1)))
        strong, usual = np.percentile(rises, (95, 50))
        told.append(np.log(max(1.0, strong / usual)) if usual > 0 else 0.0)
        strength.append(strong)
    return float(np.exp(np.mean(told))), float(np.mean(strength))


def _named(channels: Sequence[int], count: int) -> str:
    """Name channels as people do."""
    if count == 2:
        return f"only the {('left', 'right')[channels[0]]} of two channels"
    numbers = [str(one + 1) for one in channels]
    if len(numbers) == 1:
        return f"only channel {numbers[0]} of {count}"
    return f"the mean of channels {together(numbers)} of {count}"
