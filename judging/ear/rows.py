"""The values of the room that say when rows begin, and how fast they go."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Pace:
    """A guess at the ringing's pace.

    Parameters
    ----------
    gap_s : float
        Time between successive blows.
    handstroke_gap : float
        Extra space before a handstroke lead, in gaps.
    likeness : float
        How well the recording repeats itself at that pace (0 for noise, over 1 for the cleanest).
    """

    gap_s: float
    handstroke_gap: float
    likeness: float


@dataclass(frozen=True, slots=True)
class Rows:
    """When rows begin, and the gap between the blows of each.

    Parameters
    ----------
    starts_s, gaps_s : ndarray of float64, shape (rows,)
        Ideal time of the first place, and time between places.
    pull_s : float
        How long a whole pull lasts on average.
    """

    starts_s: NDArray[np.float64]
    gaps_s: NDArray[np.float64]
    pull_s: float

    def __len__(self) -> int:
        """Return the number of rows."""
        return len(self.starts_s)

    def one_more_each_end(self) -> "Rows":
        """Return the rows with one more before and one after, where single blows may lie."""
        steps = np.diff(self.starts_s) if len(self) > 1 else np.array([self.pull_s])
        starts = np.r_[self.starts_s[0] - steps[0], self.starts_s, self.starts_s[-1] + steps[-1]]
        return Rows(starts, np.r_[self.gaps_s[0], self.gaps_s, self.gaps_s[-1]], self.pull_s)

    def cut(self, rows: slice) -> "Rows":
        """Return some of the rows."""
        return Rows(self.starts_s[rows], self.gaps_s[rows], self.pull_s)


def rows_from(pulls: Rows, slot: int, bells: int) -> Rows:
    """Rows of the followed whole pulls, if their blow number ``slot`` is the first of a handstroke row."""
    starts = np.empty(2 * len(pulls))
    starts[::2] = pulls.starts_s + slot * pulls.gaps_s
    starts[1::2] = starts[::2] + bells * pulls.gaps_s
    return Rows(starts, np.repeat(pulls.gaps_s, 2), pulls.pull_s)
