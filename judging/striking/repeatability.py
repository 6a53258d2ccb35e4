"""Two recorders of one touch: what they agree on, and so how well the machine repeats itself."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from statistics import median

import numpy as np
from numpy.typing import NDArray

from judging.errors import NothingHeard
from judging.figures import counted, figure
from judging.striking.values import Count

#: With fewer blows in common nothing is said.
_FEWEST = 24
#: A recording that begins later may have its rows numbered so many earlier or later, in whole pulls.
_SHIFTS = (0, -2, 2)
#: Beyond this (ms) two times are not of the same blow.
_SAME_MS = 50.0
#: Of one touch most times agree, and no recorder's clock is out by a thousandth (value from memory: quartz, 0.0001).
_MOST_AGREE, _FASTEST_CLOCK = 0.7, 1e-3


@dataclass(frozen=True, slots=True)
class Repeatability:
    """How two recordings of one touch differ.

    Parameters
    ----------
    blows : int
        Heard in both.
    apart : int
        Heard in both, but more than 50 ms apart: one of the two is wrong.
    only_one : int
        Heard in one and not in the other.
    blow_ms : float
        Standard error of one time, from the differences: their spread over the square root of two.
    bell_ms : ndarray of float64, shape (n,)
        How much later each bell is in the second recording than the bells are on average: it hangs nearer the first.
    clock_ppm : float
        How much faster the second recorder's clock runs, in millionths.
    faults : tuple of Decimal
        Count from each recording.
    """

    blows: int
    apart: int
    only_one: int
    blow_ms: float
    bell_ms: NDArray[np.float64]
    clock_ppm: float
    faults: tuple[Decimal, Decimal]

    def __post_init__(self) -> None:
        """Make the array read-only."""
        self.bell_ms.setflags(write=False)

    @property
    def document(self) -> dict[str, object]:
        """For a program."""
        return {
            "blows": self.blows,
            "apart": self.apart,
            "only_one": self.only_one,
            "blow_ms": round(self.blow_ms, 3),
            "bell_ms": np.round(self.bell_ms, 2).tolist(),
            "clock_ppm": round(self.clock_ppm, 2),
            "faults": [float(faults) for faults in self.faults],
        }

    @property
    def sentence(self) -> str:
        """For a person."""
        first, second = self.faults
        told = (
            f"Two recordings of the touch: {self.blows} blows were heard in both, and the machine places a blow to "
            f"{self.blow_ms:.1f} ms or better in two of three; {self.apart} of them are more than {_SAME_MS:.0f} ms "
            f"apart, {self.only_one} were heard in one only. It counts {counted(first, 'faults')} in the first and "
            f"{figure(second)} in the second."
        )
        farthest = int(np.abs(self.bell_ms).argmax())
        if abs(self.bell_ms[farthest]) >= 1:
            told += f" Bell {farthest + 1} differs most by where the recorders stood: {self.bell_ms[farthest]:+.1f} ms."
        return told


def repeatability(first: Count, second: Count) -> Repeatability:
    """Hold two recordings of one touch against each other, blow by blow.

    Clocks begin at different moments and one runs faster: a straight line through the differences, fitted by medians
    of the two halves, is taken out.

    Parameters
    ----------
    first, second : Count
        Of the same touch, heard by two recorders.

    Returns
    -------
    Repeatability

    Raises
    ------
    NothingHeard
        Where they have too little in common.
    """
    ways = [_differences(first, second, shift) for shift in _SHIFTS]
    times_s, late_s, bells, only_one = max(ways, key=lambda way: _agreement(way[1]))
    if len(late_s) < _FEWEST:
        raise NothingHeard("the two recordings", f"have {len(late_s)} blows in common; are they of the same touch?")
    half = np.median(times_s)
    early, later = times_s <= half, times_s > half
    slope = (np.median(late_s[later]) - np.median(late_s[early])) / (
        np.median(times_s[later]) - np.median(times_s[early])
    )
    ms = 1000 * (late_s - slope * times_s)
    ms -= np.median(ms)
    near = np.abs(ms) <= _SAME_MS
    if near.mean() < _MOST_AGREE or abs(slope) > _FASTEST_CLOCK:
        raise NothingHeard(
            "the two recordings", "do not agree on the times of their blows; are they of the same touch?"
        )
    bell_ms = np.zeros(first.rung.piece.bells)
    for bell in np.unique(bells[near]):
        bell_ms[bell - 1] = np.median(ms[near & (bells == bell)])
    own = ms[near] - bell_ms[bells[near] - 1]
    return Repeatability(
        blows=len(ms),
        apart=int((~near).sum()),
        only_one=only_one,
        blow_ms=float(1.4826 * np.median(np.abs(own)) / np.sqrt(2)),
        bell_ms=bell_ms - np.median(bell_ms),
        clock_ppm=float(1e6 * slope),
        faults=(first.total, second.total),
    )


def together(touches: Sequence[Repeatability]) -> str:
    """Return what two recorders say over several touches, for a person; empty where there are none.

    Parameters
    ----------
    touches : sequence of Repeatability
        One a touch that both recorded.
    """
    if not touches:
        return ""
    if len(touches) == 1:
        return touches[0].sentence
    blows, apart, only_one = (sum(getattr(one, name) for one in touches) for name in ("blows", "apart", "only_one"))
    differences = [abs(one.faults[0] - one.faults[1]) for one in touches]
    mean = (sum(differences, Decimal(0)) / len(touches)).quantize(Decimal("0.1"))
    return (
        f"Two recorders heard {len(touches)} of the touches: {blows:,} blows in both, each placed to "
        f"{median(one.blow_ms for one in touches):.1f} ms or better in two of three; {apart} of them are more than "
        f"{_SAME_MS:.0f} ms apart, {only_one} were heard in one only. The two counts of a touch differ "
        f"by {counted(mean, 'faults')} on average, and by {figure(max(differences))} at most."
    )


def _differences(
    first: Count, second: Count, shift: int
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.int8], int]:
    """Times in the first, how much later in the second, and bells, of blows in both; and how many are in one only."""
    rows = min(len(first.rung.times_s), len(second.rung.times_s) - shift) - max(0, -shift)
    here, there = slice(max(0, -shift), max(0, -shift) + rows), slice(max(0, shift), max(0, shift) + rows)
    one, other = first.rung.times_s[here], second.rung.times_s[there]
    same = first.rung.bells[here] == second.rung.bells[there]
    both = np.isfinite(one) & np.isfinite(other) & same
    only_one = int((np.isfinite(one) ^ np.isfinite(other)).sum())
    return one[both], (other - one)[both], first.rung.bells[here][both], only_one


def _agreement(late_s: NDArray[np.float64]) -> float:
    """How alike successive differences are, 1 at best: a clock's drift hardly shows from one blow to the next."""
    if len(late_s) < _FEWEST:
        return -1.0
    return float((np.abs(np.diff(late_s)) < _SAME_MS / 1000).mean())
