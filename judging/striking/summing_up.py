"""The band's ringing in a few kind sentences, and what the reader of a count must know."""

from collections.abc import Iterator
from decimal import Decimal

import numpy as np

from judging.figures import counted, some
from judging.piece.remarks import remarks
from judging.striking.rhythm import longer_before_handstrokes
from judging.striking.rules import CountingRules
from judging.striking.values import Count

#: Faults a row below which ringing is called so (published counts of six-bell test pieces: 0.15 a row won, 0.5 was
#: mid-table); words to encourage, not a grade.
VERY_STEADY, STEADY = 0.05, 0.2

#: So much more space before backstrokes than before handstrokes, in gaps, is no style of leading (a closed lead is 0).
REVERSED = 0.3

#: Rows in which a habit would have shown, and from which on ringing is called steady; rows of one whole pull.
ENOUGH_ROWS, WHOLE_PULL = 24, 2


def faults_in_words(total: Decimal) -> str:
    """Faults as they are read out.

    Parameters
    ----------
    total : Decimal
        Faults.

    Returns
    -------
    str
        With halves as ½.

    Examples
    --------
    >>> from decimal import Decimal
    >>> [faults_in_words(Decimal(total)) for total in ("18.5", "1", "0.5", "0", "7.25")]
    ['18½ faults', '1 fault', '½ fault', 'no faults', '7¼ faults']
    """
    return counted(total, "faults") if total else "no faults"


def summing_up(count: Count) -> str:
    """A few sentences to the band: how it was, what went well, and the first thing to work on.

    Parameters
    ----------
    count : Count
        With its habits.

    Returns
    -------
    str
        Each sentence with its full stop.
    """
    if len(count.pull_offs) > 1 and count.rows_judged <= WHOLE_PULL:
        return f"{count.pull_off}."
    rows = some(count.rows_judged, "row")
    share = float(count.total) / max(count.rows_judged, 1)
    grade = "Very steady ringing: " if share <= VERY_STEADY else "Steady ringing: " if share <= STEADY else ""
    opening = grade if count.rows_judged >= ENOUGH_ROWS else ""
    result = faults_in_words(count.total) if count.mark is None else f"{count.mark} marks of {count.most}"
    first = f"{opening}{result} in {rows}."
    sentences = [first[0].upper() + first[1:]]
    good = [habit for habit in count.habits if habit.praise]
    work = [habit for habit in count.habits if not habit.praise]
    if good:
        sentences.append(f"{good[0].sentence}.")
    if work:
        saves = f" ({faults_in_words(work[0].saves)} would be saved)" if work[0].saves else ""
        sentences.append(f"First to work on: {work[0].sentence[0].lower()}{work[0].sentence[1:]}{saves}.")
    elif count.total:
        worst = max(count.faults, key=lambda fault: (fault.charge, abs(fault.own_ms)))
        first = "No one habit stands out; first" if count.rows_judged >= ENOUGH_ROWS else "First"
        sentences.append(f"{first} to listen to again: {worst.sentence}.")
    return " ".join(sentences)


def notes(count: Count, rules: CountingRules) -> tuple[str, ...]:
    """What the reader of a count must know.

    Parameters
    ----------
    count : Count
        The count.
    rules : CountingRules
        What it was counted under.

    Returns
    -------
    tuple of str
        One sentence each.
    """
    told = [*remarks(count.rung.piece), *_strokes_reversed(count)]
    if rules.handstroke_gap is not None:
        told.append(f"Measured against the declared handstroke gap of {rules.handstroke_gap:g} of a blow")
    elif not count.rhythm.handstroke_gap_is_seen:
        told.append("The handstroke gap cannot be seen in so short a piece: a full open lead is assumed")
    if rules.saturation is not None:
        told.append(
            f"Beside the judges it stands as {faults_in_words(count.beside_judges)}: people are taken to write at most "
            f"about {counted(rules.saturation, 'faults')} a row"
        )
    if len(count.pull_offs) > 1:
        first_s = float(np.nanmin(count.rung.times_s))
        told.append(
            f"{len(count.pull_offs)} pull-offs were found; the faults are those of the ringing from {first_s:.1f} s on"
        )
    if count.changes_missing:
        rows = "1 marked row was" if count.changes_missing == 1 else f"{count.changes_missing} marked rows were"
        told.append(f"{rows} not rung; what that costs is a rule of the contest")
    piece = count.rung.piece
    told.extend(
        f"{_why_afresh(count, row)} before change {piece.change_of(row)}: the rhythm begins afresh there"
        for row in np.flatnonzero(count.rhythm.follows_pause).tolist()
        if piece.change_of(row) is not None
    )
    doubtful = sum(fault.doubtful and fault.judged for fault in count.faults)
    if doubtful:
        ways = {"count": "counted as measured", "lower": "counted at the lower level", "leave out": "left out"}
        told.append(f"{doubtful} doubtful {'blow is' if doubtful == 1 else 'blows are'} {ways[rules.doubtful]}")
    silent = sorted({bell for event in count.rung.events if event.kind == "missing blow" for bell in event.bells})
    if silent:
        bells = ", ".join(map(str, silent))
        told.append(
            f"Not every blow was heard (bell{'s' if len(silent) > 1 else ''} {bells}): each silence is charged once"
        )
    return tuple(told)


def _why_afresh(count: Count, row: int) -> str:
    """Say what broke the rhythm before a row: silence, or rows left out of ringing that went on."""
    rung, rhythm = count.rung, count.rhythm
    rows = np.flatnonzero(rung.is_rung)
    last, first = int(rows[rows < row][-1]), int(rows[rows >= row][0])
    silence_s = float(np.nanmin(rung.times_s[first]) - np.nanmax(rung.times_s[last]))
    is_pause = silence_s > (rung.piece.bells / 2 + 1) * float(rhythm.gap_s[first])  # as much as half a row, unheard
    return "The ringing stopped" if is_pause or first == last + 1 else "Rows were left out"


def _strokes_reversed(count: Count) -> Iterator[str]:
    """Say where the strokes seem to be named the wrong way round, with the likely cause."""
    longer = longer_before_handstrokes(count.rung, count.rhythm)
    if longer is None or longer > -REVERSED:
        return
    piece = count.rung.piece
    other = "back" if piece.first_change_stroke == "hand" else "hand"
    odd = f", or one opening row of {piece.opening} too many or too few" if piece.opening else ""
    yield (
        f"The space between whole pulls, {-longer:.1f} of a blow, comes before the backstrokes: most likely the "
        f"strokes are named the wrong way round; did the first change come at {other}stroke "
        f'(first_stroke = "{other}" in the piece){odd}?'
    )
