"""How sheets become places, in words, with examples worked by the ranker itself."""

from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal

from judging.marks.ranking import rank
from judging.marks.rules import MachinePart, MarksRules, Penalty, Rounding, Ties
from judging.marks.ties import name_of
from judging.marks.values import Entrant, Sheet
from judging.papers.rules_part import RulesPart
from judging.papers.words import counted, figure

_POLICIES = {
    "sum": "the judges' figures are added up",
    "mean": "the mark is the mean of the judges' figures",
    "ratio": "each figure is divided by that judge's own mean, and these are averaged, so that a severe judge does not "
    "outweigh a lenient one",
    "standard score": "each figure is measured from that judge's own mean in that judge's own standard deviations, and "
    "these are added up, so that judges of different severity and spread weigh the same",
    "placings": "each judge's places are added up; equal figures share the mean of their places",
    "majority of placings": "a band's mark is the best place that more than half of the judges gave it or bettered",
    "agreed mark": "the judges confer and give one mark",
}

_MISSING = {
    "refuse": "There is no result while a judge's sheet is missing.",
    "leave the judge out": "A judge who has no sheet for one band counts for none of them.",
    "use those present": "Where a judge has no sheet for a band, the average is taken over those who have.",
}

_MODES = {
    "half up": "halves up",
    "half even": "halves to the even step",
    "half down": "halves down",
    "up": "away from zero",
    "down": "towards zero",
}

#: What the examples are worked on: three bands, two judges of different severity and spread (made up).
_FIGURES = {"A": (18, 62), "B": (24, 50), "C": (30, 45)}


def marks_parts(rules: MarksRules, judges: Mapping[str, str]) -> tuple[RulesPart, ...]:
    """Put the rules of marks into words.

    Parameters
    ----------
    rules : MarksRules
        As declared.
    judges : mapping of str to str
        Judges' names as printed, by identifier.

    Returns
    -------
    tuple of RulesPart
        Sheets and their combining, the machine's part, penalties, ties; examples are ranked under these very rules.
    """
    parts = [
        RulesPart("How the judges' figures are combined", _combining(rules), *_combining_example(rules)),
        RulesPart("The machine's part", (_machine(rules.machine),)),
    ]
    if rules.penalties:
        sentences = tuple(_penalty(penalty, rules) for penalty in rules.penalties)
        parts.append(RulesPart("Penalties and handicaps, in this order", sentences))
    return (*parts, RulesPart("Ties", _ties(rules.ties, judges)))


def _combining(rules: MarksRules) -> tuple[str, ...]:
    sheets, combining = rules.sheets, rules.combining
    better = "fewer is better" if sheets.lower_is_better else "more is better"
    most = f", {figure(sheets.most)} at most" if sheets.most is not None else ""
    sentences = [
        f"A sheet holds {sheets.unit} in steps of {figure(sheets.step)}{most}; {better}.",
        f"Combining: {_POLICIES[combining.policy]}.",
    ]
    if combining.drop != "none":
        sentences.append("Each band's highest and lowest figures are left out first.")
    sentences.append(_MISSING[combining.missing_judge])
    ranks = "the rounded mark ranks" if rules.rank_rounded else "rounding is for print only, and the full mark ranks"
    sentences.append(f"Marks are rounded to {_rounding(rules.rounding)}; {ranks}.")
    return tuple(sentences)


def _rounding(rounding: Rounding) -> str:
    return f"steps of {figure(rounding.step)}, {_MODES[rounding.mode]}"


def _combining_example(rules: MarksRules) -> tuple[tuple[tuple[str, ...], ...], str]:
    """Three bands ranked under these rules; none where there is nothing to combine, or the figures are too large."""
    most = rules.sheets.most
    highest = max(max(figures) for figures in _FIGURES.values())
    if rules.combining.policy == "agreed mark" or (most is not None and most < highest):
        return (), ""
    judges = ("1", "2") if rules.combining.drop == "none" else ("1", "2", "3")
    bare = replace(rules, penalties=(), ties=Ties(), machine=MachinePart())
    sheets = [
        Sheet(judge, band, _on_step(Decimal((*figures, 40)[int(judge) - 1]), rules))
        for band, figures in _FIGURES.items()
        for judge in judges
    ]
    result = rank([Entrant(band) for band in _FIGURES], sheets, bare, judges=judges)
    rows = [("Band", *(f"Judge {judge}" for judge in judges), f"Mark ({result.unit})", "Place")]
    for placed in result.places:
        own = [figure(next(s.total for s in sheets if (s.judge, s.entry) == (judge, placed.entry))) for judge in judges]
        mark = figure(placed.mark) if placed.mark is not None else ""
        rows.append((placed.entry, *own, mark, f"{placed.place}{' =' if placed.tied else ''}"))
    return tuple(rows), "An example, made up and ranked under these rules:"


