"""COUNT → WHAT THE CONTEST MAY DO WITH IT: whether it is of the declared quality, and how far it may be out."""

import math
from dataclasses import fields, replace
from decimal import Decimal

import numpy as np
from scipy.special import ndtr

from judging.contest.declared import RuleSet
from judging.contest.values import Entry
from judging.marks.safety import LINE_ERRORS
from judging.striking.calibration import as_people_write
from judging.striking.deviation import deviations
from judging.striking.faults import total_charged
from judging.striking.rules import CountingRules
from judging.striking.tolerance import ToleranceBands
from judging.striking.values import Count


def why_unfit(count: Count, entry: Entry, rules: RuleSet) -> str:
    """Say why a count is not of the declared quality; empty where it is.

    Parameters
    ----------
    count : Count
        Of one entry.
    entry : Entry
        With the missing rows that the steward reports.
    rules : RuleSet
        With the share of unsure or unheard blows that is allowed.

    Returns
    -------
    str
        In words.
    """
    short = count.changes_missing - entry.missing_rows
    if short > 0:
        return f"the log is {short} rows short of what was rung; the recording may have been cut off"
    spread_ms = count.rung.spread_ms[count.judged]
    if not spread_ms.size:
        return "no row of it is marked"
    declared = rules.marks.machine
    unsure = ~(spread_ms <= float(declared.sure_within_ms))  # an unheard blow has no spread
    percent = 100 * float(unsure.mean())
    if percent > float(declared.most_unsure_percent):
        return (
            f"{percent:.1f} % of its judged blows are unheard or not timed within {declared.sure_within_ms} ms, "
            f"at most {declared.most_unsure_percent} % are allowed"
        )
    return ""


def count_spread(count: Count, rules: CountingRules) -> float:
    """Return how far a count may be out by the ear's own doubt: one standard error, in faults.

    Each judged blow is a level lower or higher with the probability that its true own error lies across a line, its
    measured one being normal about it with the spread that the ear states. Caps of a scheme only narrow this.

    Parameters
    ----------
    count : Count
        Of one entry.
    rules : CountingRules
        The lines and what the levels cost.

    Returns
    -------
    float
        Square root of the sum of the variances of all judged blows' charges, blows taken as independent; less where a
        saturation makes the count rise more slowly.
    """
    judged = count.judged
    gap_s = count.rhythm.gap_s[judged]
    lines = rules.bands.lines_gaps(gap_s)[:, 1:]
    own = np.abs(count.deviations.own_gaps[judged])
    spread = np.maximum(count.rung.spread_ms[judged] / 1000 / gap_s[:, None], np.finfo(np.float64).tiny)
    with np.errstate(over="ignore"):  # a blow timed exactly is wholly on one side of a line
        beyond = ndtr((own[:, :, None] - lines[:, None, :]) / spread[:, :, None])
    half, whole = float(rules.scheme.half), float(rules.scheme.whole)
    mean = half * beyond[:, :, 0] + (whole - half) * beyond[:, :, 1]
    square = half**2 * beyond[:, :, 0] + (whole**2 - half**2) * beyond[:, :, 1]
    slope = 1.0
    if rules.saturation is not None and count.rows_judged:
        slope = float((-count.total / (rules.saturation * count.rows_judged)).exp())
    return slope * float(np.sqrt(np.nansum(square - mean**2)))


def moved(bands: ToleranceBands, half_gaps: float) -> ToleranceBands:
    """Return tolerance bands with every line moved in the same proportion, the half fault's to a given place.

    Parameters
    ----------
    bands : ToleranceBands
        As declared.
    half_gaps : float
        Where the half fault's line goes, in gaps.

    Returns
    -------
    ToleranceBands
        The floors in milliseconds move too; what a clash is stays.
    """
    factor = half_gaps / bands.half_gaps
    lines = [part.name for part in fields(bands) if part.name != "clash_gaps"]
    return replace(bands, **{name: getattr(bands, name) * factor for name in lines})


def recounted(count: Count, rules: CountingRules) -> Decimal:
    """Faults of ringing that is already laid and fitted, under other rules.

    Parameters
    ----------
    count : Count
        With its evidence.
    rules : CountingRules
        Other lines or another scheme; what is marked stays as it was.

    Returns
    -------
    Decimal
        As it stands beside the judges.
    """
    found = deviations(count.rung, count.rhythm, rules.bands)
    total = total_charged(count.rung, count.rhythm, found, rules, count.judged)
    return as_people_write(total, count.rows_judged, rules.saturation)


def counts_if_moved(count: Count, rules: RuleSet) -> tuple[float, ...]:
    """Return a count with all tolerance lines moved by `judging.marks.safety.LINE_ERRORS` of their declared error.

    Parameters
    ----------
    count : Count
        Of one entry.
    rules : RuleSet
        With the error of its lines; with none the count stays as it is.

    Returns
    -------
    tuple of float
        Faults, one for each of `LINE_ERRORS`.
    """
    error = float(rules.marks.machine.lines_unsure_percent) / 100
    if not error:
        return (float(count.beside_judges),) * len(LINE_ERRORS)
    bands = rules.counting.bands
    return tuple(
        float(recounted(count, replace(rules.counting, bands=moved(bands, bands.half_gaps * math.exp(error * step)))))
        for step in LINE_ERRORS
    )
