"""THE DECLARED RULES → PLAIN SENTENCES, the same on the rules page and on paper. Nothing declared is left out."""

from collections.abc import Iterator
from decimal import Decimal

from judging.contest.declared import ConflictRule, LateRule, RuleSet, Section, SwapRule
from judging.figures import counted, figure
from judging.marks.penalties import Penalty
from judging.marks.rules import MarksRules, Policy
from judging.marks.sheet_rules import Sheets
from judging.marks.ties import name_of
from judging.piece.lengths import LengthRule
from judging.striking.rules import CountingRules, Doubtful

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
_DOUBT: dict[Doubtful, str] = {
    "count": "A blow that the recording leaves in doubt counts as it was measured, and is shown as doubtful.",
    "lower": "A blow that the recording leaves in doubt counts at the level that it surely reaches.",
    "leave out": "A blow that the recording leaves in doubt is not counted.",
}


_LATE: dict[LateRule, str] = {
    "rings last": "A band that is incomplete at the draw, or enters after it, rings after those that were drawn.",
    "refused": "A band that is incomplete at the draw, or enters after it, does not ring.",
}
_SWAPS: dict[SwapRule, str] = {
    "with consent": "Two bands may change places after the draw if both and the organiser agree; the reason is kept.",
    "not allowed": "Bands do not change places after the draw.",
}
#: What the rule on conflicts of interest says.
CONFLICT_SAID: dict[ConflictRule, str] = {
    "declared only": "A judge says beforehand which bands he or she has to do with; the sheets count all the same.",
    "sheet left out": "A judge says beforehand which bands he or she has to do with; the judge's sheets for these do "
    "not count.",
}


def describe(rules: RuleSet) -> tuple[tuple[str, str], ...]:
    """Declared rules in sentences.

    Parameters
    ----------
    rules : RuleSet
        As declared.

    Returns
    -------
    tuple of pairs of str
        Heading and sentence; several sentences may stand under one heading, in order.
    """
    return (
        *(("Sections", sentence) for section in rules.sections for sentence in _section(section)),
        *(("Who may ring", sentence) for sentence in _eligibility(rules)),
        *(("What is marked", sentence) for sentence in _marked(rules.counting)),
        *(("How faults are counted", sentence) for sentence in _counting(rules.counting)),
        *(("How marks are made", sentence) for sentence in _combining(rules.marks)),
        *(("The machine's count", sentence) for sentence in _machine(rules.marks)),
        *(("Penalties and handicaps", penalty_said(penalty, rules.marks)) for penalty in rules.marks.penalties),
        *(("Unplaced", sentence) for sentence in _unplaced(rules.marks)),
        ("Ties", _ties(rules.marks)),
        *(("The draw", sentence) for sentence in _draw(rules)),
        *(("The timetable", sentence) for sentence in _timetable(rules)),
        ("Judges' interests", CONFLICT_SAID[rules.conflict]),
        ("Protests", _protest(rules)),
        ("What the public sees", _public(rules)),
        ("Fingerprint", f"These rules have the fingerprint {rules.short_fingerprint}; any change to them changes it."),
    )


def _section(section: Section) -> Iterator[str]:
    name = section.name or "The test piece"
    facts = list(_facts(section))
    if facts:
        yield f"{name}: {', '.join(facts)}."
    elif section.name:
        yield f"{name}."
    asked = list(_asked(section.asks))
    if asked:
        yield f"The test piece{' of ' + section.name if section.name else ''} {_listed(asked)}."
    if section.eligibility:
        yield section.eligibility


def _facts(section: Section) -> Iterator[str]:
    if section.changes is not None:
        yield _counted(section.changes, "change")
    if section.practice_minutes is not None:
        yield f"{figure(section.practice_minutes)} minutes of practice before it"
    if section.minutes_allowed is not None:
        yield f"at most {figure(section.minutes_allowed)} minutes for it"
    if section.slot_minutes is not None:
        yield f"a band every {figure(section.slot_minutes)} minutes"
    if section.most_borrowed is not None:
        yield f"at most {_counted(section.most_borrowed, 'borrowed ringer')}"
    if section.judges:
        yield f"judged by {_listed(section.judges)}"