def _on_step(number: Decimal, rules: MarksRules) -> Decimal:
    """Nearest figure that a sheet may hold, below."""
    return number // rules.sheets.step * rules.sheets.step


def _machine(machine: MachinePart) -> str:
    quality = (
        f"If any band of a section has no count, or one with more than {figure(machine.most_unsure_percent)} % of its "
        f"marked blows not heard or timed less surely than {figure(machine.sure_within_ms)} ms, the machine has no "
        "part in any place of that section."
    )
    if machine.part == "cross-check":
        return "The machine's count is shown beside the judges' figures and has no part in any place."
    if machine.part == "tie-break":
        return f"The machine's count is asked only where a tie rule says so. {quality}"
    return f"The machine's count has a voice of weight {figure(machine.weight)}, a judge's being 1. {quality}"


def _penalty(penalty: Penalty, rules: MarksRules) -> str:
    base = "each judge's figure" if penalty.base == "each judge" else "the combined mark"
    lower = rules.sheets.lower_is_better
    words = [f"{penalty.kind.capitalize()}, on {base}:"]
    if penalty.multipliers:
        steps = ", ".join(f"{number}: × {times}" for number, times in enumerate(penalty.multipliers))
        words.append(f"faults are multiplied by the number of experienced ringers ({steps}, and so for more).")
    each = []
    if penalty.percent:
        each.append(f"{figure(penalty.percent)} % of the figure {penalty.percent_of}")
    if penalty.amount:
        each.append(counted(penalty.amount, rules.sheets.unit))
    if each:
        words.append(f"{' and '.join(each)} {'added' if lower else 'taken off'} for each {penalty.of_what}.")
    if penalty.most is not None:
        words.append(f"With more than {penalty.most} a band is not placed.")
    if penalty.within_changes is not None:
        words.append(f"Begun again after more than {penalty.within_changes} changes, a band is not placed.")
    if penalty.rounding is not None:
        words.append(f"Rounded to {_rounding(penalty.rounding)}.")
    return " ".join((*words, *_penalty_example(penalty, rules)))


def _penalty_example(penalty: Penalty, rules: MarksRules) -> tuple[str, ...]:
    """One of it on a figure of 40, worked by the ranker; nothing where it only says who is not placed."""
    bare = replace(
        rules,
        penalties=(
            replace(penalty, most=None) if penalty.percent or penalty.amount or penalty.multipliers else penalty,
        ),
        combining=replace(rules.combining, policy="sum", drop="none", missing_judge="refuse"),
        sheets=replace(rules.sheets, most=None),
        ties=Ties(),
        machine=MachinePart(),
    )
    one = Entrant(
        "A", borrowed=1, experienced=1, restarts=1, missing_rows=1, minutes_over=1, wrong_method="as reported"
    )
    result = rank([one], [Sheet("1", "A", _on_step(Decimal(40), rules))], bare, judges=("1",))
    return tuple(
        f"Example: {step.rule}: {figure(step.before)} becomes {figure(step.after)}."
        for placed in result.places
        for step in placed.adjustments
    )


def _ties(ties: Ties, judges: Mapping[str, str]) -> tuple[str, ...]:
    if not ties.rules:
        return ("Bands with the same mark share the place.",)
    asked = "; ".join(f"{number}. {name_of(rule, ties)}" for number, rule in enumerate(ties.rules, 1))
    chief = f" The chief judge is {judges.get(ties.chief_judge, ties.chief_judge)}." if ties.chief_judge else ""
    asked = f"Of bands with the same mark these are asked in order: {asked}."
    return (asked, f"What they leave level shares the place.{chief}")
