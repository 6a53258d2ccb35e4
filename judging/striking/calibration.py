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
from decimal import ROUND_HALF_UP, Decimal

import numpy as np
from numpy.typing import NDArray

from judging.errors import InputError
from judging.figures import counted
from judging.striking.deviation import deviations
from judging.striking.faults import total_charged
from judging.striking.rules import CountingRules
from judging.striking.tolerance import ToleranceBands
from judging.striking.values import Count

Array = NDArray[np.float64]

#: Fewest pieces, and fewest times as many faults in the worst as in the best, that show where people draw the line.
LEAST_PIECES, LEAST_RANGE = 6, 1.5

#: Scales and saturations tried; beyond them something other than the line differs.
SCALES = np.round(np.arange(0.5, 2.51, 0.05), 2)
SATURATIONS = np.array([0.5, 0.75, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 10.0, 1e6])

_HALF = Decimal("0.5")


@dataclass(frozen=True, slots=True)
class Calibration:
    """Tolerance bands as people draw them, and how well they agree.

    Parameters
    ----------
    bands : ToleranceBands
        With every line but the clash scaled, to a thousandth of a gap and a tenth of a millisecond.
    scale, scale_se : float
        Of the lines, with its standard error.
    saturation : float or None
        Most faults people write a row; None where they write all.
    saturation_range : tuple of two float or None
        Least and greatest found when each piece in turn is left out; None = all.
    people, before, after : tuple of float
        Totals of each piece: what people wrote, what the machine counts with the bands as they were, and what people
        would be expected to write by the machine's count as calibrated.
    off_left_out : float
        Mean distance of the totals in faults, each piece foretold from the others alone.
    """

    bands: ToleranceBands
    scale: float
    scale_se: float
    saturation: float | None
    saturation_range: tuple[float | None, float | None]
    people: tuple[float, ...]
    before: tuple[float, ...]
    after: tuple[float, ...]
    off_left_out: float

    @property
    def unsure_percent(self) -> Decimal:
        """Standard error of the scale in per cent of it, to a tenth: how surely the lines are known."""
        return Decimal(100 * self.scale_se / self.scale).quantize(Decimal("0.1"))

    @property
    def pieces(self) -> int:
        """How many were compared."""
        return len(self.people)

    @property
    def off_before(self) -> float:
        """Mean distance of the totals in faults with the bands as they were."""
        return _apart(self.before, self.people)

    @property
    def off_after(self) -> float:
        """Mean distance of the totals in faults as calibrated, on the pieces it was calibrated with."""
        return _apart(self.after, self.people)

    @property
    def report(self) -> str:
        """What an organiser is told before the rules are frozen."""
        least, most = self.saturation_range
        between = f" ({_most(least)} to {_most(most)}, leaving out one piece in turn)"
        written = "all they hear" if self.saturation is None else f"at most about {_most(self.saturation)} a row"
        return (
            f"From {self.pieces} pieces: lines {self.scale:.2f} ± {self.scale_se:.2f} times as wide as declared; "
            f"people write {written}{between if least != most else ''}; "
            f"totals were {self.off_before:.1f} faults apart on average and are now {self.off_after:.1f}, "
            f"or {self.off_left_out:.1f} where a piece is foretold from the others"
        )


