"""The declared rules in sentences that a ringer can be read: every one of them said, none of them shortened."""

from collections.abc import Iterator

from judging.contest.rules import RuleSet, Section
from judging.marks.rules import MarksRules, Penalty
from judging.papers.words import counted, figure
from judging.striking.rules import CountingRules

_POLICIES = {
    "sum": "The judges’ figures are added up",
    "mean": "The mark is the mean of the judges’ figures",
    "ratio": "Each figure is divided by that judge’s own mean, and these are averaged",
    "standard score": "Each figure becomes standard deviations from that judge’s mean, and these are added up",
    "placings": "Each judge’s order of the bands is taken, and the placings are added up",
    "majority of placings": "A band takes the best place that more than half of the judges gave it or bettered",
    "agreed mark": "The judges agree on one mark",
}

_MISSING = {
    "refuse": "Without a sheet of every judge for every band there is no result.",
    "leave the judge out": "A judge without a sheet for some band counts for none.",
    "use those present": "Where a judge has no sheet for a band, the average is taken over the others.",
}

_TIES = {
    "chief judge": "the chief judge’s figure",
    "fewest whole faults": "the fewest whole faults",
    "fewest faulty changes": "the fewest changes with a fault",
    "fewest faults in the last changes": "the fewest faults in the last {last} changes",
    "better by more judges": "whom more judges had ahead",
    "best single sheet": "the best single sheet",
    "lowest total of placings": "the lowest total of placings",
    "machine": "the machine’s count",
}

_DOUBTFUL = {
    "count": "counts as it was measured",
    "lower": "counts at the level that it surely reaches",
    "leave out": "is not counted",
}


def rules_sentences(rules: RuleSet) -> tuple[str, ...]:
    """Return the rules in sentences, in the order in which a contest meets them."""
    return (
        *(_section(section) for section in rules.sections if section.changes or section.most_borrowed is not None),
        *_eligibility(rules),
        *_counting(rules.counting),
        *_marks(rules.marks),
        *(_penalty(penalty, rules.marks.sheets.unit) for penalty in rules.marks.penalties),
        _ties(rules.marks),
        _protest(rules),
    )


def _section(section: Section) -> str:
    said = f"{section.name}: " if section.name else ""
    said += f"a test piece of {section.changes} changes" if section.changes else "a test piece"
    if section.practice_minutes is not None:
        said += f", after at most {counted(section.practice_minutes, 'minutes')} of practice"
    if section.minutes_allowed is not None:
        said += f", to be done within {counted(section.minutes_allowed, 'minutes')}"
    if section.most_borrowed is not None:
        said += (
            f", with at most {section.most_borrowed} borrowed ringers"
            if section.most_borrowed
            else ", with none borrowed"
        )
    return f"{said[0].upper()}{said[1:]}."


def _eligibility(rules: RuleSet) -> Iterator[str]:
    of = rules.eligibility
    if of.bands_per_ringer is not None:
        yield f"Nobody rings in more than {of.bands_per_ringer} {'band' if of.bands_per_ringer == 1 else 'bands'}."
    if of.residents is not None:
        yield f"At least {of.residents} of a band belong to its tower."
    if of.words:
        yield of.words


