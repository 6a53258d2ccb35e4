"""The rules as published: every declared figure in words, and examples worked by the very code that will judge."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby

import numpy as np

from judging.contest import RuleSet, describe, worked_example
from judging.figures import counted, figure
from judging.marks.values import Adjustment
from judging.papers.heading import Heading
from judging.papers.typesetting import typeset
from judging.striking.marking import MarkingScheme
from judging.striking.rules import CountingRules

#: Bells and paces at which the tolerance is worked out, from the trade's own arithmetic: a whole pull lasts
#: (2n + h) gaps, and a peal 5,040 changes.
_PACES = ((6, "2h40", 160), (8, "2h50", 170), (10, "3h10", 190), (12, "3h20", 200))
_PEAL_CHANGES = 5040


@dataclass(frozen=True, slots=True)
class RulesPart:
    """A part of the rules: its heading, and what is declared in sentences."""

    title: str
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ExampleLine:
    """One invented band of the worked example, every text as printed."""

    band: str
    happened: str
    figures: tuple[str, ...]
    steps: tuple[str, ...]
    mark: str
    place: str
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RulesPaper:
    """The rules, part by part, with their examples.

    Parameters
    ----------
    heading : Heading
        The contest.
    fingerprint : str
        All 64 digits.
    parts : tuple of RulesPart
        In the order in which they are printed.
    tolerance : tuple of tuple of str
        The declared lines in milliseconds at ordinary paces; the first row is the head.
    scheme : tuple of str
        What faults cost, and what one bad row does.
    judges : tuple of str
        Who judges in the example.
    example : tuple of ExampleLine
        Invented bands, ranked under these rules.
    notes : tuple of str
        What the example's result says of itself.
    """

    heading: Heading
    fingerprint: str
    parts: tuple[RulesPart, ...]
    tolerance: tuple[tuple[str, ...], ...]
    scheme: tuple[str, ...]
    judges: tuple[str, ...]
    example: tuple[ExampleLine, ...]
    notes: tuple[str, ...]


def rules_paper_data(rules: RuleSet, *, heading: Heading) -> RulesPaper:
    """Rules of a contest as they are published.

    Parameters
    ----------
    rules : RuleSet
        As declared.
    heading : Heading
        The contest.

    Returns
    -------
    RulesPaper
        The contest's own sentences, with the tolerance, one row and five invented bands worked out under them.
    """
    worked = worked_example(rules)
    names = {judge.id: judge.name for judge in rules.judges}
    judges = tuple(next(iter(worked.figures.values())))
    return RulesPaper(
        heading=heading,
        fingerprint=rules.fingerprint,
        parts=tuple(
            RulesPart(title, tuple(sentence for _, sentence in group))
            for title, group in groupby(describe(rules), key=lambda pair: pair[0])
        ),
        tolerance=_tolerance(rules.counting),
        scheme=_scheme(rules.counting.scheme),
        judges=tuple(_called(judge, names) for judge in judges),
        example=tuple(
            ExampleLine(
                band=_called(placed.entry, {}),
                happened=worked.happenings.get(placed.entry, ""),
                figures=tuple(figure(worked.figures[placed.entry][judge]) for judge in judges),
                steps=tuple(_step(step, names) for step in placed.adjustments),
                mark=counted(placed.mark, worked.result.unit) if placed.mark is not None else "–",
                place="–" if placed.place is None else f"{placed.place}{' =' if placed.tied else ''}",
                reasons=placed.reasons,
            )
            for placed in worked.result.places
        ),
        notes=worked.result.notes,
    )


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


def _called(identifier: str, names: Mapping[str, str]) -> str:
    """Name as printed; an identifier of the example's own reads as words."""
    return names.get(identifier, identifier.replace("-", " ").capitalize())


def _step(step: Adjustment, names: Mapping[str, str]) -> str:
    whose = f"{_called(step.judge, names)}: " if step.judge else ""
    return f"{whose}{step.rule}: {figure(step.before)} becomes {figure(step.after)}"


def _tolerance(counting: CountingRules) -> tuple[tuple[str, ...], ...]:
    rows: list[tuple[str, ...]] = [("Bells", "Peal speed", "Gap", "Blemish", "Half", "Whole", "Clash under")]
    h = 1.0 if counting.handstroke_gap is None else counting.handstroke_gap
    for bells, pace, minutes in _PACES:
        gap_s = 2 * 60 * minutes / _PEAL_CHANGES / (2 * bells + h)
        (lines,) = counting.bands.lines_gaps(np.array([gap_s]))
        shares = (1.0, *lines.tolist(), counting.bands.clash_gaps)
        rows.append((str(bells), pace, *(f"{1000 * gap_s * share:.0f} ms" for share in shares)))
    return tuple(rows)


def _scheme(scheme: MarkingScheme) -> tuple[str, ...]:
    """Every figure of the scheme, and one row with a half fault, a whole fault and a clash under it."""
    costs = (
        f"Under “{scheme.name}” a half fault costs {figure(scheme.half)}, a whole fault {figure(scheme.whole)}, a "
        f"clash {figure(scheme.clash)}, a blow not heard {figure(scheme.missing)} and one too many "
        f"{figure(scheme.extra)}."
    )
    charges = [scheme.half, scheme.whole, scheme.clash]
    told = "So a half fault, a whole fault and a clash in one row"
    if scheme.unit_rows == 0:
        return costs, f"{told} are charged {counted(sum(charges, Decimal(0)), 'faults')}."
    unit = {1: "row", 2: "whole pull"}.get(scheme.unit_rows, f"block of {scheme.unit_rows} rows")
    charged = "the worst of them" if scheme.adds == "worst" else "the sum of them"
    step = f", in steps of {figure(scheme.step)}" if scheme.step is not None else ""
    cap = f", {figure(scheme.cap)} at most" if scheme.cap is not None else ""
    together = f"Each {unit} is charged {charged}{step}{cap}."
    cost = sum(scheme.shares(charges), Decimal(0))
    if scheme.marks_up and scheme.cap is not None:
        earned = f"A {unit} earns {counted(scheme.cap, 'marks')} less its faults."
        return costs, together, earned, f"{told} leave {figure(scheme.cap - cost)} of {figure(scheme.cap)}."
    return costs, together, f"{told} are charged {counted(cost, 'faults')}."
