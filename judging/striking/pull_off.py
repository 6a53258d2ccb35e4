"""The pull-off: the first whole pull, when a band has nothing yet to listen to.

It is measured against the pace that the band settles to, or against itself where no more was rung. A band that
practises it pulls off again and again, standing between: each is found in the log, and whether they become better is
said only as surely as so few blows allow.
"""

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from judging.errors import NothingHeard
from judging.piece.piece import Piece
from judging.striking.laying import lay
from judging.striking.rhythm import fit_rhythm
from judging.striking.strike_log import StrikeLog
from judging.striking.values import PullOff, Rung

#: Silence between two pull-offs, in rows.
SILENCE_ROWS = 1.5

#: Rows after the pull-off that are looked at for the pace a band settles to.
SETTLED_ROWS = 12

#: A blow of a pull-off less far out than this is not spoken of, in gaps: the shipped line of a blemish.
SPOKEN_GAPS = 0.15

#: Surest that chance is still believed to have made a difference, in standard errors (two-sided 5 %).
SURE = 1.96


def pull_offs(log: StrikeLog, piece: Piece) -> tuple[PullOff, ...]:
    """Every pull-off of a log.

    Parameters
    ----------
    log : StrikeLog
        What was heard.
    piece : Piece
        Its first row is what is pulled off in.

    Returns
    -------
    tuple of PullOff
        In order of time; empty where the log does not begin with a whole pull of the first row.
    """
    found = []
    for begin, end in _stretches(log, piece.bells):
        pulled = _pull_off(log, piece, begin, end)
        if pulled is not None:
            found.append(pulled)
    return tuple(found)


def series_in_words(series: tuple[PullOff, ...]) -> str:
    """What a band is told of its pull-offs.

    Parameters
    ----------
    series : tuple of PullOff
        In order of time.

    Returns
    -------
    str
        One sentence for one pull-off; for several how they went, and whether they became better, if that can be told.
    """
    if not series:
        return ""
    if len(series) == 1:
        return series[0].sentence
    sizes = ", ".join(f"{one.off_ms:.0f}" for one in series)
    return f"{len(series)} pull-offs, {sizes} ms from even on average: {_trend(series)}"


def _trend(series: tuple[PullOff, ...]) -> str:
    """Whether the later half is struck closer than the earlier, with its uncertainty."""
    half = len(series) // 2
    late = [np.concatenate([one.late_ms.ravel() for one in part]) for part in (series[:half], series[-half:])]
    before, after = (float(np.sqrt(np.nanmean(part**2))) for part in late)
    blows = [int((~np.isnan(part)).sum()) - 2 * half for part in late]  # less what each grid took up
    if min(before, after) <= 0:
        return "every blow of one half is exactly even, so nothing can be compared"
    # The logarithm of a spread found from N blows has a standard error of 1 / sqrt(2 N).
    change, error = np.log(after / before), np.sqrt(sum(1 / (2 * count) for count in blows))
    if abs(change) < SURE * error:
        low, high = (100 * (np.exp(change + side * SURE * error) - 1) for side in (-1, 1))
        return (
            f"too few to tell whether they become better (the later half is {low:+.0f} to {high:+.0f} % of the earlier)"
        )
    word = "better" if change < 0 else "less even"
    return f"they become {word}, from {before:.0f} to {after:.0f} ms"


def _stretches(log: StrikeLog, bells: int) -> list[tuple[int, int]]:
    """First blow and end of each stretch of ringing between silences."""
    steps = np.diff(log.times_s)
    usual = float(np.median(steps)) if len(steps) else 0.0
    cuts = np.flatnonzero(steps > SILENCE_ROWS * bells * usual) + 1
    return list(pairwise([0, *cuts.tolist(), len(log)]))


def _pull_off(log: StrikeLog, piece: Piece, begin: int, end: int) -> PullOff | None:
    """First whole pull of a stretch, where it is one."""
    bells = piece.bells
    most = min(2 * ((end - begin) // (2 * bells)), 2 + SETTLED_ROWS)
    if most < 2 or not _begins(log.bells[begin : begin + 2 * bells], piece.rows[0]):
        return None
    for rows in range(most, 0, -2):  # as many rounds as were rung before the changes tell the pace
        rung = _rounds(log, piece, slice(begin, begin + rows * bells), rows)
        if rung is not None:
            return _told(rung, float(log.times_s[begin]))
    return None


def _rounds(log: StrikeLog, piece: Piece, blows: slice, rows: int) -> Rung | None:
    """Some blows laid on as many rows of rounds; None where they are not that, from their first row on."""
    stretch = StrikeLog(log.times_s[blows].copy(), log.bells[blows].copy(), log.spread_ms[blows].copy())
    wanted = Piece("the pull-off", np.tile(piece.rows[0], (rows, 1)))
    try:
        rung = lay(stretch, wanted)
    except NothingHeard:
        return None
    if not _has_begun(rung) or rung.bells.shape != wanted.rows.shape:
        return None
    is_mostly = bool((rung.bells == wanted.rows).all(axis=1).mean() > 0.5)
    return rung if is_mostly or rows == 2 else None


def _told(rung: Rung, time_s: float) -> PullOff:
    rhythm = fit_rhythm(rung)
    late_ms = (rung.times_s - rhythm.ideal_s)[:2] * 1000
    return PullOff(
        time_s=time_s,
        bells=rung.bells[:2].copy(),
        late_ms=late_ms,
        off_ms=float(np.sqrt(np.nanmean(late_ms**2))),
        sentence=_sentence(late_ms, rung.bells[:2], rhythm.gap_s[:2] * 1000),
    )


def _has_begun(rung: Rung) -> bool:
    """Whether the stretch was laid from its own first row on."""
    return not rung.rows_before and bool((rung.strike[:2] >= 0).any(axis=1).all())


def _begins(bells: NDArray[np.int8], row: NDArray[np.int8]) -> bool:
    """Whether the blows are a whole pull of the row, but for a slip."""
    wanted = np.concatenate([row, row])
    return len(bells) == len(wanted) and bool(((bells == wanted) | (bells == 0)).mean() >= 0.6)


def _sentence(late_ms: NDArray[np.float64], bells: NDArray[np.int8], gap_ms: NDArray[np.float64]) -> str:
    """One pull-off in words: the blows that were out, the furthest first, at most three."""
    out = np.nan_to_num(late_ms / gap_ms[:, None])
    worst = [index for index in np.argsort(-np.abs(out), axis=None).tolist() if abs(out.ravel()[index]) >= SPOKEN_GAPS]
    off = f"{np.sqrt(np.nanmean(late_ms**2)):.0f} ms from even on average"
    if not worst:
        return f"The pull-off was together: {off}, no blow more than {np.nanmax(np.abs(late_ms)):.0f} ms out"
    told = []
    for index in worst[:3]:
        stroke, late = ("handstroke", "backstroke")[index // late_ms.shape[1]], late_ms.ravel()[index]
        told.append(f"{bells.ravel()[index]} was {abs(late):.0f} ms {'late' if late > 0 else 'early'} at {stroke}")
    return f"In the pull-off {', '.join(told)}; {off}"
