"""Who passes another's lateness on, and who steadies it.

Each blow is regressed on the two before it: what share of their lateness or earliness it takes on. A bell's shares are
drawn towards the band's, and the band's towards nothing, as normal priors do (ridge regression, in closed form), so
that few blows say little. Means of each bell and stroke are taken out first: a bell that is always late teaches nothing
about who goes with whom.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from judging.striking.values import Count, Habit

Array = NDArray[np.float64]

#: Share of the bell before's lateness that must surely be taken on, and how many blows that were out by so much (in
#: gaps) must have gone before: one great slip carried on is no habit.
TAKEN_ON, OUT_BEFORE, OUT_GAPS = 0.2, 8, 0.1

#: A bell that surely takes on less than this, in a band that passes on more than `TAKEN_ON`, steadies it.
STEADIES = 0.15

#: A blow further out than this counts as this far, in gaps.
MOST_OUT = 0.5

#: Prior spread of a share about the band's, and of the band's about nothing. Chosen on simulated bands.
SHARE_PRIOR = 0.25

#: Blows before that are looked at; half the width of a 95 % interval in standard errors.
BEFORE, SURE = 2, 1.96


@dataclass(frozen=True, slots=True)
class Shares:
    """What share of the lateness of the blows before is taken on.

    Parameters
    ----------
    band, band_se : ndarray, shape (2,)
        By all bells together, of the blow before and of the one before that; standard errors.
    bells, bells_se : ndarray, shape (B, 2)
        By each bell, index its number; the band's share where a bell has no blow.
    """

    band: Array
    band_se: Array
    bells: Array
    bells_se: Array


def shares(late: Array, before: Array, bell: NDArray[np.int64]) -> Shares:
    """Shrunken regression of each blow on those before it.

    Parameters
    ----------
    late : ndarray, shape (N,)
        Blows, their bell's mean taken out.
    before : ndarray, shape (N, 2)
        The two blows before each, theirs taken out.
    bell : ndarray of int, shape (N,)
        Which bell struck.

    Returns
    -------
    Shares
        Posterior means and standard errors.
    """
    noise = max(float(np.var(late)), OUT_GAPS**2 / 4)
    ridge = noise / SHARE_PRIOR**2 * np.eye(BEFORE)
    squares, products = before[:, :, None] * before[:, None, :], before * late[:, None]
    of_all = np.linalg.inv(squares.sum(axis=0) + ridge)
    band = of_all @ products.sum(axis=0)
    members = np.arange(int(bell.max()) + 1)[:, None] == bell  # (B, N)
    inverses = np.linalg.inv(np.einsum("bn,nij->bij", members, squares) + ridge)
    right = members @ products + ridge @ band
    return Shares(
        band=band,
        band_se=np.sqrt(noise * np.diagonal(of_all)),
        bells=(inverses @ right[:, :, None])[:, :, 0],
        bells_se=np.sqrt(noise * np.diagonal(inverses, axis1=1, axis2=2)),
    )


def passing_on(count: Count, there: NDArray[np.bool_]) -> Iterator[Habit]:
    """Whether lateness is passed on, by the band and by whom more than by others; praise for who steadies it.

    Parameters
    ----------
    count : Count
        The count.
    there : ndarray of bool, shape (R, n)
        Blows that are marked and were heard.

    Yields
    ------
    Habit
        Told where a 95 % interval lies beyond what would be usual.
    """
    late = np.where(there, count.deviations.gaps, np.nan)
    blows, before, bell, rows = _blows(late, count)
    often = np.bincount(bell, np.abs(before[:, 0]) >= OUT_GAPS) >= OUT_BEFORE
    if not often.any():
        return
    found = shares(blows, before, bell)
    share, error = found.bells[:, 0], SURE * found.bells_se[:, 0]
    band, band_error = float(found.band[0]), SURE * float(found.band_se[0])
    band_does = band - band_error > TAKEN_ON
    shown = (np.abs(before[:, 0]) >= OUT_GAPS) & (blows * before[:, 0] > 0)
    if band_does:
        yield Habit(
            (),
            "When a bell is late or early the next goes with it: "
            f"by {_percent(band)} of it ({_range(band - band_error, band + band_error)})",
            tuple(np.unique(rows[shown]).tolist()),
            what="When a bell is late or early the next goes with it",
        )
    for which in np.flatnonzero(often).tolist():
        low, high = share[which] - error[which], share[which] + error[which]
        between = f"{_percent(share[which])} of it ({_range(low, high)})"
        if low > max(TAKEN_ON, band if band_does else 0.0):
            evidence = tuple(np.unique(rows[shown & (bell == which)]).tolist())
            what = f"{which} goes with the bell before when that is late or early"
            yield Habit((which,), f"{what}: by {between}", evidence, what=what)
        elif band_does and high < max(STEADIES, band / 2):
            evidence = tuple(np.unique(rows[(np.abs(before[:, 0]) >= OUT_GAPS) & (bell == which)]).tolist())
            yield Habit(
                (which,),
                f"{which} steadies the band: of the lateness before it, it takes on {between.replace(' of it', '')}",
                evidence,
                praise=True,
            )


def _blows(late: Array, count: Count) -> tuple[Array, Array, NDArray[np.int64], NDArray[np.int64]]:
    """Blows with two before them, those two, the bell, and the row; means of each bell and stroke taken out."""
    bells = np.maximum(count.rung.bells.astype(np.int64), 0)
    group = 2 * bells + count.rung.piece.is_hand[:, None]
    heard = ~np.isnan(late)
    total = np.bincount(group[heard], late[heard], minlength=int(group.max()) + 1)
    mean = total / np.maximum(np.bincount(group[heard], minlength=len(total)), 1)
    flat = np.clip(late - mean[group], -MOST_OUT, MOST_OUT).ravel()
    begins = np.zeros(flat.size, dtype=np.bool_)
    starts = np.flatnonzero(count.rhythm.follows_pause) * late.shape[1]
    begins[np.concatenate([starts, starts + 1]).astype(np.int64)] = True
    before = np.stack([flat[1:-1], flat[:-2]], axis=1)
    whole = ~np.isnan(flat[2:]) & ~np.isnan(before).any(axis=1) & ~begins[2:]
    at = np.flatnonzero(whole) + 2
    return flat[at], before[at - 2], bells.ravel()[at], at // late.shape[1]


def _percent(share: float) -> str:
    return f"{_signed(share)} %"


def _range(low: float, high: float) -> str:
    return f"{_signed(low)} to {_signed(high)} %"


def _signed(share: float) -> str:
    rounded = round(100 * share)
    return f"{'−' if rounded < 0 else ''}{abs(rounded)}"
