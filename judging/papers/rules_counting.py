"""How the machine counts, in words: tolerance, scheme, what is marked, doubt, the handstroke gap."""

from decimal import Decimal

import numpy as np

from judging.papers.rules_part import RulesPart
from judging.papers.words import counted, figure
from judging.striking.marking import MarkingScheme
from judging.striking.rules import CountingRules, Marked

#: Bells and pace of the worked tolerances: gap = 2 × peal seconds / 5,040 changes / (2n + 1), with a full open lead.
_EXAMPLES = ((6, "2h40", 160), (8, "2h50", 170), (10, "3h10", 190), (12, "3h20", 200))

_DOUBTFUL = {
    "count": "counts as it was measured",
    "lower": "counts at the level it surely reaches",
    "leave out": "is not charged",
}


def counting_parts(rules: CountingRules) -> tuple[RulesPart, ...]:
    """Put the counting rules into words.

    Parameters
    ----------
    rules : CountingRules
        As declared.

    Returns
    -------
    tuple of RulesPart
        What is marked, the tolerance with its lines worked out for common numbers of bells, the scheme with a row
        worked out by it.
    """
    style = (
        f"Blows are measured against steady ringing with a handstroke gap of {rules.handstroke_gap:g}, as declared."
        if rules.handstroke_gap is not None
        else "Blows are measured against the band's own steady ringing: its own pace and its own handstroke gap."
    )
    return (
        RulesPart("What is marked", (_marked(rules.marked),)),
        RulesPart("What is a fault of striking", (style, *_tolerance(rules)), *_tolerance_example(rules)),
        RulesPart("What a fault costs", _scheme(rules.scheme), example=_scheme_example(rules.scheme)),
    )


def _marked(marked: Marked) -> str:
    parts = [
        part
        for part, is_marked in (
            ("the pull-off", marked.pull_off),
            ("the opening rounds", marked.opening),
            (f"the first {marked.most_changes} changes" if marked.most_changes else "every change", True),
            ("the closing rounds up to the stand", marked.closing),
        )
        if is_marked
    ]
    sentence = f"Marked: {', '.join(parts)}."
    if marked.free_rows:
        sentence += f" The first {marked.free_rows} of these rows are free."
    return sentence


def _tolerance(rules: CountingRules) -> tuple[str, ...]:
    bands = rules.bands
    lines = (
        f"A blow is a blemish (shown, not charged) from {bands.blemish_gaps:g} of a gap and {bands.blemish_ms:g} ms, a "
        f"half fault from {bands.half_gaps:g} and {bands.half_ms:g} ms, a whole fault from {bands.whole_gaps:g} and "
        f"{bands.whole_ms:g} ms: both must be reached."
    )
    clash = f"Two successive blows nearer than {bands.clash_gaps:g} of a gap are a clash, charged to whichever made it."
    one_cause = (
        "One cause, one fault: a blow is charged for what it adds to what has already been charged. Carrying a "
        "lateness is free, and so is putting it right."
    )
    doubtful = (
        f"A blow is doubtful where twice the ear's own spread straddles a line; it {_DOUBTFUL[rules.doubtful]}, and is "
        "shown with a question mark."
    )
    return lines, clash, one_cause, doubtful


def _tolerance_example(rules: CountingRules) -> tuple[tuple[tuple[str, ...], ...], str]:
    """Lines in milliseconds for common numbers of bells; the rhythm behind them is the trade's own arithmetic."""
    rows: list[tuple[str, ...]] = [("Bells", "Peal speed", "Gap", "Blemish", "Half", "Whole", "Clash under")]
    h = 1.0 if rules.handstroke_gap is None else rules.handstroke_gap
    for bells, pace, minutes in _EXAMPLES:
        gap_s = 2 * minutes * 60 / 5040 / (2 * bells + h)
        (lines,) = rules.bands.lines_gaps(np.array([gap_s]))
        ms = [1000 * gap_s * line for line in (1.0, *lines.tolist(), rules.bands.clash_gaps)]
        rows.append((str(bells), pace, *(f"{value:.0f} ms" for value in ms)))
    return tuple(rows), "At ordinary paces these lines are:"


def _scheme(scheme: MarkingScheme) -> tuple[str, ...]:
    unit = {0: "", 1: "row", 2: "whole pull"}.get(scheme.unit_rows, f"block of {scheme.unit_rows} rows")
    costs = (
        f"The scheme is “{scheme.name}”: a half fault costs {figure(scheme.half)}, a whole fault "
        f"{figure(scheme.whole)}, a clash {figure(scheme.clash)}, a blow not heard {figure(scheme.missing)}, a blow "
        f"too many {figure(scheme.extra)}."
    )
    sentences = [costs]
    if unit:
        how = "only the worst of a {} is charged" if scheme.adds == "worst" else "faults of a {} are added"
        cap = f", to {figure(scheme.cap)} at most" if scheme.cap is not None else ""
        step = f", in steps of {figure(scheme.step)}" if scheme.step is not None else ""
        sentences.append(f"{how.format(unit).capitalize()}{step}{cap}.")
    if scheme.marks_up and scheme.cap is not None:
        sentences.append(f"Marks go up: each {unit} earns {figure(scheme.cap)} less its faults.")
    return tuple(sentences)


def _scheme_example(scheme: MarkingScheme) -> str:
    charges = [scheme.half, scheme.whole, scheme.clash]
    told = "Example: a half fault, a whole fault and a clash in one row"
    if scheme.unit_rows == 0:
        return f"{told} cost {counted(sum(charges, Decimal(0)), 'faults')}."
    total = sum(scheme.shares(charges), Decimal(0))
    if scheme.marks_up and scheme.cap is not None:
        return f"{told} leave {counted(scheme.cap - total, 'marks')} of {figure(scheme.cap)}."
    return f"{told} cost {counted(total, 'faults')}."
