"""The stand: whether the bells stopped together when the ringing was over.

After the return to rounds a band rings on until it is told to stand, and then every bell is set at the same stroke. A
bell that is not set strikes once more, or several times, when the others have stopped; one that is set too soon is not
heard in the last row. A log that breaks off within a row tells nothing: there the ringing went on and the log did not.
"""

import numpy as np

from judging.striking.strike_log import StrikeLog
from judging.striking.values import Rung, StandSlip

#: Silence after which a blow is not of this ringing any more, in rows: a bell that was not set comes round in one.
SILENCE_ROWS = 2.5

Row = list[tuple[int, float]]


def stand_slips(log: StrikeLog, rung: Rung) -> tuple[StandSlip, ...]:
    """Bells that did not stand with the others.

    Parameters
    ----------
    log : StrikeLog
        What was heard.
    rung : Rung
        The same, laid on the piece.

    Returns
    -------
    tuple of StandSlip
        In order of bell; empty where all stood together, where the piece was not rung to its end, or where the log
        breaks off before the stand.
    """
    if not rung.is_rung[-1]:
        return ()
    rows = _last_rows(log, rung)
    before, last = next((row for row in rows[::-1] if 2 * len(row) > len(rows[0])), rows[0]), rows[-1]
    ringing = {bell for bell, _ in rows[0]}
    if len(rows) == 1 or 0 in {bell for row in rows for bell, _ in row}:
        return ()
    if before is last:
        absent = ringing - {bell for bell, _ in last}
        if _breaks_off(last, rung):
            return ()
        heard = {bell: time_s for row in rows for bell, time_s in row}
        return tuple(StandSlip(bell, heard[bell], early=True) for bell in sorted(absent))
    after = [blow for row in rows[rows.index(before) + 1 :] for blow in row]
    if len(after) > 1 and _breaks_off(after, rung):
        return ()
    late = dict(after)
    return tuple(StandSlip(bell, late[bell], early=False) for bell in sorted(late))


def _last_rows(log: StrikeLog, rung: Rung) -> list[Row]:
    """The last row of the piece, and what was rung after it, each row up to where a bell comes again."""
    laid = rung.strike[-1][rung.strike[-1] >= 0]
    bells, times_s = log.bells.tolist(), log.times_s.tolist()
    rows: list[Row] = [[(bells[blow], times_s[blow]) for blow in laid.tolist()]]
    gap_s = float(np.median(np.diff(log.times_s)))
    silence_s = SILENCE_ROWS * gap_s * rung.piece.bells
    for blow in range(int(laid[-1]) + 1, len(log)):
        if times_s[blow] - times_s[blow - 1] > silence_s:
            break
        if len(rows) == 1 or bells[blow] in {bell for bell, _ in rows[-1]}:
            rows.append([])
        rows[-1].append((bells[blow], times_s[blow]))
    return rows


def _breaks_off(row: Row, rung: Rung) -> bool:
    """Whether the blows are just the beginning of one more row."""
    beginning: list[int] = rung.piece.rows[-1][: len(row)].tolist()
    return [bell for bell, _ in row] == beginning
