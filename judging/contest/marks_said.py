"""What is declared about marks, in plain sentences: combining, the machine's part, penalties, ties."""

from collections.abc import Iterator
from decimal import Decimal

from judging.figures import counted, figure, some, together
from judging.marks.penalties import Penalty
from judging.marks.rules import MarksRules, Policy
from judging.marks.sheet_rules import Sheets
from judging.marks.ties import name_of

_POLICIES: dict[Policy, str] = {
    "sum": "The judges' {unit} are added up.",
    "mean": "The mark is the mean of the judges' {unit}.",
    "ratio": "Each judge's {unit} are divided by that judge's own mean; the mark is the mean of these ratios.",
    "standard score": "Each judge's {unit} are turned into their distance from that judge's mean, in that judge's own "
    "standard deviations; the mark is their sum.",
    "placings": "Each judge's {unit} are turned into places, equal ones sharing the mean of theirs; the mark is the "
    "total of the places.",
    "majority of placings": "Each judge's {unit} are turned into places; the mark is the best place that more than "
    "half of the judges gave or bettered.",
    "agreed mark": "The judges confer and hand in one agreed sheet.",
}
_MISSING = {
    "refuse": "Without a sheet from every judge for every band there is no result.",
    "leave the judge out": "A judge who did not judge every band counts for none of them.",
    "use those present": "A band that some judge did not hear has the mean of those who heard it.",
}


def combining_said(marks: MarksRules) -> Iterator[str]:
    """Return how the judges' figures become a mark, in sentences."""
    sheets, combining = marks.sheets, marks.combining
    better = "fewer is better" if sheets.lower_is_better else "more is better"
    most = "" if sheets.most is None else f", at most {figure(sheets.most)}"
    yield f"A judge's sheet holds {sheets.unit} ({better}), in steps of {figure(sheets.step)}{most}."
    yield from _lines(sheets)
    yield _POLICIES[combining.policy].format(unit=sheets.unit)
    if combining.drop != "none":
        yield "Of each band's figures the highest and lowest are left out: of 10, 20, 30 and 40 the 20 and 30 count."
    if combining.policy != "agreed mark":
        yield _MISSING[combining.missing_judge]
    rounding = marks.rounding
    use = "the rounded mark ranks, so equal print is equal place" if marks.rank_rounded else "for print only"
    yield f"The mark is rounded to steps of {figure(rounding.step)}, {rounding.mode}; {use}."


def _lines(sheets: Sheets) -> Iterator[str]:
    most = "" if sheets.most_a_line is None else f", at most {counted(sheets.most_a_line, sheets.unit)} each"
    if sheets.lines == "criterion":
        yield f"It is given by {together([f'{one.name} (at most {figure(one.most)})' for one in sheets.criteria])}."
        yield from (f"{one.name}: {one.words}." for one in sheets.criteria if one.words)
    elif sheets.lines == "block":
        yield f"It has a line for every {some(sheets.block_changes or 0, 'change')}{most}."
    elif sheets.lines == "total":
        yield "It is a total and nothing else."
    elif sheets.lines != "any":
        yield f"It has a line for each {sheets.lines} at which something is heard{most}."


def machine_said(marks: MarksRules) -> Iterator[str]:
    """Return what part the machine has, in sentences."""
    machine = marks.machine
    yield {
        "cross-check": "It is shown beside the judges' figures and decides nothing.",
        "tie-break": "It is shown beside the judges' figures and is asked only by the tie rule of that name.",
        "voice": f"It counts as one more judge of weight {figure(machine.weight)}, a judge weighing 1.",
    }[machine.part]
    if machine.part != "cross-check":
        yield (
            "If one placed band of a section has no count of the declared quality, the machine has no part in any "
            f"place of it. Quality: at most {figure(machine.most_unsure_percent)} % of the judged blows unheard or not "
            f"timed within {figure(machine.sure_within_ms)} ms."
        )
    if machine.lines_unsure_percent:
        yield (
            f"Its tolerance lines are known to within {figure(machine.lines_unsure_percent)} % (one standard error of "
            "their calibration); the safety of places counts this in where it has a voice."
        )
    yield (
        "Every band of a section is heard with the same voices of the tower's bells, kept from an earlier recording, "
        "or every band without. They help to say which bell struck, never when: that is each recording's own."
    )
    if machine.tower_delays:
        yield (
            "A delay that a bell has at one stroke for at least five bands alike is the tower's: it is taken out "
            "before counting, the same for every band, and each fault sheet says what was taken out."
        )


def penalty_said(penalty: Penalty, marks: MarksRules) -> str:
    """Return what a penalty costs, in sentences."""
    of = "each judge's figure" if penalty.base == "each judge" else "the combined mark"
    sentences = []
    if penalty.multipliers:
        steps = [f"{number} experienced: {multiplier}" for number, multiplier in enumerate(penalty.multipliers)]
        sentences.append(f"Novice handicap: {of} is multiplied ({'; '.join(steps)}; the last for any more).")
    elif penalty.percent or penalty.amount:
        sentences.append(f"Each {penalty.of_what} {_cost(penalty, of, marks)}.")
    if penalty.most is not None:
        limit = f"more than {some(penalty.most, penalty.of_what)}" if penalty.most else f"any {penalty.of_what}"
        sentences.append(f"With {limit} a band takes no place.")
    if penalty.within_changes is not None:
        sentences.append(f"A restart after more than {some(penalty.within_changes, 'change')} takes no place.")
    if penalty.rounding is not None:
        sentences.append(f"Then rounded to steps of {figure(penalty.rounding.step)}, {penalty.rounding.mode}.")
    return " ".join(sentences)


def _cost(penalty: Penalty, whose: str, marks: MarksRules) -> str:
    """Say what one of what a penalty counts costs, as the end of a sentence."""
    base = "as counted" if penalty.percent_of == "as counted" else "as earlier penalties have left it"
    verb = "adds" if marks.sheets.lower_is_better else "takes off"
    parts = [f"{figure(penalty.percent)} % of {whose}, {base}"] if penalty.percent else []
    if penalty.amount:
        preposition = "to" if marks.sheets.lower_is_better else "from"
        parts.append(_amount(penalty.amount, marks) + ("" if parts else f" {preposition} {whose}"))
    return f"{verb} {', and '.join(parts)}"


def unplaced_said(marks: MarksRules) -> Iterator[str]:
    """Return who takes no place, in sentences."""
    yield "A scratch band is judged and shown, but takes no place; so is a band that did not complete the piece."
    if marks.penalties:
        yield "Penalties apply in the order in which they stand here, and each is a footnote of the result."


def ties_said(marks: MarksRules) -> str:
    """Return what is asked of equal marks."""
    rules = marks.ties.rules
    if not rules:
        return "Equal marks share the place."
    asked = [name_of(rule, marks.ties) for rule in rules]
    return f"Equal marks are split by {', then '.join(asked)}; what stays level shares the place."


def _amount(amount: Decimal, marks: MarksRules) -> str:
    return counted(amount, marks.sheets.unit)
