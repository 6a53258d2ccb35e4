"""Strike log → recording: every blow sounded at its time, in a room, with noise, at a safe level.

The sound is added up in a scratch file as long as the recording, in 32-bit floats, so that memory stays within the
tables of one bell however long the ringing is. All the blows of a bell are added before the next bell's, in a fixed
order: the same log, bells, room, noise and seed give the same bytes.

A blow at time t puts the first arrival of its direct sound at t, to the nearest sample, with the phase of every
partial right to a fraction of a sample.
"""

import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Final

import numpy as np
import soundfile
from numpy.typing import NDArray

from judging.errors import InputError
from judging.sounding.bells import RingOfBells
from judging.sounding.chance import chance
from judging.sounding.mixing import BLOCK, reverberate, sound_bell
from judging.sounding.noise import QUIET, Noise, add_noise
from judging.sounding.rooms import ROOMS, Room, diffuse_tail, early_reflections
from judging.striking.strike_log import StrikeLog

Progress = Callable[[float, str], None]

#: Samples a second, unless asked otherwise.
RATE: Final = 44_100

#: Highest peak of a finished recording: 3 dB under full scale.
PEAK: Final = 10 ** (-3 / 20)

#: Noise alone before the first blow, s (drawn), and sound after the last, s.
LEAD_IN_S: Final = (1.0, 3.0)
TAIL_S: Final = 4.0

#: Sound after the last blow that still counts as ringing when noise is set against it, s.
LAST_BLOW_S: Final = 0.5

#: Longest ringing sounded, s: a peal takes three to four hours.
LONGEST_S: Final = 6 * 3600.0

#: Container and sample format by suffix.
FORMATS: Final = {".wav": ("WAV", "PCM_16"), ".flac": ("FLAC", "PCM_16")}


def ring(
    log: StrikeLog,
    bells: RingOfBells,
    room: Room = ROOMS["dry"],
    noise: Noise = QUIET,
    *,
    seed: int,
    rate: int = RATE,
    is_hand: NDArray[np.bool_] | None = None,
    lead_in_s: float | None = None,
    loudness: float | None = None,
) -> tuple[NDArray[np.float32], StrikeLog]:
    """Sound of a log, in memory.

    Parameters
    ----------
    log : StrikeLog
        What to ring; blows of an unknown bell (0) are left out.
    bells : RingOfBells
        What to ring it on.
    room, noise : Room, Noise
        Where it is heard.
    seed : int
        Of everything left to chance.
    rate : int
        Samples a second, 8000 to 192,000.
    is_hand : ndarray of bool, shape (N,), optional
        Stroke of each blow of the log; by default each bell's blows are hand, back, hand, ...
    lead_in_s : float, optional
        Time before the first blow; by default drawn, 1 to 3 s.
    loudness : float, optional
        R.m.s. of the ringing from its first blow on that is not passed, where full scale is 1: what it is heard
        beside, by `loudness_of`. By default as loud as the peak allows.

    Returns
    -------
    samples : ndarray of float32, shape (S,)
        Peak 3 dB under full scale, or lower.
    log : StrikeLog
        The blows sounded, on the recording's clock: exact times of first arrival.

    Raises
    ------
    InputError
        For a log that cannot be rung on these bells.
    """
    log, is_hand = _on_the_recording(log, bells, is_hand=is_hand, seed=seed, lead_in_s=lead_in_s, rate=rate)
    track = np.zeros(_length(log, rate), np.float32)
    _fill(track, log=log, is_hand=is_hand, bells=bells, room=room, noise=noise, seed=seed, rate=rate, told=_silent)
    _level(track, log, rate, loudness)
    return track, log


def ring_to_file(
    path: Path,
    log: StrikeLog,
    *,
    bells: RingOfBells,
    seed: int,
    room: Room = ROOMS["dry"],
    noise: Noise = QUIET,
    rate: int = RATE,
    is_hand: NDArray[np.bool_] | None = None,
    lead_in_s: float | None = None,
    loudness: float | None = None,
    progress: Progress | None = None,
) -> StrikeLog:
    """Write the sound of a log as a WAV or FLAC file, 16 bit, mono.

    Parameters
    ----------
    path : Path
        Where; its suffix, .wav or .flac, says the format. An existing file is replaced when the new one is whole.
    progress : callable, optional
        Told the share done (0 to 1) and what is being done.
    log, bells, seed, room, noise, rate, is_hand, lead_in_s, loudness
        As in `ring`.

    Returns
    -------
    StrikeLog
        The blows sounded, on the recording's clock: exact times of first arrival.

    Raises
    ------
    InputError
        For a log that cannot be rung on these bells, or a file that cannot be written.
    """
    _format_of(path)
    told = progress or _silent
    log, is_hand = _on_the_recording(log, bells, is_hand=is_hand, seed=seed, lead_in_s=lead_in_s, rate=rate)
    length = _length(log, rate)
    with tempfile.TemporaryFile() as scratch:
        scratch.truncate(4 * length)
        track = np.memmap(scratch, np.float32, "r+", shape=(length,))
        _fill(track, log=log, is_hand=is_hand, bells=bells, room=room, noise=noise, seed=seed, rate=rate, told=told)
        _level(track, log, rate, loudness)
        told(0.9, "writing the file")
        write_wav(path, track, rate)
    told(1.0, "done")
    return log