def calibrate(counts: Sequence[Count], people: Sequence[Decimal], rules: CountingRules) -> Calibration:
    """Tolerance bands under which the machine counts as people did.

    Parameters
    ----------
    counts : sequence of Count
        The machine's counts; only what was rung matters, not what they were counted under.
    people : sequence of Decimal
        What people counted for the same pieces, in the same order: one judge, or the mean of several.
    rules : CountingRules
        The bands to be scaled, and the marking scheme that people and machine count by.

    Returns
    -------
    Calibration
        Scaled bands, their uncertainty, and the agreement before and after.

    Raises
    ------
    InputError
        Where there are too few pieces, or they differ too little, to show where people draw the line; or where no line
        within reason would agree with theirs.
    """
    theirs = _checked(counts, people)
    scales = [scale for scale in SCALES.tolist() if _scaled(rules.bands, scale) is not None]
    rows = np.array([count.rows_judged for count in counts], dtype=np.float64)
    by_scale = np.array([[_faults(count, rules, scale) for count in counts] for scale in scales])
    everyone = np.arange(len(counts))
    scale, saturation = _best(by_scale, rows, theirs, everyone)
    if scale in {0, len(scales) - 1}:
        raise InputError(
            "calibration",
            f"lines {scales[scale]:g} times as wide as declared agree best, and that is as far as is looked: something "
            "other than the line differs; are these faults, of the same rows, by this marking scheme?",
        )
    without = [_best(by_scale, rows, theirs, np.delete(everyone, left_out)) for left_out in everyone]
    spread = np.sqrt((len(counts) - 1) * np.var([scales[one] for one, _ in without]))  # the jackknife's standard error
    foretold = [
        float(_written(by_scale[one, piece], rows[piece], float(SATURATIONS[most])))
        for piece, (one, most) in enumerate(without)
    ]
    found = [float(SATURATIONS[most]) for _, most in without]
    most = float(SATURATIONS[saturation])
    bands = _scaled(rules.bands, scales[scale])
    return Calibration(
        bands=bands or rules.bands,
        scale=scales[scale],
        scale_se=float(max(spread, (SCALES[1] - SCALES[0]) / 2)),
        saturation=_finite(most),
        saturation_range=(_finite(min(found)), _finite(max(found))),
        people=tuple(theirs.tolist()),
        before=tuple(_faults(count, rules, 1.0) for count in counts),
        after=tuple(_written(by_scale[scale], rows, most).tolist()),
        off_left_out=_apart(foretold, theirs.tolist()),
    )


def as_people_write(total: Decimal, rows: int, saturation: Decimal | None) -> Decimal:
    """A count as it stands beside people's, who write less than they hear.

    Parameters
    ----------
    total : Decimal
        Faults counted.
    rows : int
        Rows marked.
    saturation : Decimal or None
        Most faults a row that people write; None = as counted.

    Returns
    -------
    Decimal
        To the nearest half.

    Examples
    --------
    >>> as_people_write(Decimal(120), 120, Decimal(2)), as_people_write(Decimal(120), 120, None)
    (Decimal('94.5'), Decimal('120'))
    """
    if saturation is None or not rows:
        return total
    most = saturation * rows
    return (most * (1 - (-total / most).exp()) / _HALF).to_integral_value(ROUND_HALF_UP) * _HALF


def _checked(counts: Sequence[Count], people: Sequence[Decimal]) -> Array:
    """Totals of people, where they are enough to go by."""
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
    return theirs


def _scaled(bands: ToleranceBands, scale: float) -> ToleranceBands | None:
    """Every line but the clash wider by a factor; None where lines would lie below what can be heard, or too far."""
    lines = {
        name: round(getattr(bands, name) * scale, digits)
        for unit, digits in (("gaps", 3), ("ms", 1))
        for name in (f"blemish_{unit}", f"half_{unit}", f"whole_{unit}")
    }
    try:
        return replace(bands, **lines)
    except InputError:
        return None


def _faults(count: Count, rules: CountingRules, scale: float) -> float:
    """What the marked rows would be charged under other lines."""
    scaled = replace(rules, bands=_scaled(rules.bands, scale) or rules.bands)
    found = deviations(count.rung, count.rhythm, scaled.bands)
    return float(total_charged(count.rung, count.rhythm, found, scaled, count.judged))


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


def _finite(most: float) -> float | None:
    return None if most > SATURATIONS[-2] else most


def _most(saturation: float | None) -> str:
    return "all" if saturation is None else counted(Decimal(str(saturation)), "faults")


def _apart(one: Sequence[float], other: Sequence[float]) -> float:
    return float(np.abs(np.subtract(one, other)).mean())
