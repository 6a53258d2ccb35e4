"""A band's line of the result → how its mark was reached, step by step, as printed."""

from collections.abc import Mapping

from judging.figures import counted, figure
from judging.marks.values import Placed
from judging.papers.sheet_values import MarkStep


def mark_steps(placed: Placed, *, unit: str, combining: str, judges: Mapping[str, str]) -> tuple[MarkStep, ...]:
    """From each judge's own figure, adjustment by adjustment, to the mark.

    Parameters
    ----------
    placed : Placed
        The band's line.
    unit : str
        Of the mark.
    combining : str
        How the judges' figures are combined, in words.
    judges : mapping of str to str
        Names as printed, by identifier; an identifier without one is printed itself.

    Returns
    -------
    tuple of MarkStep
        The last is the mark itself, where there is one.
    """
    steps = []
    for judge, after in placed.by_judge.items():
        name = judges.get(judge, judge)
        own = [adjustment for adjustment in placed.adjustments if adjustment.judge == judge]
        steps.append(MarkStep(name, "counted", figure(own[0].before if own else after)))
        steps += [MarkStep(name, adjustment.rule, figure(adjustment.after)) for adjustment in own]
    together = [adjustment for adjustment in placed.adjustments if not adjustment.judge]
    if together:
        steps.append(MarkStep("together", combining or "combined", figure(together[0].before)))
        steps += [MarkStep("together", adjustment.rule, figure(adjustment.after)) for adjustment in together]
    if placed.mark is not None:
        steps.append(MarkStep("mark", "" if together else combining, counted(placed.mark, unit)))
    return tuple(steps)
