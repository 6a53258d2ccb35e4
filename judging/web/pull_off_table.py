"""Pull-offs as tables: strokes down, places across, each blow with how far from even it was struck."""

from dataclasses import dataclass
from math import ceil

import numpy as np

from judging.papers.drawings.rows_map import DEEPEST_GAPS
from judging.piece.piece import SYMBOLS
from judging.striking import BellInPullOffs, bells_of, faults_in_words
from judging.striking.values import Count, PullOff
from judging.web.fault_map import SHADES

#: Nearer than this to even is left without a shade, in gaps: the shipped line of a blemish.
PLAIN_GAPS = 0.15


@dataclass(frozen=True, slots=True)
class PulledBlow:
    """One blow of a pull-off.

    Parameters
    ----------
    symbol : str
        The bell.
    ms : str
        How far out, without a sign; ``–`` where it was missing.
    kind : {"", "early", "late", "missing"}
        Which way; empty where it is near enough.
    shade : int
        0 to 4.
    """

    symbol: str
    ms: str
    kind: str
    shade: int


@dataclass(frozen=True, slots=True)
class PulledOff:
    """One pull-off.

    Parameters
    ----------
    number : int
        In order of time, from 1.
    time_s : float
        When it began.
    off, faults : str
        How far from even on average, in ms; what it would be charged if it were marked.
    strokes : tuple of (str, tuple of PulledBlow)
        Handstroke, then backstroke.
    """

    number: int
    time_s: float
    off: str
    faults: str
    strokes: tuple[tuple[str, tuple[PulledBlow, ...]], ...]


def pull_offs_of(count: Count) -> tuple[PulledOff, ...]:
    """Return the pull-offs of a count, in order of time.

    Parameters
    ----------
    count : Count
        The machine's count.

    Returns
    -------
    tuple of PulledOff
        Empty where the log does not begin with one.
    """
    gap_ms = 1000 * count.gap_s
    return tuple(pulled(number, one, gap_ms) for number, one in enumerate(count.pull_offs, start=1))


def on_average(count: Count) -> tuple[tuple[str, tuple[PulledBlow, ...]], ...]:
    """Return each bell's mean over several pull-offs, by stroke; empty where there are not several.

    Parameters
    ----------
    count : Count
        The machine's count.

    Returns
    -------
    tuple of (str, tuple of PulledBlow)
        Handstroke, then backstroke, in order of bell; only what is surely late or early is so.
    """
    if len(count.pull_offs) < 2:
        return ()
    gap_ms = 1000 * float(np.median(count.rhythm.gap_s))
    bells = bells_of(count.pull_offs)
    return tuple(
        (stroke, tuple(_mean(one, gap_ms) for one in bells if one.is_hand == is_hand))
        for stroke, is_hand in (("Handstroke", True), ("Backstroke", False))
    )


def _mean(one: BellInPullOffs, gap_ms: float) -> PulledBlow:
    symbol, ms = SYMBOLS[one.bell - 1], f"{abs(one.mean_ms):.0f}"
    if not one.is_sure:
        return PulledBlow(symbol, ms, "", 0)
    shade = ceil(SHADES * min(abs(one.mean_ms) / gap_ms / DEEPEST_GAPS, 1.0))
    return PulledBlow(symbol, ms, "late" if one.mean_ms > 0 else "early", shade)


def pulled(number: int, one: PullOff, gap_ms: float, *, told_gaps: float = PLAIN_GAPS) -> PulledOff:
    """Return one pull-off.

    Parameters
    ----------
    number : int
        In order of time, from 1.
    one : PullOff
        What was rung.
    gap_ms : float
        Time between blows, by which lateness is shaded.
    told_gaps : float
        From which blows are said to be early or late, in gaps.

    Returns
    -------
    PulledOff
    """
    rows = zip(("Handstroke", "Backstroke"), one.bells.tolist(), one.late_ms.tolist(), strict=True)
    return PulledOff(
        number,
        one.time_s,
        f"{one.off_ms:.0f}",
        faults_in_words(one.faults),
        tuple(
            (
                stroke,
                tuple(_blow(bell, late_ms, gap_ms, told_gaps) for bell, late_ms in zip(bells, lates_ms, strict=True)),
            )
            for stroke, bells, lates_ms in rows
        ),
    )


def _blow(bell: int, late_ms: float, gap_ms: float, told_gaps: float) -> PulledBlow:
    symbol = SYMBOLS[bell - 1] if bell else "?"
    if not np.isfinite(late_ms):
        return PulledBlow(symbol, "–", "missing", 0)
    gaps = abs(late_ms) / gap_ms
    if gaps < told_gaps or round(late_ms) == 0:
        return PulledBlow(symbol, f"{abs(late_ms):.0f}", "", 0)
    shade = ceil(SHADES * min(gaps / DEEPEST_GAPS, 1.0)) if gaps >= PLAIN_GAPS else 0
    return PulledBlow(symbol, f"{abs(late_ms):.0f}", "late" if late_ms > 0 else "early", shade)
