"""HOW FAR A COUNT MIGHT AS WELL HAVE BEEN ELSEWHERE: the spread of the judges' figures, from the figures themselves.

The model
---------
Judge j gives band i about ``severity_j * quality_i`` faults. What is left over when severities and qualities are taken
out is what the judges did not agree on: the spread of counting. It is measured on the square-root scale, where the
spread of a count does not depend on its size (Anscombe 1948): with r = 2·√(x + 3/8) - 2·√(mean + 3/8), a Poisson count
has variance 1, one that varies more has more. The *dispersion* is the mean square of r over the degrees of freedom,
drawn towards 1 as if a plain Poisson count had been seen `PRIOR_WEIGHT` times, so that two judges and three bands do
not make a bold claim. With one judge nothing but that assumption is left, and it is said.

What it cannot see: an error that all judges share (all heard the same gust of wind), and a band that rang better or
worse than it would next time. Safety is about the counting, not about the ringing.

Sheets that hold marks are counted from the top: what is resampled is the marks lost. Where no top is declared nobody
can tell how many were lost, and the spread is measured in marks: judge j gives band i about ``mean + severity_j +
quality_i``, and what is left over has the same spread at every size (`fit_marks_spread`).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

#: As many plain Poisson counts as the judges' own spread is weighed against. Evenblow's choice: with five bands and
#: two judges (four degrees of freedom) it carries half.
PRIOR_WEIGHT = 4.0

#: Anscombe's constant, which makes the variance of the square root of a Poisson count nearly the same at every size.
_ANSCOMBE = 3 / 8

_ROUNDS = 60

#: Variance of counting over the variance between bands' figures, weighed in with `PRIOR_WEIGHT` where marks have no
#: top. In six published lists of faults (17½, 18½, 19, 26½; 42, 47, 64; 14, 23, 27; 43, 45, 64; 65, 77, 111; 79, 86,
#: 101; trade practice on six, eight and ten bells) the mean, which is a plain count's variance, is 0.15 to 1.2 of the
#: variance between bands, in the middle 0.4.
MARKS_PRIOR = 0.4


@dataclass(frozen=True, slots=True)
class Spread:
    """Spread of one section's counts.

    Parameters
    ----------
    dispersion : float
        Variance over mean of a count; 1 is a plain Poisson count.
    degrees_of_freedom : int
        How much the judges' own figures say about it; 0 where it is an assumption only.
    severity : ndarray, shape (J,)
        Each judge's figures against the panel's, geometric mean 1.
    mean : ndarray, shape (J, N)
        What the model expects of each judge for each band.
    """

    dispersion: float
    degrees_of_freedom: int
    severity: Floats
    mean: Floats


def fit_spread(faults: Floats) -> Spread:
    """Dispersion, severities and expected figures of a panel.

    Parameters
    ----------
    faults : ndarray, shape (J, N)
        Faults (or marks lost) by judge and band; NaN where a judge has no sheet.

    Returns
    -------
    Spread
        ``dispersion = (PRIOR_WEIGHT + sum of r²) / (PRIOR_WEIGHT + degrees of freedom)``.
    """
    seen = np.isfinite(faults)
    counts = np.where(seen, faults, 0.0)
    severity, quality = np.ones(len(counts)), np.ones(counts.shape[1])
    # Proportional fitting: the maximum-likelihood fit of a product to counts, gaps allowed; exact in one round without.
    for _ in range(_ROUNDS if not seen.all() else 1):
        quality = _ratio(counts.sum(axis=0), severity @ seen)
        severity = _ratio(counts.sum(axis=1), seen @ quality)
    level = np.exp(np.log(severity).mean()) if (severity > 0).all() else 1.0
    mean = np.outer(severity, quality)
    apart = np.where(seen, root_scale(counts) - root_scale(mean), 0.0)
    freedom = max(0, int(seen.sum()) - sum(counts.shape) + 1)
    squares = float((apart**2).sum()) if freedom else 0.0
    return Spread((PRIOR_WEIGHT + squares) / (PRIOR_WEIGHT + freedom), freedom, severity / level, mean)


@dataclass(frozen=True, slots=True)
class MarksSpread:
    """Spread of one section's marks, where they have no declared top.

    Parameters
    ----------
    deviation : float
        Standard deviation of a mark, in marks.
    degrees_of_freedom : int
        How much the judges' own figures say about it; 0 where it is an assumption only.
    """

    deviation: float
    degrees_of_freedom: int


def fit_marks_spread(marks: Floats, *, step: float) -> MarksSpread:
    """Spread of a panel's marks on their own scale.

    Parameters
    ----------
    marks : ndarray, shape (J, N)
        By judge and band; NaN where a judge has no sheet.
    step : float
        Finest figure a judge gives: no mark is surer than its rounding, a variance of step² / 12.

    Returns
    -------
    MarksSpread
        ``variance = (PRIOR_WEIGHT * prior + sum of squares left over) / (PRIOR_WEIGHT + degrees of freedom)``, the
        prior `MARKS_PRIOR` times the variance between the bands' own figures.
    """
    seen = np.isfinite(marks)
    judges, bands = marks.shape
    # Least squares on one indicator a judge and one a band; the last band is where the others are measured from.
    rows, columns = np.nonzero(seen)
    design = np.hstack([rows[:, None] == np.arange(judges), columns[:, None] == np.arange(bands - 1)]).astype(float)
    figures = marks[seen]
    fitted, *_ = np.linalg.lstsq(design, figures, rcond=None)
    left = figures - design @ fitted
    freedom = max(0, int(seen.sum()) - judges - bands + 1)
    squares = float(left @ left) if freedom else 0.0
    between = np.append(fitted[judges:], 0.0)
    prior = MARKS_PRIOR * float(between.var(ddof=1)) if bands > 1 else 0.0
    variance = (PRIOR_WEIGHT * prior + squares) / (PRIOR_WEIGHT + freedom)
    return MarksSpread(float(np.sqrt(max(variance, step**2 / 12))), freedom)


def root_scale(counts: Floats | float) -> Floats:
    """Counts on the scale where a Poisson count has variance 1: ``2 √(x + 3/8)``."""
    scaled: Floats = 2 * np.sqrt(np.asarray(counts, dtype=np.float64) + _ANSCOMBE)
    return scaled


def resample_counts(
    faults: Floats, dispersion: float, *, step: float, size: int, generator: np.random.Generator
) -> Floats:
    """Counts that might as well have been given.

    Parameters
    ----------
    faults : ndarray, shape (J, N)
        As given; NaN stays NaN.
    dispersion : float
        Variance over mean.
    step : float
        Finest figure a judge gives; results are whole multiples of it.
    size : int
        How many.
    generator : numpy.random.Generator
        Where chance comes from.

    Returns
    -------
    ndarray, shape (size, J, N)
        Never below 0; mean as given and variance ``dispersion * (faults + 3/8)``, but for the cut at 0.
    """
    draws = generator.standard_normal((size, *faults.shape))
    draws *= np.sqrt(dispersion) / 2
    draws += np.sqrt(faults + _ANSCOMBE)
    np.maximum(draws, 0, out=draws)
    draws *= draws
    # Squaring adds the variance of the root, dispersion / 4, to the mean; taken off again.
    draws -= _ANSCOMBE + dispersion / 4
    np.maximum(draws, 0, out=draws)
    draws /= step
    np.rint(draws, out=draws)
    draws *= step
    return draws


def _ratio(above: Floats, below: Floats) -> Floats:
    return np.divide(above, below, out=np.zeros_like(above, dtype=np.float64), where=below > 0)
