"""Character of a band: who is late, who follows whom, who goes wrong.

Sizes follow common practice, no source: the blows of a good band spread 20 to 35 ms.
"""

from dataclasses import dataclass
from typing import Literal

from judging.errors import InputError


@dataclass(frozen=True, slots=True)
class Lateness:
    """A bell that is late (or early) again and again.

    Parameters
    ----------
    bell : int
        1 = treble.
    stroke : {"hand", "back", "both"}
        When.
    late_ms : float
        How much, + late.
    leads_only : bool
        Only when it leads.
    """

    bell: int
    stroke: Literal["hand", "back", "both"]
    late_ms: float
    leads_only: bool = False

    def __post_init__(self) -> None:
        """Refuse a bell or a stroke that is none."""
        if self.bell < 1:
            raise InputError("bell", f"is {self.bell}; bells count from 1, the treble")
        if self.stroke not in ("hand", "back", "both"):
            raise InputError("stroke", f"is {self.stroke!r}, not hand, back or both")


@dataclass(frozen=True, slots=True)
class Mistake:
    """Two bells exchanged for some changes, then put right.

    Parameters
    ----------
    change : int
        First change rung wrong, from 1.
    bells : tuple of two int
        The bells that ring each other's work.
    rows : int
        How many changes.
    """

    change: int
    bells: tuple[int, int]
    rows: int


@dataclass(frozen=True, slots=True)
class HeldUp:
    """A row begun late, the pace going on from there.

    Parameters
    ----------
    change : int
        Which, from 1.
    late_ms : float
        By how much.
    """

    change: int
    late_ms: float


@dataclass(frozen=True, slots=True)
class Character:
    """How a band strikes.

    Parameters
    ----------
    spread_ms : float
        Standard deviation of what each blow adds.
    slips : float
        Share of blows whose spread is three times that: what an ordinary band does now and then.
    follow : float
        Share of the error of the bell in front that is carried on.
    pace_drift : float
        Standard deviation of the relative change of pace from row to row.
    pace_trend : float
        Relative change of the gap over the whole touch, + slower.
    pull_off_ms : float
        Standard deviation of the first whole pull, dying away through the opening rows.
    uneven_leads_ms : float
        Spread of handstroke leads, half of it a habit of the bell that leads, half chance.
    late : tuple of Lateness
        Habits of bells.
    mistakes : tuple of Mistake
        Bells exchanged.
    held_up : tuple of HeldUp
        Rows begun late.
    clips : int
        Single blows that clip the bell in front, at changes drawn by chance.
    """

    spread_ms: float = 22.0
    slips: float = 0.0
    follow: float = 0.35
    pace_drift: float = 0.002
    pace_trend: float = 0.0
    pull_off_ms: float = 30.0
    uneven_leads_ms: float = 0.0
    late: tuple[Lateness, ...] = ()
    mistakes: tuple[Mistake, ...] = ()
    held_up: tuple[HeldUp, ...] = ()
    clips: int = 0

    def __post_init__(self) -> None:
        """Refuse what no band does."""
        limits = {
            "spread_ms": (0.0, 200.0),
            "slips": (0.0, 1.0),
            "follow": (0.0, 0.95),
            "pace_drift": (0.0, 0.05),
            "pace_trend": (-0.3, 0.3),
            "pull_off_ms": (0.0, 400.0),
            "uneven_leads_ms": (0.0, 300.0),
            "clips": (0.0, 10_000.0),
        }
        for name, (low, high) in limits.items():
            if not low <= getattr(self, name) <= high:
                raise InputError(name, f"{getattr(self, name):g} is not between {low:g} and {high:g}")
