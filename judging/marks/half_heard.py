"""AT WHAT SIZE HALF IS HEARD: a psychometric curve through what a listener heard and missed, and how sure it is.

The share heard of faults of size x is ``guess + (1 - guess - lapse) F(x)`` with the logistic curve
``F(x) = 1 / (1 + exp(-(ln x - ln half) / spread))``: a luck that the false alarms show, and a lapse now and then
however large the fault is. ``half`` and ``spread`` are those of the greatest likelihood under two weak priors, found
on a grid; the interval of ``half`` is that of its profile likelihood (a fall of 1.92, which is 95 % of chi-squared
with one degree of freedom; textbook statistics).
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from judging.errors import InputError

#: A fault of any size is missed so often, for a sneeze or a thought. Held fixed: two dozen faults cannot show it.
#: Psychometric practice has it between 0 and 6 per cent; value from memory.
LAPSE: Final = 0.03

#: Weak priors, normal on the log scale: half are heard at about 45 ms, a quarter of that and four times that being one
#: standard deviation away; the curve rises over about 0.4 of its size, give or take a factor of two. Ours.
HALF_PRIOR: Final = (float(np.log(45.0)), float(np.log(4.0)))
SPREAD_PRIOR: Final = (float(np.log(0.4)), 0.7)

#: One displaced sound in an even sequence is just noticed at 6 ms where sounds follow by less than 240 ms, and at
#: 2.5 per cent of the gap where they follow more slowly (Friberg and Sundberg 1995).
FLOOR_MS: Final = 6.0
FLOOR_SHARE: Final = 0.025
FLOOR_FROM_S: Final = 0.24

#: Nobody is told more than this; it is far beyond the largest fault, so that an open end shows as one.
MOST_MS: Final = 600.0

#: Half of the 95th percentile of chi-squared with one degree of freedom.
_FALL: Final = 1.9207

#: Of fewer faults nothing is said.
FEWEST: Final = 8

#: With as much luck as this, hearing cannot be told from tapping.
MOST_GUESS: Final = 0.5

#: An interval whose ends lie farther apart than this, as a factor, says next to nothing.
WIDEST: Final = 6.0

#: Points of the grid: half a step of the first is 0.4 per cent; with fewer of the second the first is found worse.
_HALVES, _SPREADS = 600, 160


@dataclass(frozen=True, slots=True)
class Heard:
    """One fault of a known size.

    Parameters
    ----------
    late_ms : float
        How late it was; negative is early.
    was_heard : bool
        Whether the listener noted it.
    """

    late_ms: float
    was_heard: bool


@dataclass(frozen=True, slots=True)
class HalfHeard:
    """The size at which half are heard.

    Parameters
    ----------
    half_ms : float
        Luck and lapses apart.
    low_ms, high_ms : float
        Its interval of 95 per cent; as far as `floor_ms` or `MOST_MS` where it has no end.
    spread : float
        Of the curve, on the scale of ln(size).
    guess : float
        Share that is heard by luck.
    floor_ms : float
        The published floor of hearing at this pace; nothing below it is ever claimed.
    """

    half_ms: float
    low_ms: float
    high_ms: float
    spread: float
    guess: float
    floor_ms: float

    @property
    def is_open_below(self) -> bool:
        """Whether the interval reaches down to the floor."""
        return self.low_ms < 1.001 * self.floor_ms

    @property
    def is_open_above(self) -> bool:
        """Whether the interval has no upper end."""
        return self.high_ms > 0.999 * MOST_MS

    def share_heard(self, size_ms: NDArray[np.float64]) -> NDArray[np.float64]:
        """Share that the curve says is heard, by size; same shape."""
        return share_heard(size_ms, np.log(self.half_ms), self.spread, self.guess)


def floor_ms(gap_s: float) -> float:
    """Published floor of hearing one displaced blow, in ms, at a gap between blows in seconds."""
    return FLOOR_MS if gap_s < FLOOR_FROM_S else max(FLOOR_MS, 1000 * FLOOR_SHARE * gap_s)


def share_heard(
    size_ms: NDArray[np.float64],
    log_half: NDArray[np.float64] | float,
    spread: NDArray[np.float64] | float,
    guess: float,
) -> NDArray[np.float64]:
    """The curve; `log_half` and `spread` broadcast against the sizes."""
    risen: NDArray[np.float64] = 0.5 * (1 + np.tanh((np.log(size_ms) - log_half) / (2 * spread)))
    return guess + (1 - guess - LAPSE) * risen


def log_likelihood(
    heard: Sequence[Heard],
    log_half: NDArray[np.float64] | float,
    spread: NDArray[np.float64] | float,
    guess: float,
) -> NDArray[np.float64]:
    """Logarithm of likelihood times priors, less a constant; the shape that `log_half` and `spread` broadcast to."""
    total = -0.5 * np.square((log_half - HALF_PRIOR[0]) / HALF_PRIOR[1])
    total = total - 0.5 * np.square((np.log(spread) - SPREAD_PRIOR[0]) / SPREAD_PRIOR[1])
    for one in heard:
        share = share_heard(np.array(abs(one.late_ms)), log_half, spread, guess)
        total = total + np.log(share if one.was_heard else 1 - share)
    return np.asarray(total, dtype=np.float64)


def half_heard(heard: Sequence[Heard], *, guess: float, floor_ms: float) -> HalfHeard:
    """Find the size at which half are heard.

    Parameters
    ----------
    heard : sequence of Heard
        Of one way, early or late; only their sizes are looked at.
    guess : float
        Share that is heard by luck, from 0 to `MOST_GUESS`.
    floor_ms : float
        From `floor_ms`.

    Returns
    -------
    HalfHeard
        At the floor where everything was heard, and open where the answers set no end.

    Raises
    ------
    InputError
        Too few faults, or too many false alarms, to tell.
    """
    if len(heard) < FEWEST:
        raise InputError("", f"too few to tell: {len(heard)} faults, and at least {FEWEST} are needed")
    if guess > MOST_GUESS:
        raise InputError(
            "", f"too many taps where nothing was to be heard: {100 * guess:.0f} % would be found by luck alone"
        )
    log_half = np.linspace(np.log(floor_ms), np.log(MOST_MS), _HALVES)
    spread = np.geomspace(0.05, 2.0, _SPREADS)
    surface = log_likelihood(heard, log_half[:, None], spread[None, :], guess)
    profile = surface.max(axis=1)
    best = int(profile.argmax())
    low, high = _within(log_half, profile - (profile[best] - _FALL))
    return HalfHeard(
        half_ms=float(np.exp(log_half[best])),
        low_ms=low,
        high_ms=high,
        spread=float(spread[surface[best].argmax()]),
        guess=guess,
        floor_ms=floor_ms,
    )


def _within(log_half: NDArray[np.float64], above: NDArray[np.float64]) -> tuple[float, float]:
    """First and last size at which the profile is above the line, read between the points of the grid."""
    inside = np.flatnonzero(above >= 0)
    ends = []
    for end, beyond in ((inside[0], inside[0] - 1), (inside[-1], inside[-1] + 1)):
        at = log_half[end]
        if 0 <= beyond < len(log_half):
            at += (log_half[beyond] - at) * above[end] / (above[end] - above[beyond])
        ends.append(float(np.exp(at)))
    return ends[0], ends[1]


def of_way(heard: Iterable[Heard], *, late: bool) -> tuple[Heard, ...]:
    """Those that were late, or those that were early."""
    return tuple(one for one in heard if (one.late_ms > 0) == late)


def half_in_words(heard: Sequence[Heard], found: HalfHeard, way: str) -> str:
    """What is to be said of one way.

    Parameters
    ----------
    heard : sequence of Heard
        Of that way.
    found : HalfHeard
        From them.
    way : {"early", "late"}
        Its name.

    Returns
    -------
    str
        Sentences; no more is claimed than the interval allows.
    """
    noted = sum(one.was_heard for one in heard)
    said = f"You noted {noted} of the {len(heard)} {way} blows"
    smallest = min(abs(one.late_ms) for one in heard)
    largest = max(abs(one.late_ms) for one in heard)
    if found.is_open_below and found.is_open_above:
        return f"{said}. That is too few to tell at what size you hear half of them."
    if found.is_open_above or found.low_ms >= largest:
        return (
            f"{said}. You would hear half of them somewhere above {found.low_ms:.0f} ms; "
            f"the largest here was {largest:.0f} ms."
        )
    if found.is_open_below or found.high_ms <= smallest:
        return (
            f"{said}. You hear half of them at {found.high_ms:.0f} ms or less; how much less this test cannot tell, "
            f"since its smallest was {smallest:.0f} ms."
        )
    between = f"({found.low_ms:.0f} to {found.high_ms:.0f} ms)"
    if found.high_ms > WIDEST * found.low_ms:
        return f"{said}. That is too few to tell at what size you hear half of them {between}; a longer test says more."
    return f"You heard half of the {way} blows at {found.half_ms:.0f} ms {between}: {noted} of {len(heard)} noted."
