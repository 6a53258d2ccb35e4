"""A ring of bells that never hung anywhere: pitches, partials, decays and strokes, all drawn from one seed.

What goes in is a number of bells, a pitch for the tenor and a seed; what comes out says, for each bell, which partials
sound, how loud, how long, and what differs between handstroke and backstroke. Nothing here makes sound.

Ratios are to the *nominal*; the strike note is an octave below it (Hibbert, "The Quantification of Strike Pitch and
Pitch Shifts in Church Bells", 2008). The rim partials above it are drawn together from one number a bell, as Hibbert,
Taherzadeh and Sharp (2014) found them tied; hum, prime and tierce are drawn freely, as in rings tuned before 1900.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from judging.errors import InputError
from judging.sounding.chance import chance

#: Semitones of the major scale above the tenor; a ring of bells is a run of it down to the tenor.
MAJOR_SCALE = (0, 2, 4, 5, 7, 9, 11)

#: Name, lowest and highest ratio to the nominal, level at 60 ms in dB, its spread from bell to bell in dB, T60 in s.
#: Hum to quint: old-style rings, free of one another (sizes of the deviations from memory). T60: near the medians
#: measured on 33 carillon bells. Levels: their low partials less 4 to 8 dB, and an upper series falling 3 to 4 dB
#: a partial, which is what heavier, harder swinging clappers give (energy above 2 kHz 3 to 10 dB under the whole,
#: measured on 61 bells struck hard).
LOW_PARTIALS = (
    ("hum", 0.235, 0.285, -7.0, 4.0, 6.7),
    ("prime", 0.460, 0.530, -6.0, 4.0, 6.2),
    ("tierce", 0.585, 0.620, 0.0, 4.0, 5.3),
    ("quint", 0.746, 0.756, -22.0, 5.0, 4.0),
)

#: Rim partials (m, 1), tied by one stretch a bell. To the ninth: quartiles measured on 33 carillon bells, whose
#: medians lie a little under the published typical bell (Perrin, Charnley and dePont 1983: 1.506, 2.083, 2.717, 3.398,
#: 4.108); above: continued with the same growing steps (ours).
RIM_PARTIALS = (
    ("superquint", 1.483, 1.501, -3.5, 2.0, 2.9),
    ("octave nominal", 2.027, 2.076, -6.0, 2.0, 2.1),
    ("rim 7", 2.620, 2.710, -9.0, 2.5, 2.0),
    ("rim 8", 3.280, 3.380, -12.0, 3.0, 1.7),
    ("rim 9", 3.970, 4.090, -16.0, 3.0, 1.4),
    ("rim 10", 4.690, 4.830, -20.0, 3.0, 1.1),
    ("rim 11", 5.430, 5.600, -24.0, 3.0, 0.9),
    ("rim 12", 6.190, 6.390, -28.0, 3.0, 0.75),
    ("rim 13", 6.970, 7.200, -32.0, 3.0, 0.6),
)

#: Nominal of a bell that sounds as long as the tables say (the bells they were measured on are small), Hz.
USUAL_NOMINAL_HZ = 1500.0

#: Level of an average bell 60 ms after the blow, all partials together, relative to an average nominal: the sum of the
#: levels in the tables, about.
LOUD_DB = 5.0

#: How much louder one bell of a ring is than another: standard deviation in dB (ours).
LOUDNESS_SD_DB = 1.5

#: Short, weak modes of other families between the rim partials, the "clank" of a blow (number and levels ours).
OTHER_MODES = 6

#: Slowest and fastest beat of the two halves of a partial, Hz, and where most lie (27 carillon bells, measured).
WARBLE_HZ = (0.4, 4.0)
WARBLE_MEDIAN_HZ = {"hum": 0.95, "prime": 1.43, "tierce": 1.23, "nominal": 3.3}

#: Nominal of the tenor when nobody asks for one: lighter rings have fewer bells (round figures of ours), Hz.
USUAL_TENOR_HZ = {6: 940.0, 8: 780.0, 10: 660.0, 16: 590.0}


@dataclass(frozen=True, slots=True)
class Bell:
    """One bell as it sounds: arrays are over its P partials, and over stroke (0 back, 1 hand) where they have two rows.

    Parameters
    ----------
    number : int
        1 = treble.
    nominal_hz : float
        Frequency of the nominal.
    names : tuple of str
        Of the partials, lowest first.
    hz : ndarray of float64, shape (P,)
        Frequency of the louder of the two halves of each partial.
    t60_s : ndarray of float64, shape (P,)
        Time to fall 60 dB.
    level_db : ndarray of float64, shape (2, P)
        Level 60 ms after the blow, relative to an average nominal.
    phase : ndarray of float64, shape (2, P)
        Phase at the blow, radians.
    warble_hz : ndarray of float64, shape (P,)
        How much higher the softer half lies: the rate of their beat.
    warble_share : ndarray of float64, shape (2, P)
        Share of the amplitude in the louder half.
    contact_s : float
        How long the clapper pushes; of the order of 1 ms (from memory).
    doppler : float
        Relative shift at the blow: raised at handstroke, lowered at backstroke.
    settle_s : float
        Time in which the shift has died away (to 5 %).
    swing_db : float
        How far the upper partials dip as the mouth turns away.
    swing_hz : float
        How often.
    """

    number: int
    nominal_hz: float
    names: tuple[str, ...]
    hz: NDArray[np.float64]
    t60_s: NDArray[np.float64]
    level_db: NDArray[np.float64]
    phase: NDArray[np.float64]
    warble_hz: NDArray[np.float64]
    warble_share: NDArray[np.float64]
    contact_s: float
    doppler: float
    settle_s: float
    swing_db: float
    swing_hz: float

    def __post_init__(self) -> None:
        """Make the arrays read-only."""
        for array in (self.hz, self.t60_s, self.level_db, self.phase, self.warble_hz, self.warble_share):
            array.setflags(write=False)


@dataclass(frozen=True, slots=True)
class RingOfBells:
    """Bells that hang together, treble first.

    Parameters
    ----------
    bells : tuple of Bell
        In order of number.
    seed : int
        What they were drawn from.
    """

    bells: tuple[Bell, ...]
    seed: int

    def __len__(self) -> int:
        """Return the number of bells."""
        return len(self.bells)


def ring_of_bells(n: int, *, seed: int, tenor_nominal_hz: float | None = None) -> RingOfBells:
    """Made-up ring of n bells in a major scale, old-style: nominals in tune, low partials not.

    Parameters
    ----------
    n : int
        How many bells, 1 to 16.
    seed : int
        The same seed makes the same bells.
    tenor_nominal_hz : float, optional
        Frequency of the tenor's nominal, 200 to 2000 Hz; by default what is usual for so many bells.

    Returns
    -------
    RingOfBells
        Bell n has the asked nominal within 2 cents, the others the steps of the major scale above it, as near.

    Raises
    ------
    InputError
        For a number of bells, a pitch or a seed out of range.
    """
    if not 1 <= n <= 16:
        raise InputError("bells", f"{n} bells asked for, but a ring has 1 to 16")
    if tenor_nominal_hz is None:
        tenor_nominal_hz = next(hz for most, hz in USUAL_TENOR_HZ.items() if n <= most)
    if not 200.0 <= tenor_nominal_hz <= 2000.0:
        raise InputError(
            "tenor_nominal_hz",
            f"{tenor_nominal_hz:g} Hz is not between 200 and 2000 Hz; the nominal is twice the strike note",
        )
    steps = [12 * (j // 7) + MAJOR_SCALE[j % 7] for j in reversed(range(n))]
    return RingOfBells(
        tuple(
            _bell(number, tenor_nominal_hz * 2 ** (step / 12), chance(seed, "bell", number))
            for number, step in enumerate(steps, start=1)
        ),
        seed,
    )


def _bell(number: int, nominal_hz: float, rng: np.random.Generator) -> Bell:
    """One bell drawn around a nominal."""
    nominal_hz *= 2 ** (rng.uniform(-2, 2) / 1200)
    stretch = rng.uniform()
    table = [(name, rng.uniform(low, high), level, spread, t60) for name, low, high, level, spread, t60 in LOW_PARTIALS]
    table.append(("nominal", 1.0, 0.0, 1.0, 2.8))
    table += [
        (name, low + stretch * (high - low), level, spread, t60) for name, low, high, level, spread, t60 in RIM_PARTIALS
    ]
    table += [
        (f"other {i + 1}", ratio, -14 - 4 * np.log2(ratio), 4.0, rng.uniform(0.15, 0.5))
        for i, ratio in enumerate(rng.uniform(1.2, 7.5, OTHER_MODES))
    ]
    table = sorted((row for row in table if row[1] * nominal_hz < 15_000), key=lambda row: row[1])
    names = tuple(row[0] for row in table)
    ratio, level_db, spread_db, t60_s = (np.array(column, float) for column in list(zip(*table, strict=True))[1:])
    count = len(names)
    level_db += rng.normal(0, 1, count) * spread_db
    level_db += LOUD_DB + rng.normal(0, LOUDNESS_SD_DB) - 10 * np.log10((10 ** (level_db / 10)).sum())
    size = np.clip((USUAL_NOMINAL_HZ / nominal_hz) ** 0.6, 0.6, 2.0)  # large bells sound longer
    warble = np.array([WARBLE_MEDIAN_HZ.get(name, 2.0) for name in names])
    return Bell(
        number=number,
        nominal_hz=nominal_hz,
        names=names,
        hz=nominal_hz * ratio,
        t60_s=t60_s * size * np.exp(rng.normal(0, 0.1, count)),
        level_db=level_db + rng.normal(0, 1.5, (2, count)),
        phase=rng.uniform(0, 2 * np.pi, (2, count)),
        warble_hz=np.clip(warble * np.exp(rng.normal(0, 0.4, count)), *WARBLE_HZ),
        warble_share=rng.uniform(0.55, 0.9, (2, count)),
        contact_s=rng.uniform(0.8e-3, 1.5e-3),
        doppler=rng.uniform(0.006, 0.012),
        settle_s=rng.uniform(0.4, 0.8),
        swing_db=rng.uniform(3, 6),
        swing_hz=rng.uniform(1, 2),
    )
