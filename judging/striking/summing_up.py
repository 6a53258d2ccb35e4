"""The band's ringing in a few kind sentences, and what its reader must know."""

import numpy as np

from judging.striking.rules import CountingRules
from judging.striking.values import Count


def faults_in_words(total: object) -> str:
    """Faults as they are read out.

    Examples
    --------
    >>> from decimal import Decimal
    >>> faults_in_words(Decimal("18.5")), faults_in_words(Decimal(1)), faults_in_words(Decimal("0.5"))
    ('18½ faults', '1 fault', '½ fault')
    """
    figure = float(str(total))
    whole, half = int(figure), figure % 1 == 0.5
    if not half and figure != whole:
        return f"{figure:g} faults"
    number = f"{whole or ''}½" if half else str(whole)
    return f"{number} {'fault' if figure in (0.5, 1) else 'faults'}"


def summing_up(count: Count) -> str:
    """Two or three sentences to the band, with the first thing to work on."""
    rows = f"{count.rows_judged} row{'' if count.rows_judged == 1 else 's'}"
    sentences = [f"{faults_in_words(count.total)[0].upper()}{faults_in_words(count.total)[1:]} in {rows}."]
    praise = [habit for habit in count.habits if habit.praise]
    work = [habit for habit in count.habits if not habit.praise]
    if praise:
        sentences.append(f"{praise[0].sentence}.")
    if work:
        sentences.append(f"First to work on: {work[0].sentence}.")
    elif count.total:
        sentences.append(
            "No one habit stands out: the faults are scattered, so listening together is the thing to work on."
        )
    else:
        sentences.append("Very even ringing.")
    return " ".join(sentences)


def notes(count: Count, rules: CountingRules) -> tuple[str, ...]:
    """What the reader of a count must know."""
    told = []
    if not count.rhythm.handstroke_gap_is_seen and rules.handstroke_gap is None:
        told.append("The handstroke gap cannot be seen in so short a piece: a full open lead is assumed")
    if count.changes_missing:
        told.append(
            f"{count.changes_missing} rows that are marked were not rung; what they cost is a rule of the contest"
        )
    doubtful = sum(1 for fault in count.faults if fault.doubtful and fault.judged)
    if doubtful:
        ways = {"count": "counted as measured", "lower": "counted at the lower level", "leave out": "left out"}
        told.append(f"{doubtful} doubtful blows are {ways[rules.doubtful]}")
    silent = sorted({bell for event in count.rung.events if event.kind == "missing blow" for bell in event.bells})
    if silent:
        told.append(f"Not every blow was heard (bell {', '.join(map(str, silent))}): each silence is charged once")
    if np.isfinite(count.rhythm.handstroke_gap) and rules.handstroke_gap is not None:
        told.append(f"Measured against the declared handstroke gap of {rules.handstroke_gap:g}")
    return tuple(told)