def _asked(asks: LengthRule) -> Iterator[str]:
    """What a section asks of its test piece, each as the end of a sentence."""
    if asks.least_changes is not None:
        yield f"has at least {_counted(asks.least_changes, 'change')}"
    if asks.most_changes is not None:
        yield f"has at most {_counted(asks.most_changes, 'change')}"
    if asks.true:
        yield "repeats no row"
    if asks.comes_round:
        yield "comes round"
    if asks.every_bell_but_tenor_leads:
        yield "lets every bell but the tenor lead"


def _eligibility(rules: RuleSet) -> Iterator[str]:
    who = rules.eligibility
    if who.bands_per_ringer is not None:
        yield f"A ringer may ring in at most {_counted(who.bands_per_ringer, 'band')}; the organiser checks this."
    if who.residents is not None:
        yield f"At least {who.residents} of a band belong to its tower; the organiser checks this."
    if who.words:
        yield who.words


def _marked(counting: CountingRules) -> Iterator[str]:
    marked = counting.marked
    yield "Marked is what is rung from the first change to the return to rounds."
    parts = (
        (marked.pull_off, "the first whole pull"),
        (marked.opening, "the rest of the opening rounds"),
        (marked.closing, "what follows the return to rounds, up to the stand"),
        (marked.stand, "the stand"),
    )
    for is_marked, head in ((True, "Marked too"), (False, "Not marked")):
        these = [what for of_this, what in parts if of_this == is_marked]
        if these:
            yield f"{head}: {_listed(these)}."
    if marked.free_rows:
        yield f"The first {_counted(marked.free_rows, 'row')} of this are not marked."
    if marked.most_changes is not None:
        yield f"Only the first {_counted(marked.most_changes, 'change')} are marked, however long the piece."


def _counting(counting: CountingRules) -> Iterator[str]:
    bands = counting.bands
    yield f"Marking scheme: {counting.scheme.name}."
    yield from _scheme(counting)
    for what, gaps, ms in (
        ("a blemish, shown and not charged,", bands.blemish_gaps, bands.blemish_ms),
        ("a half fault", bands.half_gaps, bands.half_ms),
        ("a whole fault", bands.whole_gaps, bands.whole_ms),
    ):
        yield f"A blow is {what} whose own error is {gaps:g} of the gap between blows or more, and at least {ms:g} ms."
    yield f"Two successive blows nearer than {bands.clash_gaps:g} of the gap are a clash: at least a whole fault."
    yield (
        "A blow is charged for what it adds to what has already been charged; carrying that is free, and so is putting "
        "it right."
    )
    if counting.handstroke_gap is None:
        yield "The handstroke gap is each band's own steady style."
    else:
        yield f"The handstroke gap is declared: {counting.handstroke_gap:g} of the gap between blows."
    yield _DOUBT[counting.doubtful]
    if counting.saturation is not None:
        yield (
            f"People write at most about c = {figure(counting.saturation)} faults a row, however many they hear: m a "
            "row stand beside the judges as c (1 − exp(−m / c))."
        )


def _scheme(counting: CountingRules) -> Iterator[str]:
    scheme = counting.scheme
    yield (
        f"A half fault costs {_price(scheme.half)}, a whole fault {_price(scheme.whole)} and a clash "
        f"{_price(scheme.clash)}; a blow that is not heard costs {_price(scheme.missing)}, a bell that falls silent "
        f"being charged once, and a blow too many {_price(scheme.extra)}."
    )
    if counting.marked.stand:
        yield f"A bell that does not stand with the others costs {_price(scheme.stand)}."
    if scheme.unit_rows:
        unit = {1: "row", 2: "whole pull"}.get(scheme.unit_rows, f"{scheme.unit_rows} rows")
        adds = "faults add up" if scheme.adds == "sum" else "only the worst fault is charged"
        most = "" if scheme.cap is None else f", to {figure(scheme.cap)} at most"
        step = "" if scheme.step is None else f", in steps of {figure(scheme.step)}"
        yield f"In each {unit} {adds}{most}{step}."
    if scheme.marks_up and scheme.cap is not None:
        yield f"Each earns {figure(scheme.cap)} less its faults, so more is better."


