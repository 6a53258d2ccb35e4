"""Rooms to ring in: a direct sound, a few early reflections of each bell's own, and one diffuse tail for all.

The direct sound arrives first, undelayed and undimmed, so that the truth of a blow is its arrival at the microphone
and no room can move it. What a room adds is declared by two numbers that acousticians use (ISO 3382-1): the
reverberation time T60 and the direct-to-reverberant ratio.
"""

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

from judging.errors import InputError


@dataclass(frozen=True, slots=True)
class Room:
    """A place, as a microphone hears it.

    Parameters
    ----------
    name : str
        In words.
    t60_s : float
        Reverberation time in 500 Hz to 2 kHz; 0 for no room at all.
    direct_to_reverberant_db : float
        Energy of the direct sound over that of everything after it.
    reflections : int
        Early reflections of each bell.
    first_s, last_s : float
        When early reflections come, after the direct sound.
    early_share : float
        Their share of the reverberant energy; the rest is the diffuse tail.
    bright_hz : float
        Above this the tail falls by 6 dB an octave.
    """

    name: str
    t60_s: float
    direct_to_reverberant_db: float
    reflections: int = 0
    first_s: float = 0.0
    last_s: float = 0.0
    early_share: float = 0.0
    bright_hz: float = 5000.0


#: Bands of the diffuse tail: their share of the T60, and their edges. Stone and plaster keep the bass longest, air
#: takes the treble first (order of size as in tables of absorption; figures ours).
TAIL_BANDS: Final[tuple[tuple[float, Literal["lowpass", "bandpass", "highpass"], float | tuple[float, float]], ...]] = (
    (1.15, "lowpass", 500.0),
    (1.0, "bandpass", (500.0, 2000.0)),
    (0.6, "highpass", 2000.0),
)

#: Rooms by name. Figures are ours, within what is usual: a stone church of middling size has a T60 of 1.5 to 3 s.
ROOMS: Final = {
    room.name: room
    for room in (
        Room("dry", 0.0, 99.0),
        Room("ringing chamber", 0.6, 5.0, 8, 0.003, 0.03, 0.5, 6000.0),
        Room("church", 1.8, 2.0, 8, 0.008, 0.06, 0.4, 4000.0),
        Room("outdoors", 0.5, 7.0, 5, 0.012, 0.12, 0.7, 4000.0),
    )
}


def room_named(name: str, *, where: str = "room") -> Room:
    """Room of that name.

    Parameters
    ----------
    name : str
        One of the names of `ROOMS`.
    where : str
        Place to name in the message.

    Returns
    -------
    Room
        As declared.

    Raises
    ------
    InputError
        When there is no such room.
    """
    if name not in ROOMS:
        raise InputError(where, f"no room is called {name!r}; there are {', '.join(ROOMS)}")
    return ROOMS[name]


@dataclass(frozen=True, slots=True)
class Reflections:
    """Early reflections of one bell.

    Parameters
    ----------
    delays : ndarray of int64, shape (K,)
        After the direct sound, in samples, ascending, at least one.
    gains : ndarray of float32, shape (K,)
        Relative to the direct sound, signed.
    """

    delays: NDArray[np.int64]
    gains: NDArray[np.float32]

    def __post_init__(self) -> None:
        """Make the arrays read-only."""
        self.delays.setflags(write=False)
        self.gains.setflags(write=False)

    def heard(self, sound: NDArray[np.float32]) -> NDArray[np.float32]:
        """Sound with its reflections, along the last axis.

        Parameters
        ----------
        sound : ndarray of float32, shape (..., N)
            As it leaves the bell.

        Returns
        -------
        ndarray of float32, shape (..., N + longest delay)
            As it reaches the microphone.
        """
        count = sound.shape[-1]
        out = np.zeros((*sound.shape[:-1], count + int(self.delays.max(initial=0))), np.float32)
        out[..., :count] = sound
        for delay, gain in zip(self.delays, self.gains, strict=True):
            out[..., delay : delay + count] += gain * sound
        return out


def early_reflections(room: Room, rate: int, rng: np.random.Generator) -> Reflections:
    """Early reflections of one bell, drawn.

    Parameters
    ----------
    room : Room
        Where.
    rate : int
        Samples a second.
    rng : numpy.random.Generator
        What chance is drawn from.

    Returns
    -------
    Reflections
        With the declared energy.
    """
    if not room.reflections:
        return Reflections(np.zeros(0, np.int64), np.zeros(0, np.float32))
    delay_s = np.sort(rng.uniform(room.first_s, room.last_s, room.reflections))
    gain = rng.uniform(0.6, 1, room.reflections) * np.exp(-delay_s / room.last_s)
    gain *= rng.choice((-1.0, 1.0), room.reflections)
    gain *= np.sqrt(room.early_share * 10 ** (-room.direct_to_reverberant_db / 10) / (gain**2).sum())
    return Reflections(np.maximum(1, np.rint(delay_s * rate)).astype(np.int64), gain.astype(np.float32))


def diffuse_tail(room: Room, rate: int, rng: np.random.Generator) -> NDArray[np.float32]:
    """Impulse response of the diffuse sound alone (no direct sound), down to -60 dB.

    Parameters
    ----------
    room : Room
        Where.
    rate : int
        Samples a second.
    rng : numpy.random.Generator
        What chance is drawn from.

    Returns
    -------
    ndarray of float32, shape (N,)
        Noise falling 60 dB in T60 (of its band), silent before the first reflection; empty where there is no room.
    """
    if not room.t60_s:
        return np.zeros(0, np.float32)
    count = int(room.t60_s * max(share for share, _, _ in TAIL_BANDS) * rate)
    time_s = np.arange(count) / rate
    tail = np.zeros(count)
    for share, kind, edges_hz in TAIL_BANDS:
        band = butter(2, edges_hz, kind, fs=rate, output="sos")
        tail += sosfilt(band, rng.standard_normal(count)) * np.exp(-np.log(1000) * time_s / (share * room.t60_s))
    tail = sosfilt(butter(1, min(room.bright_hz, 0.45 * rate), fs=rate, output="sos"), tail)
    tail *= np.clip((time_s - room.first_s) / (room.last_s - room.first_s), 0, 1)
    energy = (1 - room.early_share) * 10 ** (-room.direct_to_reverberant_db / 10)
    return np.asarray(tail * np.sqrt(energy / (tail**2).sum()), np.float32)
