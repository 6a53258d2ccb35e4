"""Recording of a band and its strike log → the tower's own bells, as far as the recording tells of them.

`overlapping` finds where each bell has its energy, `partials` and `decaying` what each partial does, `nominals` which
of them names the bell; here all is put together to bells that can be rung like made-up ones. What a microphone heard of
the room is part of them: they are to be rung in a dry room.

Example: eight bells, two minutes of a touch. The seventh was struck some seventy times, never alone; its tierce still
comes out within a few hundredths of a semitone, and its sounding within a fifth.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, sosfiltfilt

from judging.errors import InputError
from judging.sounding.bells import Bell, RingOfBells
from judging.sounding.chance import chance
from judging.sounding.nominals import find_nominals
from judging.sounding.overlapping import picture_of
from judging.sounding.partials import FEWEST_BLOWS, Partial, distinct, partials_in
from judging.striking.strike_log import StrikeLog

#: Window in seconds, lowest and highest Hz: low partials lie close and sound long, high ones are far apart and short.
RESOLUTIONS: Final = ((0.372, 100.0, 800.0), (0.186, 800.0, 2400.0), (0.093, 2400.0, 10_000.0))

#: Three minutes of ringing teach all that can be learnt.
MOST_S: Final = 180.0

#: Lowest rate that holds the partials which make a bell bright.
LOWEST_RATE: Final = 16_000

#: A bell of fewer partials is not known.
_FEWEST_PARTIALS: Final = 4

#: Share of the shift at the blow that is left on average while it is measured, for bells that settle in half a second.
_SHIFT_LEFT: Final = 0.5
_MOST_DOPPLER: Final = 0.015

#: Shortest and longest push of a clapper, s; share of it that lies between a tenth and six tenths of the rise.
_CONTACT_S: Final = (0.5e-3, 15e-3)
_RISE_SHARE: Final = 0.36

#: Not told by a recording: how soon a bell swings less. The dip of a turning mouth is in the decays already.
_SETTLE_S: Final = 0.6


def bells_of_recording(samples: NDArray[np.float32], rate: int, log: StrikeLog, bells: int) -> RingOfBells:
    """Bells of a tower, measured from a touch rung on them.

    Parameters
    ----------
    samples : ndarray of float32, shape (S,)
        The recording, mono.
    rate : int
        Samples a second, at least 16,000.
    log : StrikeLog
        When each bell was struck, on the recording's clock.
    bells : int
        How many there are.

    Returns
    -------
    RingOfBells
        Partials up to 10 kHz with their levels and decays, hand and back apart; levels are relative to each other.

    Raises
    ------
    InputError
        A bell was struck too rarely, or cannot be told from the others or from the noise.
    """
    where = log.source or "strike log"
    if rate < LOWEST_RATE:
        raise InputError("rate", f"{rate:,} samples a second hold too little of a bell; at least {LOWEST_RATE:,} do")
    samples, blows_s = _used(samples, rate, log, bells)
    for bell, own_s in enumerate(blows_s, 1):
        if len(own_s) < FEWEST_BLOWS:
            raise InputError(
                where,
                f"bell {bell} was struck {len(own_s)} times in what was recorded; a bell is measured from "
                f"{FEWEST_BLOWS} blows or more",
            )
    found: list[list[Partial]] = [[] for _ in range(bells)]
    for window_s, low, high in RESOLUTIONS:
        window = 8 * round(window_s * rate / 8)
        picture = picture_of(samples, rate, window=window, from_hz=low, to_hz=min(high, 0.45 * rate))
        for own, more in zip(found, partials_in(picture, blows_s, from_hz=low, to_hz=high), strict=True):
            own.extend(more)
    kept = [distinct(own) for own in found]
    for bell, own in enumerate(kept, 1):
        if len(own) < _FEWEST_PARTIALS:
            raise InputError(
                where,
                f"bell {bell} cannot be told apart well enough to be measured; there is too much noise or room in the "
                "recording, or the times are not its own",
            )
    nominals_hz = find_nominals([np.array([(p.hz, max(p.level_db)) for p in own]) for own in kept])
    loudest_db = max(max(p.level_db) for own in kept for p in own)
    return RingOfBells(
        tuple(
            _bell(number, own, nominal_hz, loudest_db=loudest_db, contact_s=_contact_s(samples, rate, own_s))
            for number, (own, nominal_hz, own_s) in enumerate(zip(kept, nominals_hz, blows_s, strict=True), 1)
        ),
        seed=0,
    )


def _used(
    samples: NDArray[np.float32], rate: int, log: StrikeLog, bells: int
) -> tuple[NDArray[np.float32], list[NDArray[np.float64]]]:
    """What is measured of a long recording, and the blows of each bell in it that are sure and sound on."""
    begin_s = max(0.0, float(log.times_s.min()) - 2.0) if len(log) else 0.0
    part = np.asarray(samples[int(begin_s * rate) : int((begin_s + MOST_S) * rate)], np.float32)
    times_s = log.times_s - begin_s
    inside = (times_s > 0.5) & (times_s < len(part) / rate - 2.0)
    return part, [np.unique(times_s[inside & (log.bells == bell)]) for bell in range(1, bells + 1)]


def _contact_s(samples: NDArray[np.float32], rate: int, blows_s: NDArray[np.float64]) -> float:
    """How long the clapper pushes: from how the sound above 1 kHz rises, mean over the blows."""
    before, after = int(0.02 * rate), int(0.04 * rate)
    sos = butter(2, (1000.0, min(9000.0, 0.45 * rate)), "bandpass", fs=rate, output="sos")
    first = np.rint(blows_s * rate).astype(int)
    cuts = np.stack([samples[at - 2 * before : at + after + before] for at in first if at >= 2 * before])
    power = (sosfiltfilt(sos, cuts, axis=1) ** 2).mean(axis=0)
    power = np.convolve(power, np.ones(max(1, rate // 2000)) * 2000 / rate, mode="same")[before : 3 * before + after]
    size = np.sqrt(np.maximum(power - power[:before].mean(), 0.0))
    top = size.max()
    high = int(np.argmax(size > 0.6 * top))
    low = high - int(np.argmax(size[high::-1] < 0.1 * top))
    return float(np.clip((high - low) / rate / _RISE_SHARE, *_CONTACT_S))


def _bell(number: int, own: list[Partial], nominal_hz: float, *, loudest_db: float, contact_s: float) -> Bell:
    """Bell of its partials."""
    nominal = int(np.argmin([abs(p.hz - nominal_hz) for p in own]))
    names = tuple("nominal" if i == nominal else f"partial {i + 1}" for i in range(len(own)))
    shifts = [p.shift for p in own if p.hz >= 0.9 * nominal_hz and max(p.level_db) > max(own[nominal].level_db) - 20]
    doppler = float(np.clip(np.median(shifts) / _SHIFT_LEFT, -_MOST_DOPPLER, _MOST_DOPPLER))
    share = np.array([p.decay.share for p in own])
    return Bell(
        number=number,
        nominal_hz=nominal_hz,
        names=names,
        hz=np.array([p.hz for p in own]),
        t60_s=np.array([p.decay.t60_s for p in own]),
        level_db=np.array([p.level_db for p in own]).T - loudest_db,
        phase=chance(0, "phase", number).uniform(0, 2 * np.pi, (2, len(own))),  # of no blow is it known
        warble_hz=np.array([p.decay.beat_hz for p in own]),
        warble_share=np.stack([share, share]),
        contact_s=contact_s,
        doppler=doppler,
        settle_s=_SETTLE_S,
        swing_db=0.0,
        swing_hz=1.0,
    )
