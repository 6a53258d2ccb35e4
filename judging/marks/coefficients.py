"""AGREEMENT OF JUDGES AS NUMBERS: Kendall's W, Krippendorff's alpha, the intraclass correlation.

Three questions that are often mixed up: do the judges put the bands in the same order (W), do they give the same
figures (alpha, and the intraclass correlation for agreement), and do they give the same differences once severity is
taken out (the intraclass correlation for consistency)?
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import rankdata

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Intraclass:
    """Intraclass correlations of single figures (Shrout and Fleiss 1979, cases 2 and 3).

    Parameters
    ----------
    agreement : float
        Share of all variance that is between bands, severity counted as disagreement.
    consistency : float
        The same with severity taken out.
    """

    agreement: float
    consistency: float


def kendall_w(figures: Floats) -> float:
    """Kendall's coefficient of concordance, corrected for ties.

    Parameters
    ----------
    figures : ndarray, shape (J, N)
        By judge and band, none missing; at least two of each.

    Returns
    -------
    float
        ``12 S / (J² (N³ - N) - J ΣT)``, S the squared deviations of the bands' rank sums from their mean, T of a judge
        the sum of t³ - t over groups of t equal figures. 1 where all judges have the same order, 0 where there is none
        in common; NaN where every judge gave every band the same.
    """
    judges, bands = figures.shape
    ranks = rankdata(figures, axis=1)
    sums = ranks.sum(axis=0)
    squares = float(((sums - sums.mean()) ** 2).sum())
    ties = sum(float((sizes**3 - sizes).sum()) for sizes in (_group_sizes(line) for line in figures))
    most = judges**2 * (bands**3 - bands) - judges * ties
    return 12 * squares / most if most else float("nan")


def krippendorff_alpha(figures: Floats) -> float:
    """Krippendorff's alpha for interval data.

    Parameters
    ----------
    figures : ndarray, shape (J, N)
        By judge and band; NaN where a judge has no sheet.

    Returns
    -------
    float
        1 less observed over expected disagreement: mean squared difference of two judges on one band over that of any
        two figures. 1 full agreement, 0 chance; NaN where all figures are the same, or no band has two.
    """
    heard = np.isfinite(figures).sum(axis=0)
    paired = figures[:, heard > 1]
    counts = heard[heard > 1]
    values = paired[np.isfinite(paired)]
    if not values.size:
        return float("nan")
    # Sum over ordered pairs of (a - b)² is 2 n Σ(a - mean)².
    within = sum(
        2 * count * float(np.nansum((column - np.nanmean(column)) ** 2)) / (count - 1)
        for column, count in zip(paired.T, counts, strict=True)
    )
    among = 2 * values.size * float(((values - values.mean()) ** 2).sum()) / (values.size - 1)
    return 1 - within / among if among else float("nan")


def intraclass(figures: Floats) -> Intraclass:
    """Intraclass correlations of a complete panel.

    Parameters
    ----------
    figures : ndarray, shape (J, N)
        By judge and band, none missing; at least two of each.

    Returns
    -------
    Intraclass
        With mean squares B between bands, J between judges, E of the rest: agreement
        ``(B - E) / (B + (k - 1) E + k (J - E) / n)``, consistency ``(B - E) / (B + (k - 1) E)``; NaN where all figures
        are the same.
    """
    judges, bands = figures.shape
    grand = figures.mean()
    between_bands = judges * float(((figures.mean(axis=0) - grand) ** 2).sum()) / (bands - 1)
    between_judges = bands * float(((figures.mean(axis=1) - grand) ** 2).sum()) / (judges - 1)
    rest = figures - figures.mean(axis=0) - figures.mean(axis=1)[:, None] + grand
    error = float((rest**2).sum()) / ((bands - 1) * (judges - 1))
    all_but_severity = between_bands + (judges - 1) * error
    whole = all_but_severity + judges * (between_judges - error) / bands
    return Intraclass(
        agreement=(between_bands - error) / whole if whole else float("nan"),
        consistency=(between_bands - error) / all_but_severity if all_but_severity else float("nan"),
    )


def _group_sizes(line: Floats) -> NDArray[np.int64]:
    sizes: NDArray[np.int64] = np.unique(line, return_counts=True)[1]
    return sizes
