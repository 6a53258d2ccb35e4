"""The whole arrow: STRIKE LOG + PIECE → COUNT."""

from dataclasses import replace
from decimal import Decimal

import numpy as np

from judging.errors import NothingHeard
from judging.piece.piece import Piece
from judging.striking.calibration import as_people_write
from judging.striking.deviation import deviations
from judging.striking.faults import charged_faults, levels
from judging.striking.habits import habits
from judging.striking.laying import lay
from judging.striking.pull_off import pull_offs
from judging.striking.pull_off_series import series_in_words
from judging.striking.rhythm import fit_rhythm
from judging.striking.rules import CountingRules
from judging.striking.strike_log import StrikeLog
from judging.striking.summing_up import notes, summing_up
from judging.striking.values import Count

_DEFAULT = CountingRules()


#: Sixteen bells at their quickest are about 0.1 s apart, three at their slowest under 1 s (arithmetic of peal speed);
#: beyond a few times that the clock is not in seconds.
LEAST_GAP_S, MOST_GAP_S = 0.03, 3.0


def count_striking(log: StrikeLog, piece: Piece, rules: CountingRules = _DEFAULT, *, name: str = "") -> Count:
    """Count of a band's striking, with all its evidence.

    Parameters
    ----------
    log : StrikeLog
        What was heard.
    piece : Piece
        What should have been rung.
    rules : CountingRules, optional
        What it is counted under.
    name : str, optional
        What the log is called in messages.

    Returns
    -------
    Count
        Faults, charges, habits and words.

    Raises
    ------
    NothingHeard
        Where the log is empty or is not this piece.
    """
    try:
        rung = lay(log, piece)
        rhythm = fit_rhythm(rung, handstroke_gap=rules.handstroke_gap)
    except NothingHeard as error:
        raise NothingHeard(name or error.where, error.problem) from error
    _check_pace(float(np.median(rhythm.gap_s)), name)
    found = deviations(rung, rhythm, rules.bands)

    marked = rules.marked.rows(rung.piece)
    judged = marked & rung.is_rung
    far = levels(rung, rhythm, found, rules, judged)
    faults = charged_faults(rung, rhythm, found, far, rules, judged)
    charge = np.zeros(rung.times_s.shape)
    for fault in faults:
        charge[fault.row, fault.place - 1] += float(fault.charge)
    total = sum((fault.charge for fault in faults), Decimal(0))
    rows_judged = int(judged.sum())
    most = rules.scheme.most(rows_judged)
    for array in (judged, charge, far.doubtful):
        array.setflags(write=False)
    pulled = pull_offs(log, rung.piece, rules)
    count = Count(
        rung=rung,
        rhythm=rhythm,
        deviations=found,
        judged=judged,
        faults=faults,
        charge=charge,
        total=total,
        beside_judges=as_people_write(total, rows_judged, rules.saturation),
        rows_judged=rows_judged,
        most=most,
        habits=(),
        pull_off=series_in_words(pulled),
        summary="",
        scheme=rules.scheme.name,
        fingerprint=rules.fingerprint,
        changes_missing=int((marked & ~judged).sum()),
        mark=most - total if rules.scheme.marks_up and most is not None else None,
        doubtful=far.doubtful,
        pull_offs=pulled,
    )
    count = replace(count, habits=habits(count, rules, far), notes=notes(count, rules))
    return replace(count, summary=summing_up(count))


def _check_pace(gap_s: float, name: str) -> None:
    """Refuse times that cannot be in seconds."""
    if not LEAST_GAP_S <= gap_s <= MOST_GAP_S:
        raise NothingHeard(
            name,
            f"blows are {gap_s:.3g} s apart, and bells ring {LEAST_GAP_S} to {MOST_GAP_S} s apart; "
            "times are in seconds, are these milliseconds?",
        )