def _counting(counting: CountingRules) -> Iterator[str]:
    bands, marked = counting.bands, counting.marked
    yield f"The machine counts {counting.scheme.name}."
    yield (
        f"A blow out of its time is a blemish from {bands.blemish_gaps:g} of the gap between blows "
        f"(and {bands.blemish_ms:g} ms), a half fault from {bands.half_gaps:g} ({bands.half_ms:g} ms) and a whole "
        f"fault from {bands.whole_gaps:g} ({bands.whole_ms:g} ms); a blemish is shown and never charged. Two blows "
        f"nearer than {bands.clash_gaps:g} of the gap are a clash."
    )
    yield (
        "A blow is charged for what it adds to what has already been charged: carrying that is free, and so is putting "
        "it right."
    )
    also = [
        words
        for is_marked, words in (
            (marked.pull_off, "the pull-off"),
            (marked.opening, "the opening rounds"),
            (marked.closing, "the closing rounds"),
        )
        if is_marked
    ]
    with_them = f", with {' and '.join(also)}" if also else ""
    yield (
        f"Marked is from the first change to the return to rounds{with_them}."
        + (f" The first {marked.free_rows} rows of it are free." if marked.free_rows else "")
        + (f" Only the first {marked.most_changes} changes are marked." if marked.most_changes else "")
    )
    if counting.handstroke_gap is None:
        yield "The handstroke gap is each band’s own, if it is steady."
    else:
        yield f"The handstroke gap is {counting.handstroke_gap:g} of the gap between blows."
    yield f"A blow that the recording leaves in doubt {_DOUBTFUL[counting.doubtful]}."


def _marks(marks: MarksRules) -> Iterator[str]:
    sheets = marks.sheets
    yield f"A judge gives {sheets.unit} in steps of {figure(sheets.step)}" + (
        f", at most {figure(sheets.most)}." if sheets.most is not None else "."
    )
    dropped = ", the highest and the lowest left out" if marks.combining.drop != "none" else ""
    best = "lowest" if sheets.lower_is_better or "placings" in marks.combining.policy else "highest"
    yield f"{_POLICIES[marks.combining.policy]}{dropped}; the {best} wins."
    yield _MISSING[marks.combining.missing_judge]
    machine = marks.machine
    part = {
        "cross-check": "The machine’s count stands beside the judges as a cross-check and ranks nobody.",
        "tie-break": "The machine’s count is asked only where the judges leave bands level.",
        "voice": f"The machine’s count has a voice of weight {figure(machine.weight)}, a judge’s being 1.",
    }[machine.part]
    yield (
        f"{part} A count with more than {figure(machine.most_unsure_percent)} % of its blows unheard or not timed "
        f"within {figure(machine.sure_within_ms)} ms has no part, and if one band of a section has none, the machine "
        "has no part in any place of it."
    )
    yield f"Marks are rounded to {figure(marks.rounding.step)}, {marks.rounding.mode}" + (
        ", and the rounded mark ranks." if marks.rank_rounded else ", for print only."
    )


def _penalty(penalty: Penalty, unit: str) -> str:
    base = "each judge’s figure" if penalty.base == "each judge" else "the combined mark"
    if penalty.multipliers:
        steps = ", ".join(f"{count}: × {multiplier}" for count, multiplier in enumerate(penalty.multipliers))
        return f"Novice handicap on {base}, by the number of experienced ringers: {steps} (the last for more)."
    each = [f"{figure(penalty.percent)} % of it"] if penalty.percent else []
    each += [counted(penalty.amount, unit)] if penalty.amount else []
    said = f"For each {penalty.of_what}, {base} changes by {' and '.join(each)}" if each else ""
    if penalty.percent and penalty.percent_of == "so far":
        said += " (as it stands after earlier penalties)"
    limits = []
    if penalty.most is not None:
        limits.append(f"With more than {penalty.most} {penalty.kind}, a band takes no place")
    if penalty.within_changes is not None:
        limits.append(f"A restart after more than {penalty.within_changes} changes takes no place")
    return ". ".join(part for part in (said, *limits) if part) + "."


def _ties(marks: MarksRules) -> str:
    if not marks.ties.rules:
        return "Bands with the same mark share the place."
    asked = [_TIES[rule].format(last=marks.ties.last_changes) for rule in marks.ties.rules]
    order = ", then ".join(asked)
    return f"Ties are broken by {order}; bands that are still level share the place."


def _protest(rules: RuleSet) -> str:
    protest = rules.protest
    if not protest.minutes:
        return "The judges’ decision is final."
    to = f" to {protest.to}" if protest.to else ""
    return f"A protest may be handed in{to} within {protest.minutes} minutes of the provisional result."
