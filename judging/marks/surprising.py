"""FIGURES → THOSE THAT SURPRISE: far from what the other figures foretell, so that a slip of the pen is asked about.

Each figure is foretold from all the others (this judge's severity, this band's quality) and compared on the square-root
scale of `judging.marks.spread`. Nothing is refused and nothing changed: a judge may well have heard it so.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

import numpy as np

from judging.figures import counted, figure
from judging.marks.combining import Figures
from judging.marks.spread import Floats, fit_spread, root_scale

#: Standard deviations from what was foretold. Evenblow's choice: with a foretelling from few figures three come about
#: by chance too often, and a figure with its digits exchanged lies beyond five.
_SURPRISING = 4.0
_FEWEST_BANDS = 3
#: Of so many other sheets at least does a judge have a habit from which one can stand out.
_FEWEST_OWN = 3
#: The largest published scale of a row ends at 4.
MOST_A_ROW = 4


@dataclass(frozen=True, slots=True)
class Surprise:
    """A figure that should be looked at again, or given a reason.

    Parameters
    ----------
    judge, entry : str
        Whose sheet, for which entry.
    figure, foretold : float
        As signed, and from all other figures.
    sentence : str
        For the judge and the organiser; names no band.
    """

    judge: str
    entry: str
    figure: float
    foretold: float
    sentence: str


def surprising(figures: Mapping[str, Figures], entries: Sequence[str]) -> tuple[Surprise, ...]:
    """Figures far from what the others foretell.

    Parameters
    ----------
    figures : mapping of str to mapping of str to Decimal
        Faults (or marks lost) by judge and entry; gaps allowed.
    entries : sequence of str
        Of the section, in the order in which surprises are told.

    Returns
    -------
    tuple of Surprise
        Empty with fewer than two judges or three bands, where nothing can be foretold.
    """
    judges = sorted(figures)
    if len(judges) < 2 or len(entries) < _FEWEST_BANDS:
        return ()
    table = np.array([[float(figures[judge].get(entry, np.nan)) for entry in entries] for judge in judges])
    found: dict[tuple[int, int], Surprise] = {}
    while True:
        # The worst goes first, so that it does not make the others look odd.
        cell, size, foretold = _furthest(table)
        if size < _SURPRISING:
            return tuple(found[cell] for cell in sorted(found, key=lambda cell: (cell[1], cell[0])))
        figure = float(table[cell])
        sentence = f"{figure:g} where the other figures foretell about {foretold:.0f}: is it as you heard it?"
        found[cell] = Surprise(judges[cell[0]], entries[cell[1]], figure, foretold, sentence)
        table[cell] = np.nan


def surprising_alone(
    total: Decimal, own: Sequence[Decimal], *, changes: int | None = None, unit: str = "faults"
) -> str:
    """Say what is surprising about a figure beside the same judge's own others, so that nothing else is given away.

    Parameters
    ----------
    total : Decimal
        About to be signed.
    own : sequence of Decimal
        What the judge has given other bands.
    changes : int or None
        Length of the test piece, where it is known.
    unit : str
        ``"faults"`` or ``"marks"``.

    Returns
    -------
    str
        A question; empty where there is nothing to ask.
    """
    said = counted(total, unit)
    if changes is not None and total > MOST_A_ROW * changes:
        return f"{said} is more than {MOST_A_ROW} for each of {changes} changes: is it as you heard it?"
    if len(own) < _FEWEST_OWN:
        return ""
    roots = root_scale(np.array([float(figure) for figure in own]))
    # The spread between bands is in it, and never less than that of a plain count (1 on this scale).
    spread = float(np.sqrt(max(roots.var(ddof=1), 1.0) * (1 + 1 / len(own))))
    if abs(float(root_scale(float(total))) - float(roots.mean())) < _SURPRISING * spread:
        return ""
    low, high = figure(min(own)), figure(max(own))
    return f"{said}, where your other sheets lie between {low} and {high}: is it as you heard it?"


def _furthest(table: Floats) -> tuple[tuple[int, int], float, float]:
    """Cell furthest from what the others foretell, how far in standard deviations, and what they foretell."""
    worst, size, told = (0, 0), 0.0, 0.0
    for row, column in np.argwhere(np.isfinite(table)):
        others = table.copy()
        others[row, column] = np.nan
        judge_total, band_total = np.nansum(others[row]), np.nansum(others[:, column])
        if not judge_total or not band_total:
            continue
        spread = fit_spread(others)
        foretold = float(spread.mean[row, column])
        # Variance of the figure itself, and of a foretelling made from two totals, on the square-root scale.
        variance = spread.dispersion * (1 + foretold * (1 / judge_total + 1 / band_total))
        apart = abs(float(root_scale(table[row, column]) - root_scale(foretold))) / float(np.sqrt(variance))
        if apart > size:
            worst, size, told = (int(row), int(column)), apart, foretold
    return worst, size, told
