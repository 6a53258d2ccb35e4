"""What a clapper does at each blow: how hard it strikes, how bright, its own noise, and how it bounces.

A full-circle clapper strikes, bounces in a long decreasing series and comes to rest on the bell (Woodhouse et al., "The
Dynamics of a Ringing Church Bell", Advances in Acoustics and Vibration, 2012). A bounce is a weaker, duller contact;
it is sounded and is never a blow.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

from judging.sounding.bells import Bell

#: One standard deviation of a blow's level, dB, and of each partial's own share of it.
LEVEL_SD_DB: Final = 2.0
PARTIAL_SD_DB: Final = 1.0

#: A harder blow is brighter: dB an octave for each dB of level, and what is left to chance.
TILT_PER_DB: Final = 0.25
TILT_SD_DB: Final = 0.7

#: Where on the bell, and at what moment of its vibration, a clapper lands differs a little: radians.
PHASE_SD: Final = 0.3

#: Bounces: the first after, how the waits shrink, level of the first, fall from one to the next, dullness.
FIRST_BOUNCE_S: Final = (0.045, 0.080)
BOUNCE_SHRINK: Final = (0.5, 0.75)
LAST_BOUNCE_S: Final = 0.150
BOUNCE_DB: Final = (-18.0, -14.0)
BOUNCE_FALL_DB: Final = (1.5, 3.5)
BOUNCE_FLOOR_DB: Final = -25.0
BOUNCE_TILT_DB: Final = -1.5
MOST_BOUNCES: Final = 5

#: Contact noise: band in Hz, decay in s, r.m.s. at its loudest relative to the bell's partials in that
#: band, rise and length in s.
NOISE_BAND_HZ: Final = (1500.0, 9000.0)
NOISE_DECAY_S: Final = (0.002, 0.006)
NOISE_SHARE: Final = 0.4
NOISE_RISE_S: Final = 0.0004
NOISE_LENGTH_S: Final = 0.03


@dataclass(frozen=True, slots=True)
class Contacts:
    """Every contact of one bell's clapper, bounces included, in no particular order.

    Parameters
    ----------
    time_s : ndarray of float64, shape (C,)
        When.
    is_hand : ndarray of bool, shape (C,)
        On which side.
    level_db : ndarray of float64, shape (C,)
        How loud, relative to an average blow.
    tilt_db : ndarray of float64, shape (C,)
        How much brighter, in dB an octave above the nominal.
    """

    time_s: NDArray[np.float64]
    is_hand: NDArray[np.bool_]
    level_db: NDArray[np.float64]
    tilt_db: NDArray[np.float64]

    def at(self, which: NDArray[np.intp]) -> "Contacts":
        """Contacts of the indices given."""
        return Contacts(self.time_s[which], self.is_hand[which], self.level_db[which], self.tilt_db[which])


def contacts(times_s: NDArray[np.float64], is_hand: NDArray[np.bool_], rng: np.random.Generator) -> Contacts:
    """Contacts of a clapper whose blows fall at the given times.

    Parameters
    ----------
    times_s : ndarray of float64, shape (B,)
        The blows.
    is_hand : ndarray of bool, shape (B,)
        Their strokes.
    rng : numpy.random.Generator
        What chance is drawn from.

    Returns
    -------
    Contacts
        The B blows first, then their bounces.
    """
    count = len(times_s)
    level = rng.normal(0, LEVEL_SD_DB, count)
    tilt = TILT_PER_DB * level + rng.normal(0, TILT_SD_DB, count)
    wait = rng.uniform(*FIRST_BOUNCE_S, count)
    after, bounce_db = wait.copy(), rng.uniform(*BOUNCE_DB, count)
    times, hands, levels, tilts = [times_s], [is_hand], [level], [tilt]
    for _ in range(MOST_BOUNCES):
        bounced = (after <= LAST_BOUNCE_S) & (bounce_db >= BOUNCE_FLOOR_DB)
        times.append((times_s + after)[bounced])
        hands.append(is_hand[bounced])
        levels.append((level + bounce_db)[bounced])
        tilts.append((tilt + BOUNCE_TILT_DB)[bounced])
        wait = wait * rng.uniform(*BOUNCE_SHRINK, count)
        after, bounce_db = after + wait, bounce_db - rng.uniform(*BOUNCE_FALL_DB, count)
    return Contacts(np.concatenate(times), np.concatenate(hands), np.concatenate(levels), np.concatenate(tilts))


def weights(
    blows: Contacts, octaves: NDArray[np.float64], turns: NDArray[np.float64], rng: np.random.Generator
) -> NDArray[np.complex64]:
    """Complex weight of each partial in each contact.

    Parameters
    ----------
    blows : Contacts
        The C contacts.
    octaves : ndarray of float64, shape (P,)
        Where each partial lies above the nominal.
    turns : ndarray of float64, shape (C, P)
        Phase by which the contact lies before its sample, in cycles of each partial.
    rng : numpy.random.Generator
        What chance is drawn from.

    Returns
    -------
    ndarray of complex64, shape (C, P)
        ``10 ** (dB / 20) * exp(i angle)``.
    """
    shape = turns.shape
    db = blows.level_db[:, None] + blows.tilt_db[:, None] * octaves + rng.normal(0, PARTIAL_SD_DB, shape)
    angle = 2 * np.pi * turns + rng.normal(0, PHASE_SD, shape)
    return np.asarray(10 ** (db / 20) * np.exp(1j * angle), np.complex64)


def contact_noise(blows: Contacts, bell: Bell, rate: int, rng: np.random.Generator) -> NDArray[np.float32]:
    """Noise of metal on metal, fresh for every contact.

    Parameters
    ----------
    blows : Contacts
        The C contacts.
    bell : Bell
        Whose: a dull bell has a dull contact.
    rate : int
        Samples a second.
    rng : numpy.random.Generator
        What chance is drawn from.

    Returns
    -------
    ndarray of float32, shape (C, N)
        Starts at the contact and dies away in milliseconds.
    """
    count, length, settled = len(blows.time_s), int(NOISE_LENGTH_S * rate), 256
    band = butter(2, (NOISE_BAND_HZ[0], min(NOISE_BAND_HZ[1], 0.45 * rate)), "bandpass", fs=rate, output="sos")
    raw = sosfilt(band, rng.standard_normal((count, settled + length)), axis=1)[:, settled:]
    raw /= raw.std(axis=1, keepdims=True)
    decay_s = rng.uniform(*NOISE_DECAY_S, (count, 1))
    inside = (bell.hz >= NOISE_BAND_HZ[0]) & (bell.hz <= NOISE_BAND_HZ[1])
    partials = np.sqrt((10 ** (bell.level_db[:, inside] / 10)).sum(axis=1) / 2)
    loud = NOISE_SHARE * partials[blows.is_hand.astype(int)] * 10 ** ((blows.level_db + blows.tilt_db) / 20)
    after_s = np.arange(length) / rate
    swell = np.sin(np.pi / 2 * np.minimum(1, after_s / NOISE_RISE_S)) ** 2
    return np.asarray(loud[:, None] * raw * swell * np.exp(-after_s / decay_s), np.float32)
