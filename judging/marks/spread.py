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

Sheets that hold marks are counted from the top: what is resampled is the marks lost.
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
