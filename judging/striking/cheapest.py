"""The cheapest way to give blows to places in order of time (dynamic programming, a row of prices at a time).

A wrong bell, a missing blow, an extra blow and a blow far from its time each have a price. A blow keeps its place in
time, so two bells that struck the wrong way round are two wrong bells in two right places.
"""

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

#: Prices. A wrong bell twice, and its time, cost less than a missing blow and an extra one: exchanged bells keep their
#: places. Beyond the ends of the ringing blows and places cost less.
WRONG, UNKNOWN, MISSING, EXTRA, OUTSIDE = 0.6, 0.2, 1.2, 1.2, 0.65

#: Price of a blow by the square of its distance from its time in gaps, and the most that its time can cost.
LATE, LATE_MOST = 1.5, 0.9

#: How much more than a missing and an extra blow a bell may cost that struck some places from its own.
DISPLACED = 3.6

#: Most cells looked at in full; a longer stretch only so far to either side of the straight way.
CELLS = 2_000_000

_SAME = 1e-9


@dataclass(frozen=True, slots=True)
class Stretch:
    """Blows and the places they are to fill.

    Parameters
    ----------
    bells : ndarray, shape (m,)
        Bell of each blow; 0 = unknown.
    expected : ndarray, shape (k,)
        Bell of each place.
    times, due : ndarray, shapes (m,) and (s, k), or None
        When blows came and places were due, in gaps, by each of s reckonings (the nearest counts); None = not known.
    width : int
        Bells in a row: how far a long stretch is looked at beside the straight way.
    open_left, open_right : bool
        Whether blows and places may be left out for little at that end.
    """

    bells: Ints
    expected: Ints
    times: Floats | None
    due: Floats | None
    width: int
    open_left: bool = False
    open_right: bool = False

    def prices(self, blow: int, places: Ints) -> Floats:
        """Price of giving a blow to each of some places."""
        bell = self.bells[blow]
        price: Floats = np.where(bell == self.expected[places], 0.0, WRONG if bell else UNKNOWN)
        if self.times is None or self.due is None:
            return price
        late = np.abs(self.times[blow] - self.due[:, places]).min(axis=0)
        price += np.minimum(LATE * late**2, LATE_MOST)
        return price


def cheapest(stretch: Stretch) -> Ints:
    """Blow of each place at the least price in all.

    Parameters
    ----------
    stretch : Stretch
        Blows and places.

    Returns
    -------
    ndarray of int64, shape (k,)
        Index into the blows, ascending; -1 where a place is left empty.
    """
    m, k = len(stretch.bells), len(stretch.expected)
    reach = k if (m + 1) * (k + 1) <= CELLS else abs(m - k) + 3 * stretch.width
    size = min(2 * reach + 1, k + 1)
    low = np.clip(np.round(np.arange(m + 1) * k / m).astype(np.int64) - reach, 0, k + 1 - size)
    costs, price = np.full((m + 1, size), np.inf), np.full((m, size), np.inf)
    columns = np.arange(size)
    costs[0] = columns * (OUTSIDE if stretch.open_left else MISSING)
    missing = columns * MISSING
    for i in range(m):
        place = low[i + 1] + columns - 1  # the place that each column stands for; -1 = none yet
        inside = place >= 0
        price[i, inside] = stretch.prices(i, place[inside])
        shift = low[i + 1] - low[i]
        before = np.concatenate([[np.inf], costs[i], np.full(shift + 1, np.inf)])[shift:]
        extra = np.where(inside | (not stretch.open_left), EXTRA, OUTSIDE)
        best = np.minimum(before[:size] + price[i], before[1 : size + 1] + extra)
        costs[i + 1] = np.minimum.accumulate(best - missing) + missing
    filled = _way_back(costs, price, low, k, open_right=stretch.open_right)
    if _in_order_after_all(stretch, filled, 0, 0, m, k):
        return np.arange(k)
    done = 0
    for blow, place, count in _as_many_again(filled, m):
        if blow >= done and _in_order_after_all(stretch, filled, blow, place, count, count):
            filled[place : place + count] = np.arange(blow, blow + count)
            done = blow + count
    return filled


def _in_order_after_all(stretch: Stretch, filled: Ints, blow: int, place: int, blows: int, places: int) -> bool:
    """Whether so many blows and places hold a bell missing and too many only because it struck some places away."""
    part = filled[place : place + places]
    missing = int((part < 0).sum())
    if not missing or blows != places:
        return False
    if not np.array_equal(
        np.sort(stretch.bells[blow : blow + blows]), np.sort(stretch.expected[place : place + places])
    ):
        return False

    def price(blow: int, place: int) -> float:
        return float(stretch.prices(blow, np.array([place]))[0])

    found = sum(price(int(at), place + here) for here, at in enumerate(part) if at >= 0)
    in_order = sum(price(blow + here, place + here) for here in range(places))
    return in_order <= found + missing * (MISSING + EXTRA + DISPLACED)


def _as_many_again(filled: Ints, blows: int) -> list[tuple[int, int, int]]:
    """Parts that begin with a blow too many and end with the next place left empty, or the other way round.

    In each of them blows and places are as many; so a blow that was not heard elsewhere does not stand in the way. One
    part may end with what the next begins with.

    Returns
    -------
    list of (int, int, int)
        First blow, first place, and how many of both.
    """
    steps: list[tuple[int, int, bool]] = []  # blow, place, and whether it is a blow too many or a place left empty
    blow = 0
    for place, at in enumerate((*filled.tolist(), blows)):
        if at < 0:
            steps.append((blow, place, False))
            continue
        steps.extend((extra, place, True) for extra in range(blow, at))
        blow = at + 1
    return [
        (blow, place, end + (not is_extra) - place)
        for (blow, place, was_extra), (_, end, is_extra) in itertools.pairwise(steps)
        if was_extra != is_extra
    ]


def _way_back(costs: Floats, price: Floats, low: Ints, k: int, *, open_right: bool) -> Ints:
    """Blow of each place along the cheapest way, from its end."""
    m, size = price.shape
    i, j = m, min(k, int(low[m]) + size - 1)
    if open_right:
        left_out = costs[m] + (k - low[m] - np.arange(size)) * OUTSIDE
        last = k - low
        ends = np.where(last < size, costs[np.arange(m + 1), np.minimum(last, size - 1)], np.inf)
        ends = ends + (m - np.arange(m + 1)) * OUTSIDE
        if ends.min() < left_out.min():
            i, j = int(ends.argmin()), k
        else:
            j = int(low[m] + left_out.argmin())
    filled = np.full(k, -1, dtype=np.int64)
    while i > 0 and j > 0:
        here, column, above = costs[i, j - low[i]], j - low[i], j - low[i - 1]
        if 0 < above <= size and abs(here - costs[i - 1, above - 1] - price[i - 1, column]) < _SAME:
            i, j = i - 1, j - 1
            filled[j] = i
        elif column > 0 and abs(here - costs[i, column - 1] - MISSING) < _SAME:
            j -= 1
        else:
            i -= 1
    return filled
