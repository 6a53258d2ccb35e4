"""Delays that belong to the tower and not to the band: how far each bell hangs, and how it is struck.

A bell that is odd-struck, or hangs far from the microphone, is late for everybody who rings it. A band that is late is
late by itself. So a delay is the installation's only where it is the same for at least five bands of the day, and then
by no more than what they have in common. Whether it is taken out before counting is a declared rule, off by default.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import t as student

from judging.errors import InputError
from judging.striking.strike_log import StrikeLog
from judging.striking.values import Count, Rung

#: Fewer bands cannot tell the tower from the people.
FEWEST_BANDS = 5
#: A band says something of a bell's stroke with at least so many blows of it.
_FEWEST_BLOWS = 4
#: Two-sided chance of taking a delay for the tower's that is none.
_CHANCE = 0.05
_STROKES = ("handstroke", "backstroke")


@dataclass(frozen=True, slots=True)
class Installation:
    """What all bands of a day have in common.

    Parameters
    ----------
    delay_ms : ndarray of float64, shape (n, 2)
        Of each bell at handstroke and at backstroke, + late; 0 where the bands do not agree on any.
    se_ms : ndarray of float64, shape (n, 2)
        Standard error of what was estimated there; NaN where too few bands say.
    bands : int
        How many bands it was estimated from.
    """

    delay_ms: NDArray[np.float64]
    se_ms: NDArray[np.float64]
    bands: int

    def __post_init__(self) -> None:
        """Make the arrays read-only."""
        self.delay_ms.setflags(write=False)
        self.se_ms.setflags(write=False)

    @property
    def sentence(self) -> str:
        """What was taken out, and how sure it is."""
        told = [
            f"bell {bell + 1} at {_STROKES[stroke]} {abs(self.delay_ms[bell, stroke]):.0f} ms "
            f"{'late' if self.delay_ms[bell, stroke] > 0 else 'early'} (± {self.se_ms[bell, stroke]:.0f})"
            for bell, stroke in np.argwhere(self.delay_ms != 0)
        ]
        if not told:
            return f"No bell is late or early alike for all {self.bands} bands, so nothing was taken out for the tower."
        return f"Taken out as the tower's own, alike for all {self.bands} bands: {'; '.join(told)}."


def installation_of(counts: Sequence[Count]) -> Installation:
    """Estimate the delays that bands on the same bells have in common.

    The median over bands of each band's median deviation, by bell and stroke; its standard error is that of a median
    of normal values, ``sqrt(pi / 2) * sd / sqrt(bands)`` (textbook), ``sd`` from the median absolute deviation. A delay
    is the tower's only where Student's t with as many degrees of freedom less one tells it from nothing.

    Parameters
    ----------
    counts : sequence of Count
        One a band, all on the same number of bells.

    Returns
    -------
    Installation

    Raises
    ------
    InputError
        For fewer than five bands, or bands on different numbers of bells.
    """
    if len(counts) < FEWEST_BANDS:
        raise InputError(
            "delays of the tower",
            f"{len(counts)} bands cannot tell the tower from the people; at least {FEWEST_BANDS} are needed",
        )
    sizes = sorted({count.rung.piece.bells for count in counts})
    if len(sizes) > 1:
        raise InputError(
            "delays of the tower", f"the bands rang different numbers of bells ({', '.join(map(str, sizes))})"
        )
    bands = np.stack([_band_medians_ms(count) for count in counts])
    said = np.isfinite(bands).sum(axis=0)
    enough = said >= FEWEST_BANDS
    delay, se = np.zeros(enough.shape), np.full(enough.shape, np.nan)
    for bell, stroke in np.argwhere(enough):
        values = bands[np.isfinite(bands[:, bell, stroke]), bell, stroke]
        middle = float(np.median(values))
        sd = 1.4826 * float(np.median(np.abs(values - middle)))
        se[bell, stroke] = np.sqrt(np.pi / 2) * sd / np.sqrt(len(values))
        if abs(middle) > student.ppf(1 - _CHANCE / 2, len(values) - 1) * se[bell, stroke]:
            delay[bell, stroke] = middle
    return Installation(delay, se, len(counts))


def _band_medians_ms(count: Count) -> NDArray[np.float64]:
    """Median deviation of each bell at each stroke over the judged rows; NaN where there are few; shape (n, 2)."""
    bells = count.rung.piece.bells
    medians = np.full((bells, 2), np.nan)
    for stroke, is_hand in enumerate((True, False)):
        rows = count.judged & (count.rung.piece.is_hand == is_hand)
        ms, who = count.deviations.ms[rows], count.rung.bells[rows]
        for bell in range(bells):
            own = ms[(who == bell + 1) & np.isfinite(ms)]
            if len(own) >= _FEWEST_BLOWS:
                medians[bell, stroke] = float(np.median(own))
    return medians


def without_delays(log: StrikeLog, rung: Rung, tower: Installation) -> StrikeLog:
    """Return the log as it would be if no bell were late by the tower.

    Parameters
    ----------
    log : StrikeLog
        As heard.
    rung : Rung
        How its blows were laid on the piece.
    tower : Installation
        What to take out.
    """
    times = log.times_s.copy()
    laid = rung.strike >= 0
    stroke = np.broadcast_to(np.where(rung.piece.is_hand, 0, 1)[:, None], laid.shape)
    times[rung.strike[laid]] -= tower.delay_ms[rung.bells[laid] - 1, stroke[laid]] / 1000
    order = np.argsort(times, kind="stable")
    return StrikeLog(times[order], log.bells[order], log.spread_ms[order], log.source)
