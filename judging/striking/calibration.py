"""Where people draw the line: tolerance bands scaled so that the machine counts as many faults as people did.

From pieces that both have counted, two figures are fitted: a *scale* of every line of the tolerance bands, and a
*saturation*, for people who hear three faults in a row seldom write three. If the machine counts m faults a row with
its lines scaled by s, people are taken to write::

    c · (1 - exp(-m(s) / c))     faults a row, so nearly m where it is small, and never more than c

s and c are those for which the square roots of the two totals agree best, since counts vary as much as they are large.
Both come with their uncertainty, by leaving out each piece in turn. The result is meant to be frozen into the rules
before the draw; too few pieces, or pieces too much alike, are refused.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray

from judging.errors import InputError
from judging.striking.deviation import EXACT, own_errors
from judging.striking.tolerance import ToleranceBands
from judging.striking.values import Count

Array = NDArray[np.float64]

#: Fewest pieces, and fewest times as many faults in the worst as in the best, that show where people draw the line.
LEAST_PIECES, LEAST_RANGE = 6, 1.5

#: Scales and saturations tried; beyond them something other than the line differs.
SCALES = np.round(np.arange(0.5, 2.51, 0.05), 2)
SATURATIONS = np.array([0.5, 0.75, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 10.0, 1e6])


@dataclass(frozen=True, slots=True)
class Calibration:
    """Tolerance bands as people draw them, and how well they agree.

    Parameters
    ----------
    bands : ToleranceBands
        With every line scaled, to two decimals of a gap and whole milliseconds.
    scale, scale_se : float
        Of the lines, with its standard error.
    saturation : float or None
        Most faults people write a row; None where they write all.
    pieces : int
        How many were compared.
    off_before, off_after : float
        Mean distance of the totals in faults, as shipped and as calibrated (saturation included).
    """

    bands: ToleranceBands
    scale: float
    scale_se: float
    saturation: float | None
    pieces: int
    off_before: float
    off_after: float

    @property
    def report(self) -> str:
        """What an organiser is told before the rules are frozen."""
        most = "all they hear" if self.saturation is None else f"at most about {self.saturation:g} faults a row"
        return (
            f"From {self.pieces} pieces: lines {self.scale:.2f} ± {self.scale_se:.2f} times as wide as declared; "
            f"people write {most}; "
            f"totals were {self.off_before:.1f} faults apart on average and are now {self.off_after:.1f}"
        )


def calibrate(counts: Sequence[Count], people: Sequence[Decimal], bands: ToleranceBands) -> Calibration:
    """Tolerance bands under which the machine counts as people did.

    Parameters
    ----------
    counts : sequence of Count
        The machine's counts, half and whole for each blow.
    people : sequence of Decimal
        What people counted for the same pieces, in the same order: one judge, or the mean of several.
    bands : ToleranceBands
        What the counts were made with, to be scaled.

    Returns
    -------
    Calibration
        Scaled bands, their uncertainty, and the agreement before and after.

    Raises
    ------
    InputError
        Where there are too few pieces, or they differ too little, to show where people draw the line.
    """
    if len(counts) != len(people):
        raise InputError("calibration", f"{len(counts)} counts but {len(people)} totals of people")
    if len(counts) < LEAST_PIECES:
        raise InputError(
            "calibration", f"{len(counts)} pieces were counted by both, at least {LEAST_PIECES} are needed"
        )
    theirs = np.array([float(total) for total in people])
    if theirs.min() < 0 or theirs.max() < LEAST_RANGE * max(theirs.min(), 1.0):
        raise InputError(
            "calibration",
            f"people counted {theirs.min():g} to {theirs.max():g} faults: pieces so much alike do not show where the "
            "line is drawn; add a steady and an unsteady one",
        )
    rows = np.array([count.rows_judged for count in counts], dtype=np.float64)
    by_scale = np.array([[_faults(count, _scaled(bands, float(scale))) for count in counts] for scale in SCALES])
    everyone = np.arange(len(counts))
    scale, saturation = _best(by_scale, rows, theirs, everyone)
    without = [SCALES[_best(by_scale, rows, theirs, np.delete(everyone, left_out))[0]] for left_out in everyone]
    spread = np.sqrt((len(counts) - 1) * np.var(without))  # the jackknife's standard error
    most = float(SATURATIONS[saturation])
    before = by_scale[int(np.argmin(np.abs(SCALES - 1.0)))]
    return Calibration(
        bands=_scaled(bands, float(SCALES[scale])),
        scale=float(SCALES[scale]),
        scale_se=float(max(spread, (SCALES[1] - SCALES[0]) / 2)),
        saturation=None if most > SATURATIONS[-2] else most,
        pieces=len(counts),
        off_before=float(np.abs(before - theirs).mean()),
        off_after=float(np.abs(_written(by_scale[scale], rows, most) - theirs).mean()),
    )


def _scaled(bands: ToleranceBands, scale: float) -> ToleranceBands:
    """Every line but the clash wider by a factor, never below the hearing floors."""
    return replace(
        bands,
        **{
            name: round(getattr(bands, name) * scale, digits)
            for unit, digits in (("gaps", 3), ("ms", 1))
            for name in (f"blemish_{unit}", f"half_{unit}", f"whole_{unit}")
        },
    )


def _faults(count: Count, bands: ToleranceBands) -> float:
    """Half and whole faults of the marked rows under other lines, clashes left out."""
    lines = bands.lines_gaps(count.rhythm.gap_s)
    own, _ = own_errors(count.deviations.gaps, lines[:, 1], count.rhythm.follows_pause)
    reached = np.abs(np.nan_to_num(own))[count.judged, :, None] >= lines[count.judged, None, 1:] - EXACT
    return float(reached.sum()) / 2  # a whole fault reaches both lines


def _written(faults: Array, rows: Array, most: float) -> Array:
    """What people write of so many faults."""
    written: Array = most * rows * -np.expm1(-faults / (most * rows))
    return written


def _best(by_scale: Array, rows: Array, theirs: Array, pieces: NDArray[np.int64]) -> tuple[int, int]:
    """Index of the scale and of the saturation under which the square roots agree best."""
    apart = np.array(
        [
            [
                ((np.sqrt(_written(faults[pieces], rows[pieces], float(most))) - np.sqrt(theirs[pieces])) ** 2).sum()
                for most in SATURATIONS
            ]
            for faults in by_scale
        ]
    )
    scale, saturation = np.unravel_index(int(apart.argmin()), apart.shape)
    return int(scale), int(saturation)
