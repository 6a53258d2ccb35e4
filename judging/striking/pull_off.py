"""The pull-off: the first whole pull, when a band has nothing yet to listen to.

It is measured against the pace that the band settles to, or against itself where no more was rung. A band that
practises it pulls off again and again, standing between: `pull_offs` finds each in the log, `series` tells of them
together.
"""

from decimal import Decimal
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from judging.errors import NothingHeard
from judging.piece.piece import Piece
from judging.striking.deviation import deviations
from judging.striking.faults import charged_faults, levels
from judging.striking.laying import lay
from judging.striking.rhythm import fit_rhythm
from judging.striking.rules import CountingRules
from judging.striking.strike_log import StrikeLog
from judging.striking.values import PullOff, Rhythm, Rung

_DEFAULT = CountingRules()

#: Silence between two pull-offs, in rows.
SILENCE_ROWS = 1.5

#: Rows after the pull-off that are looked at for the pace a band settles to.
SETTLED_ROWS = 12

#: Share of a row's blows that must have been struck in their places for it to be a pull-off.
IN_PLACE = 0.6

#: A blow of a pull-off less far out than this is not spoken of, in gaps: the shipped line of a blemish.
SPOKEN_GAPS = 0.15

#: A pull-off slower or quicker than the pace settled to by this share, and by so many standard errors, is told so:
#: some way beyond the 3 % of tempo that are just noticed over six intervals (a published figure).
OTHER_PACE, SURE = 0.05, 3.0

#: What the grid takes of the blows of one whole pull: its start and its gap, or rather less where more was rung
#: (on simulated bands 2.0 and 1.1 of 12 blows).
TAKEN_UP = {False: 2, True: 1}


def pull_offs(log: StrikeLog, piece: Piece, rules: CountingRules = _DEFAULT) -> tuple[PullOff, ...]:
    """Every pull-off of a log.

    Parameters
    ----------
    log : StrikeLog
        What was heard.
    piece : Piece
        Its first row is what is pulled off in.
    rules : CountingRules, optional
        What each would be charged under; the pull-off counts as marked here.

    Returns
    -------
    tuple of PullOff
        In order of time; empty where the log does not begin with a whole pull of the first row.
    """
    found = (_pull_off(log, piece, begin, end, rules) for begin, end in _stretches(log, piece.bells))
    return tuple(pulled for pulled in found if pulled is not None)


def _stretches(log: StrikeLog, bells: int) -> list[tuple[int, int]]:
    """First blow and end of each stretch of ringing between silences."""
    steps = np.diff(log.times_s)
    usual = float(np.median(steps)) if len(steps) else 0.0
    cuts = np.flatnonzero(steps > SILENCE_ROWS * bells * usual) + 1
    return list(pairwise([0, *cuts.tolist(), len(log)]))


