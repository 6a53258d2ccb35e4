"""The rules as published: every declared figure in words, with examples worked by the very code that will judge."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from judging.contest.rules import RuleSet, Section
from judging.papers.heading import Heading
from judging.papers.rules_counting import counting_parts
from judging.papers.rules_marks import marks_parts
from judging.papers.rules_part import RulesPart
from judging.papers.typesetting import typeset
from judging.papers.words import figure
from judging.piece.piece import Piece


@dataclass(frozen=True, slots=True)
class RulesPaper:
    """The rules, part by part.

    Parameters
    ----------
    heading : Heading
        The contest.
    fingerprint : str
        All 64 digits.
    parts : tuple of RulesPart
        In the order in which they are printed.
    """

    heading: Heading
    fingerprint: str
    parts: tuple[RulesPart, ...] = field(default=())


def rules_paper_data(rules: RuleSet, *, heading: Heading, pieces: Mapping[str, Piece] | None = None) -> RulesPaper:
    """Put a contest's rules into words.

    Parameters
    ----------
    rules : RuleSet
        As declared.
    heading : Heading
        The contest.
    pieces : mapping of str to Piece or None
        Test pieces by identifier, for their titles.

    Returns
    -------
    RulesPaper
        Nothing that can change a result is left out.
    """
    parts = (
        RulesPart("Sections", tuple(_section(section, rules, pieces or {}) for section in rules.sections)),
        *counting_parts(rules.counting),
        *marks_parts(rules.marks, {judge.id: judge.name for judge in rules.judges}),
        RulesPart("On the day", _on_the_day(rules)),
    )
    return RulesPaper(heading, rules.fingerprint, parts)


def rules_paper_pdf(paper: RulesPaper) -> bytes:
    """Rules to publish and pin up, A4.

    Parameters
    ----------
    paper : RulesPaper
        From `rules_paper_data`.

    Returns
    -------
    bytes
        PDF; the same rules give the same bytes.
    """
    return typeset("rules", {"paper": paper}, name=f"Rules: {paper.heading.contest}")


def _section(section: Section, rules: RuleSet, pieces: Mapping[str, Piece]) -> str:
    names = {judge.id: judge.name for judge in rules.judges}
    title = pieces[section.piece].title if section.piece in pieces else section.piece
    panel = [names.get(judge, judge) for judge in section.judges] or list(names.values())
    told = [
        f"test piece {title}" if title else "each band's own test piece",
        f"{section.changes} changes" if section.changes else "",
        f"{figure(section.practice_minutes)} minutes of practice" if section.practice_minutes else "",
        f"{figure(section.minutes_allowed)} minutes allowed" if section.minutes_allowed else "",
        f"{figure(section.slot_minutes)} minutes from band to band" if section.slot_minutes else "",
        "" if section.most_borrowed is None else f"at most {section.most_borrowed} borrowed ringers to be placed",
        f"judged by {', '.join(panel)}" if panel else "",
    ]
    sentence = f"{section.name or 'One section'}: {', '.join(part for part in told if part)}."
    return f"{sentence} {section.eligibility}".rstrip()


def _on_the_day(rules: RuleSet) -> tuple[str, ...]:
    eligibility, protest, public = rules.eligibility, rules.protest, rules.public
    shown = [
        words
        for words, is_shown in (
            ("each judge's figure", public.by_judge),
            ("the machine's count", public.machine),
            ("the safety of places", public.safety),
            ("fault sheets", public.fault_sheets),
        )
        if is_shown
    ]
    protesting = (
        f"A protest may be handed in{f' to {protest.to}' if protest.to else ''} within {protest.minutes} minutes of "
        "the provisional result."
    )
    drawing = f"The order of ringing follows from the seed “{rules.draw_seed}”, and anyone can run the draw again."
    sentences = [
        f"One person may ring in at most {eligibility.bands_per_ringer} bands." if eligibility.bands_per_ringer else "",
        f"At least {eligibility.residents} of a band belong to its tower." if eligibility.residents else "",
        eligibility.words,
        drawing if rules.draw_seed else "",
        "Judges know a band by its number only until the result is final.",
        protesting if protest.minutes else "The judges' decision is final.",
        f"The public sees the result once it is {public.result}{', with ' if shown else ''}{', '.join(shown)}.",
    ]
    return tuple(sentence for sentence in sentences if sentence)