def _price(charge: Decimal) -> str:
    return figure(charge) if charge else "nothing"


def _combining(marks: MarksRules) -> Iterator[str]:
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
        yield f"It is given by {_listed([f'{one.name} (at most {figure(one.most)})' for one in sheets.criteria])}."
        yield from (f"{one.name}: {one.words}." for one in sheets.criteria if one.words)
    elif sheets.lines == "block":
        yield f"It has a line for every {_counted(sheets.block_changes or 0, 'change')}{most}."
    elif sheets.lines == "total":
        yield "It is a total and nothing else."
    elif sheets.lines != "any":
        yield f"It has a line for each {sheets.lines} at which something is heard{most}."


def _machine(marks: MarksRules) -> Iterator[str]:
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
        limit = f"more than {_counted(penalty.most, penalty.of_what)}" if penalty.most else f"any {penalty.of_what}"
        sentences.append(f"With {limit} a band takes no place.")
    if penalty.within_changes is not None:
        sentences.append(f"A restart after more than {_counted(penalty.within_changes, 'change')} takes no place.")
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


def _unplaced(marks: MarksRules) -> Iterator[str]:
    yield "A scratch band is judged and shown, but takes no place; so is a band that did not complete the piece."
    if marks.penalties:
        yield "Penalties apply in the order in which they stand here, and each is a footnote of the result."


def _ties(marks: MarksRules) -> str:
    rules = marks.ties.rules
    if not rules:
        return "Equal marks share the place."
    asked = [name_of(rule, marks.ties) for rule in rules]
    return f"Equal marks are split by {_then(asked)}; what stays level shares the place."


def _draw(rules: RuleSet) -> Iterator[str]:
    if rules.draw_seed:
        yield (
            f"The order of ringing follows from the seed “{rules.draw_seed}”: for each entry the SHA-256 of the seed, "
            "a line feed and the entry's identifier, in ascending order."
        )
    yield _LATE[rules.late]
    yield _SWAPS[rules.swaps]


def _timetable(rules: RuleSet) -> Iterator[str]:
    if rules.first_band is None:
        return
    yield f"The first band begins at {rules.first_band:%H:%M}, and the others follow in the drawn order."
    for rest in rules.breaks:
        minutes = "1 minute" if rest.minutes == 1 else f"{figure(rest.minutes)} minutes"
        yield f"{rest.what}: {minutes} from {rest.at:%H:%M}, once the band then ringing has rung."
    yield "A band that withdraws after the draw leaves its time free: no other is called earlier."


def _protest(rules: RuleSet) -> str:
    if not rules.protest.minutes:
        return "The judges' decision is final."
    to = f" to {rules.protest.to}" if rules.protest.to else ""
    return (
        f"A protest may be handed in{to} within {_counted(rules.protest.minutes, 'minute')} of the provisional result."
    )


def _public(rules: RuleSet) -> str:
    public = rules.public
    shown = [
        what
        for is_shown, what in (
            (public.by_judge, "each judge's figures"),
            (public.machine, "the machine's counts"),
            (public.safety, "how safe each place is"),
            (public.judges_compared, "the judges compared"),
            (public.fault_sheets, "every band's fault sheet"),
        )
        if is_shown
    ]
    extra = f", with {_listed(shown)}" if shown else ""
    own = "" if public.fault_sheets else " A band sees its own fault sheet."
    return f"The result when it is {public.result}{extra}.{own}"


def _amount(amount: Decimal, marks: MarksRules) -> str:
    return counted(amount, marks.sheets.unit)


def _counted(number: int, what: str) -> str:
    if what == "minute begun over time":
        return f"{number} {'minute' if number == 1 else 'minutes'} begun over time"
    return f"{number} {what if number == 1 else what + 's'}"


def _listed(items: list[str] | tuple[str, ...]) -> str:
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} and {items[-1]}"


def _then(items: list[str]) -> str:
    return ", then ".join(items)
