"""THE DECLARED RULES → PLAIN SENTENCES, the same on the rules page and on paper. Nothing declared is left out."""

from collections.abc import Iterator

from judging.contest.counting_said import counting_said, marked_said
from judging.contest.declared import ConflictRule, LateRule, RuleSet, Section, SwapRule
from judging.contest.marks_said import combining_said, machine_said, penalty_said, ties_said, unplaced_said
from judging.figures import figure, some, together
from judging.piece.lengths import LengthRule

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
        *(("What is marked", sentence) for sentence in marked_said(rules.counting)),
        *(("How faults are counted", sentence) for sentence in counting_said(rules.counting)),
        *(("How marks are made", sentence) for sentence in combining_said(rules.marks)),
        *(("The machine's count", sentence) for sentence in machine_said(rules.marks)),
        *(("Penalties and handicaps", penalty_said(penalty, rules.marks)) for penalty in rules.marks.penalties),
        *(("Unplaced", sentence) for sentence in unplaced_said(rules.marks)),
        ("Ties", ties_said(rules.marks)),
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
        yield f"The test piece{' of ' + section.name if section.name else ''} {together(asked)}."
    if section.eligibility:
        yield section.eligibility


def _facts(section: Section) -> Iterator[str]:
    if section.changes is not None:
        yield some(section.changes, "change")
    if section.practice_minutes is not None:
        yield f"{figure(section.practice_minutes)} minutes of practice before it"
    if section.minutes_allowed is not None:
        yield f"at most {figure(section.minutes_allowed)} minutes for it"
    if section.slot_minutes is not None:
        yield f"a band every {figure(section.slot_minutes)} minutes"
    if section.most_borrowed is not None:
        yield f"at most {some(section.most_borrowed, 'borrowed ringer')}"
    if section.judges:
        yield f"judged by {together(section.judges)}"
    if section.notes:
        yield f"the bells of a MIDI strike log are its notes {section.notes}, treble first"


def _asked(asks: LengthRule) -> Iterator[str]:
    """What a section asks of its test piece, each as the end of a sentence."""
    if asks.least_changes is not None:
        yield f"has at least {some(asks.least_changes, 'change')}"
    if asks.most_changes is not None:
        yield f"has at most {some(asks.most_changes, 'change')}"
    if asks.true:
        yield "repeats no row"
    if asks.comes_round:
        yield "comes round"
    if asks.every_bell_but_tenor_leads:
        yield "lets every bell but the tenor lead"


def _eligibility(rules: RuleSet) -> Iterator[str]:
    who = rules.eligibility
    if who.bands_per_ringer is not None:
        yield f"A ringer may ring in at most {some(who.bands_per_ringer, 'band')}; the organiser checks this."
    if who.residents is not None:
        yield f"At least {who.residents} of a band belong to its tower; the organiser checks this."
    if who.words:
        yield who.words


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
    return f"A protest may be handed in{to} within {some(rules.protest.minutes, 'minute')} of the provisional result."


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
    extra = f", with {together(shown)}" if shown else ""
    own = "" if public.fault_sheets else " A band sees its own fault sheet."
    return f"The result when it is {public.result}{extra}.{own}"