def write_wav(path: Path, samples: NDArray[np.float32], rate: int) -> None:
    """Write samples as 16-bit mono WAV or FLAC, in blocks, whole or not at all.

    Parameters
    ----------
    path : Path
        Where; the suffix, .wav or .flac, says the format.
    samples : ndarray of float32, shape (S,)
        Full scale is 1; anything beyond it is cut off.
    rate : int
        Samples a second.

    Raises
    ------
    InputError
        For a suffix that is not written here, or a folder that is not there.
    """
    container, subtype = _format_of(path)
    partial = path.with_name(path.name + ".part")
    try:
        with soundfile.SoundFile(partial, "w", rate, 1, subtype, format=container) as out:
            for start in range(0, len(samples), BLOCK):
                out.write(np.rint(np.clip(samples[start : start + BLOCK], -1, 1) * 32_767).astype(np.int16))
        partial.replace(path)
    finally:
        partial.unlink(missing_ok=True)


def _format_of(path: Path) -> tuple[str, str]:
    """Return container and sample format of a file that can be written."""
    if path.suffix.lower() not in FORMATS:
        raise InputError(path.name, f"{path.suffix or 'no suffix'!r} is not written; use .wav or .flac")
    if not path.parent.is_dir():
        raise InputError(str(path), "its folder is not there")
    return FORMATS[path.suffix.lower()]


def _silent(_share: float, _what: str) -> None:
    """Tell nobody."""


def _on_the_recording(
    log: StrikeLog,
    bells: RingOfBells,
    *,
    is_hand: NDArray[np.bool_] | None,
    seed: int,
    lead_in_s: float | None,
    rate: int,
) -> tuple[StrikeLog, NDArray[np.bool_]]:
    """Log of the known bells on the recording's clock, with the stroke of each blow."""
    if not 8000 <= rate <= 192_000:
        raise InputError("rate", f"{rate} samples a second is not between 8000 and 192000")
    if is_hand is not None and len(is_hand) != len(log):
        raise InputError("is_hand", f"{len(is_hand)} strokes were given for {len(log)} blows")
    where = log.source or "strike log"
    known = log.bells != 0
    times_s, numbers = log.times_s[known], log.bells[known]
    if not len(times_s):
        raise InputError(where, "holds no blow of a known bell, so there is nothing to ring")
    if not np.isfinite(times_s).all():
        raise InputError(where, "a time is not a number")
    if numbers.min() < 1 or numbers.max() > len(bells):
        wrong = int(numbers[(numbers < 1) | (numbers > len(bells))][0])
        raise InputError(where, f"bell {wrong} is struck, but the ring has {len(bells)} bells")
    if np.ptp(times_s) > LONGEST_S:
        raise InputError(
            where,
            f"lasts {np.ptp(times_s) / 3600:.1f} hours, the limit is {LONGEST_S / 3600:g}; are the times in seconds?",
        )
    if lead_in_s is None:
        lead_in_s = float(chance(seed, "lead-in").uniform(*LEAD_IN_S))
    if is_hand is None:
        hand = np.zeros(len(times_s), bool)
        for number in np.unique(numbers):
            own = np.flatnonzero(numbers == number)
            hand[own[np.argsort(times_s[own], kind="stable")]] = np.arange(len(own)) % 2 == 0
    else:
        hand = is_hand[known]
    sounded = StrikeLog(times_s - times_s.min() + lead_in_s, numbers.copy(), np.zeros(len(times_s)), where)
    return sounded, hand


def _length(log: StrikeLog, rate: int) -> int:
    """Return the number of samples of the whole recording."""
    return int((log.times_s.max() + TAIL_S) * rate)


def _fill(
    track: NDArray[np.float32],
    *,
    log: StrikeLog,
    is_hand: NDArray[np.bool_],
    bells: RingOfBells,
    room: Room,
    noise: Noise,
    seed: int,
    rate: int,
    told: Progress,
) -> None:
    """Put ringing and noise together on an empty track."""
    for bell in bells.bells:
        told(0.7 * (bell.number - 1) / len(bells), f"ringing bell {bell.number}")
        own = log.bells == bell.number
        if own.any():
            sound_bell(
                track,
                bell,
                times_s=log.times_s[own],
                is_hand=is_hand[own],
                reflections=early_reflections(room, rate, chance(seed, "reflections", bell.number)),
                rate=rate,
                rng=chance(seed, "blows", bell.number),
            )
    told(0.7, "letting the room sound")
    reverberate(track, diffuse_tail(room, rate, chance(seed, "room")))
    told(0.8, "adding noise")
    span = slice(int(log.times_s.min() * rate), int((log.times_s.max() + LAST_BLOW_S) * rate))
    add_noise(track, span, noise, rate=rate, seed=seed)


def loudness_of(samples: NDArray[np.float32], rate: int, log: StrikeLog) -> float:
    """R.m.s. of ringing from its first blow to just after its last.

    Parameters
    ----------
    samples : ndarray of float32, shape (S,)
        A recording, full scale 1.
    rate : int
        Samples a second.
    log : StrikeLog
        Its blows, on the recording's clock.

    Returns
    -------
    float
        0 to 1.
    """
    begin = max(0, int(float(log.times_s.min()) * rate))
    end = min(len(samples), int((float(log.times_s.max()) + LAST_BLOW_S) * rate))
    energy = sum(
        float(np.square(samples[at : min(at + BLOCK, end)], dtype=np.float64).sum()) for at in range(begin, end, BLOCK)
    )
    return float(np.sqrt(energy / max(end - begin, 1)))


def _level(track: NDArray[np.float32], log: StrikeLog, rate: int, loudness: float | None) -> None:
    """Bring a track to the level of a finished recording: as loud as its peak allows, and no louder than asked."""
    gain = PEAK / max(float(np.abs(track[start : start + BLOCK]).max()) for start in range(0, len(track), BLOCK))
    if loudness is not None:
        gain = min(gain, loudness / loudness_of(track, rate, log))
    for start in range(0, len(track), BLOCK):
        track[start : start + BLOCK] *= np.float32(gain)