def _pull_off(log: StrikeLog, piece: Piece, begin: int, end: int, rules: CountingRules) -> PullOff | None:
    """First whole pull of a stretch, where it is one."""
    bells = piece.bells
    whole_pulls = (end - begin + bells // 2) // (2 * bells)  # a blow or two may not have been heard
    if not whole_pulls or not _begins(log.bells[begin : begin + 2 * bells], piece.rows[0]):
        return None
    for rows in range(min(2 * whole_pulls, 2 + SETTLED_ROWS), 0, -2):  # as many as were rung before the changes
        close = begin + rows * bells
        last = end if abs(end - close) <= bells // 2 else close
        rung = _rounds(log, piece, slice(begin, last), rows)
        if rung is not None:
            return _measured(rung, float(log.times_s[begin]), rules)
    return None


def _begins(bells: NDArray[np.int8], row: NDArray[np.int8]) -> bool:
    """Whether the blows may begin with the row: with one of its first two bells (a late treble comes second)."""
    return bool(bells[0] in {0, *row[:2].tolist()})


def _rounds(log: StrikeLog, piece: Piece, blows: slice, rows: int) -> Rung | None:
    """Some blows laid on as many rows of rounds; None where they are not that, from their first row on."""
    stretch = StrikeLog(log.times_s[blows].copy(), log.bells[blows].copy(), log.spread_ms[blows].copy())
    wanted = Piece("the pull-off", np.tile(piece.rows[0], (rows, 1)))
    try:
        rung = lay(stretch, wanted)
    except NothingHeard:
        return None
    if rung.rows_before or rung.bells.shape != wanted.rows.shape:
        return None
    heard = rung.strike[:2] >= 0
    in_place = heard & ((rung.bells[:2] == wanted.rows[:2]) | (rung.bells[:2] == 0))
    is_mostly = bool((rung.bells == wanted.rows).all(axis=1).mean() > 0.5)
    return rung if in_place.mean(axis=1).min() >= IN_PLACE and (is_mostly or rows == 2) else None


def _measured(rung: Rung, time_s: float, rules: CountingRules) -> PullOff:
    rhythm = fit_rhythm(rung, handstroke_gap=rules.handstroke_gap)
    found = deviations(rung, rhythm, rules.bands)
    marked = np.arange(len(rung.times_s)) < 2
    far = levels(rung, rhythm, found, rules, marked)
    late_ms = found.ms[:2].copy()
    settled = len(rung.times_s) > 2
    blows = int((~np.isnan(late_ms)).sum())
    off_ms = float(np.sqrt(np.nansum(late_ms**2) / max(blows - TAKEN_UP[settled], 1)))
    slower = _slower(rung, rhythm, off_ms) if settled else 0.0
    return PullOff(
        time_s=time_s,
        bells=rung.bells[:2].copy(),
        late_ms=late_ms,
        off_ms=off_ms,
        faults=sum((fault.charge for fault in charged_faults(rung, rhythm, found, far, rules, marked)), Decimal(0)),
        settled=settled,
        slower=slower,
        sentence=_sentence(late_ms, rung.bells[:2], rhythm.gap_s[:2] * 1000, off_ms, slower),
    )


def _slower(rung: Rung, rhythm: Rhythm, off_ms: float) -> float:
    """By what share the whole pull's own pace is slower than the settled one; 0 where it does not surely show."""
    times = rung.times_s[:2].ravel()
    heard = np.flatnonzero(~np.isnan(times))  # from handstroke to backstroke there is no extra gap: one even line
    apart = heard - heard.mean()
    own_s = float(apart @ times[heard]) / float(apart @ apart)
    settled_s = float(np.median(rhythm.gap_s[2:]))
    error_s = off_ms / 1000 / float(np.sqrt(apart @ apart))
    slower = own_s / settled_s - 1
    return slower if abs(slower) >= OTHER_PACE and abs(own_s - settled_s) >= SURE * error_s else 0.0


def _sentence(
    late_ms: NDArray[np.float64], bells: NDArray[np.int8], gap_ms: NDArray[np.float64], off_ms: float, slower: float
) -> str:
    """One pull-off in words: the blows that were out, the furthest first, at most three."""
    out = np.nan_to_num(late_ms / gap_ms[:, None])
    worst = [index for index in np.argsort(-np.abs(out), axis=None).tolist() if abs(out.ravel()[index]) >= SPOKEN_GAPS]
    off = f"{off_ms:.0f} ms from even on average"
    if slower:
        off += f", {100 * abs(slower):.0f} % {'slower' if slower > 0 else 'quicker'} than the pace it settled to"
    if not worst:
        return f"The pull-off was together: {off}, no blow more than {np.nanmax(np.abs(late_ms)):.0f} ms out"
    told: dict[int, list[str]] = {}  # a bell that is out at both strokes is named once
    for index in worst[:3]:
        stroke, late = ("handstroke", "backstroke")[index // late_ms.shape[1]], late_ms.ravel()[index]
        way = f"{abs(late):.0f} ms {'late' if late > 0 else 'early'} at {stroke}"
        told.setdefault(int(bells.ravel()[index]), []).append(way)
    bells_told = ", ".join(f"{bell} was {' and '.join(ways)}" for bell, ways in told.items())
    return f"In the pull-off, {bells_told}; all bells together were {off}"
