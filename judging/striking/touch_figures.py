"""What is kept of a touch to set it beside others years later: a few figures and its habits, and no one blow.

They are counted alike whatever the contest's own rules were, under the usual lines with every change marked, so that a
band's touches of ten years and as many contests can stand beside each other.
"""

from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from judging import __version__
from judging.piece import Piece
from judging.striking.counting import count_striking
from judging.striking.document import mean_peal_minutes
from judging.striking.over_time import struck_ms
from judging.striking.strike_log import StrikeLog
from judging.striking.values import Count

#: No band strikes closer than this, and no clock tells less; made-up ringing may.
LEAST_MS: Final = 0.1


@dataclass(frozen=True, slots=True)
class HabitKept:
    """One habit of one touch.

    Parameters
    ----------
    what : str
        Who does what, such as ``"5 strikes late at backstroke"``; by it the habit is known again.
    bells : tuple of int
        The bells concerned; empty for the whole band.
    late_ms : float
        How late on average, - early; 0 where it is not about lateness.
    saves : Decimal
        Faults that would not have been charged without it.
    """

    what: str
    bells: tuple[int, ...]
    late_ms: float
    saves: Decimal


@dataclass(frozen=True, slots=True)
class TouchFigures:
    """One touch in figures.

    Parameters
    ----------
    piece : str
        Its title.
    bells, rows : int
        How many rang, and how many rows were marked.
    faults : Decimal
        Charged.
    spread_ms : float
        How far from even it was struck.
    peal_minutes : float
        Its pace.
    handstroke_gap : float or None
        In gaps between blows; None where it could not be seen.
    habits : tuple of HabitKept
        Those that could come back, most worth working on first.
    version : str
        Of Evenblow, which counted it.
    """

    piece: str
    bells: int
    rows: int
    faults: Decimal
    spread_ms: float
    peal_minutes: float
    handstroke_gap: float | None
    habits: tuple[HabitKept, ...]
    version: str

    @property
    def a_hundred_rows(self) -> Decimal:
        """Faults in a hundred rows."""
        return (100 * self.faults / self.rows).quantize(Decimal("0.1"))


def figures_of(count: Count) -> TouchFigures:
    """Return what is kept of a count that has judged rows."""
    rhythm = count.rhythm
    return TouchFigures(
        piece=count.rung.piece.title,
        bells=count.rung.piece.bells,
        rows=count.rows_judged,
        faults=count.total,
        spread_ms=max(round(struck_ms(count), 2), LEAST_MS),
        peal_minutes=round(mean_peal_minutes(count), 1),
        handstroke_gap=round(rhythm.handstroke_gap, 2) if rhythm.handstroke_gap_is_seen else None,
        habits=tuple(
            HabitKept(habit.what, habit.bells, round(habit.late_ms, 1), habit.saves)
            for habit in count.habits
            if habit.what and not habit.praise
        ),
        version=__version__,
    )


def figures_of_log(log: StrikeLog, piece: Piece, *, name: str) -> TouchFigures:
    """Return what is kept of a touch, from its strike log.

    Parameters
    ----------
    log : StrikeLog
        What was heard.
    piece : Piece
        What should have been rung.
    name : str
        What the log is called in messages.

    Returns
    -------
    TouchFigures
        Counted under the usual lines.

    Raises
    ------
    NothingHeard
        The log is not this piece, or its changes never begin.
    """
    return figures_of(count_striking(log, piece, name=name))
