"""Contacts of clappers added up into one track, in a room.

All the contacts of a bell are added before the next bell's, in a fixed order, so that the same seeds give the same
samples. A track may be a file mapped into memory: it is only ever touched a stretch at a time.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.signal import oaconvolve

from judging.sounding.bells import Bell
from judging.sounding.clapper import contact_noise, contacts, weights
from judging.sounding.rooms import Reflections
from judging.sounding.voices import Voice, voice

#: Samples of a track handled at a time.
BLOCK: Final = 1 << 18

#: Contacts added up at a time, and samples of each: their product with the rows of a table (at most 40) stays near
#: 2**18, below which the usual library does not share a product out among threads.
CONTACTS_AT_A_TIME: Final = 16
PIECE: Final = 256

#: Contact noises made at a time.
NOISES_AT_A_TIME: Final = 512


def sound_bell(
    track: NDArray[np.float32],
    bell: Bell,
    *,
    times_s: NDArray[np.float64],
    is_hand: NDArray[np.bool_],
    reflections: Reflections,
    rate: int,
    rng: np.random.Generator,
) -> None:
    """Add every contact of one bell to a track.

    Parameters
    ----------
    track : ndarray of float32, shape (S,)
        What it is added to.
    bell : Bell
        Which.
    times_s : ndarray of float64, shape (B,)
        Its blows: first arrival of the direct sound, seconds from the start of the track.
    is_hand : ndarray of bool, shape (B,)
        Their strokes.
    reflections : Reflections
        Early reflections of this bell.
    rate : int
        Samples a second.
    rng : numpy.random.Generator
        What chance is drawn from.
    """
    struck = contacts(times_s, is_hand, rng)
    first = np.rint(struck.time_s * rate).astype(np.int64)
    ahead_s = first / rate - struck.time_s  # the nearest sample lies so much after the contact
    octaves = np.log2(bell.hz / bell.nominal_hz)
    for hand in (False, True):
        side = np.flatnonzero(struck.is_hand == hand)
        if not len(side):
            continue
        stroke = _reflected(voice(bell, is_hand=hand, rate=rate), reflections)
        part = struck.at(side)
        weight = weights(part, octaves, ahead_s[side, None] * stroke.hz, rng)
        for span, table in stroke.groups:
            both = np.hstack([weight[:, span].real, weight[:, span].imag]).astype(np.float32)
            _add_all(track, first[side], both, table.reshape(-1, table.shape[2]))
        for start in range(0, len(side), NOISES_AT_A_TIME):
            some = slice(start, start + NOISES_AT_A_TIME)
            noises = reflections.heard(contact_noise(struck.at(side[some]), bell, rate, rng))
            for begin, sound in zip(first[side[some]], noises, strict=True):
                _add(track, begin, sound)


def reverberate(track: NDArray[np.float32], tail: NDArray[np.float32]) -> None:
    """Add the diffuse sound of a room to all that is on a track, block by block.

    Parameters
    ----------
    track : ndarray of float32, shape (S,)
        Direct and early sound; the diffuse sound is added to it.
    tail : ndarray of float32, shape (N,)
        Impulse response of the diffuse sound; nothing happens where it is empty.
    """
    if not len(tail):
        return
    carried = np.zeros(len(tail) - 1, np.float32)
    for start in range(0, len(track), BLOCK):
        block = track[start : start + BLOCK]
        spread = oaconvolve(block, tail)
        spread[: len(carried)] += carried
        carried = spread[len(block) :]  # always as long as the tail less one
        block += spread[: len(block)]


def _reflected(stroke: Voice, reflections: Reflections) -> Voice:
    """Voice with the early reflections of its bell in it; the tables keep their length."""
    return Voice(
        stroke.hz, tuple((span, reflections.heard(table)[..., : table.shape[-1]]) for span, table in stroke.groups)
    )


def _add_all(
    track: NDArray[np.float32], first: NDArray[np.int64], weight: NDArray[np.float32], table: NDArray[np.float32]
) -> None:
    """Add weighted sums of the table's rows, one a contact, at the samples given.

    The table is cut into pieces so small that a linear-algebra library multiplies each on one thread: how many threads
    a machine has must not change the order of a sum, and so the last bit of a sample.
    """
    rows, length = table.shape
    count = -(-length // PIECE)
    padded = np.zeros((rows, count * PIECE), np.float32)
    padded[:, :length] = table
    pieces = np.ascontiguousarray(padded.reshape(rows, count, PIECE).swapaxes(0, 1))
    for start in range(0, len(first), CONTACTS_AT_A_TIME):
        some = slice(start, start + CONTACTS_AT_A_TIME)
        sounds = np.empty((len(first[some]), count * PIECE), np.float32)
        np.matmul(weight[some], pieces, out=sounds.reshape(-1, count, PIECE).swapaxes(0, 1))
        for begin, sound in zip(first[some], sounds, strict=True):
            _add(track, begin, sound[:length])


def _add(track: NDArray[np.float32], begin: int, sound: NDArray[np.float32]) -> None:
    """Add a sound to the track, as much of it as fits."""
    end = min(len(track), begin + len(sound))
    track[begin:end] += sound[: end - begin]
