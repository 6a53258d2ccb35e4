"""What a band takes home that was judged by ear alone: the judges' words and figures, and no machine anywhere."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from judging.figures import counted, figure
from judging.marks.lines import heading_of, label_of
from judging.marks.sheet_rules import Sheets
from judging.marks.values import Placed, Sheet
from judging.papers.heading import Heading
from judging.papers.mark_steps import mark_steps
from judging.papers.sheet_values import Comment, MarkStep
from judging.papers.typesetting import typeset
from judging.papers.words import place_in_words, safety_in_words, stopped


@dataclass(frozen=True, slots=True)
class Noted:
    """What the judges noted at one change; a dash for a judge who noted nothing there.

    Parameters
    ----------
    change : str
        Its number; empty where a judge noted the fault and not the change.
    figures : tuple of str
        In the order of the sheet's `itemised`.
    """

    change: str
    figures: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class EarSheet:
    """Everything the sheet shows, every text as printed.

    Parameters
    ----------
    heading : Heading
        The contest.
    band, number, piece : str
        As printed; ``number`` is the order of ringing, empty where there is none.
    why : str
        Why there is no machine count, as a sentence.
    place, mark, safety : str
        In words; empty where the band has no place yet.
    steps : tuple of MarkStep
        How the mark was reached, in order.
    reasons : tuple of str
        Why this place.
    unit : str
        Of the judges' figures.
    comments : tuple of Comment
        The judges' words.
    itemised : tuple of str
        Names of the judges who noted faults change by change.
    lines : str
        What a line is about: ``"Change"``, ``"Block"``, ``"Criterion"``.
    noted : tuple of Noted
        What they noted, in order of change; those without one come last.
    """

    heading: Heading
    band: str
    number: str
    piece: str
    why: str
    place: str
    mark: str
    safety: str
    steps: tuple[MarkStep, ...]
    reasons: tuple[str, ...]
    unit: str
    comments: tuple[Comment, ...]
    itemised: tuple[str, ...]
    lines: str
    noted: tuple[Noted, ...]


def ear_sheet_data(
    *,
    heading: Heading,
    band: str,
    number: int | None = None,
    piece: str = "",
    why: str = "",
    placed: Placed | None = None,
    unit: str = "faults",
    combining: str = "",
    sheet_unit: str = "faults",
    rules: Sheets | None = None,
    judges: Mapping[str, str] | None = None,
    sheets: Sequence[Sheet] = (),
) -> EarSheet:
    """Sheet of one band that has no machine count.

    Parameters
    ----------
    heading : Heading
        The contest.
    band : str
        As the reader may see it.
    number : int or None
        Place in the drawn order of ringing.
    piece : str
        Title of the test piece.
    why : str
        Why there is no machine count, in words.
    placed : Placed or None
        The band's line of the result; None where there is none (yet).
    unit, combining : str
        Of the mark; how the judges' figures are combined, in words.
    sheet_unit : str
        Of the judges' own figures.
    rules : Sheets or None
        What a line of them is for; None for changes.
    judges : mapping of str to str or None
        Judges' names as printed, by identifier, in the order in which they are printed.
    sheets : sequence of Sheet
        The judges' sheets for this band, the last version of each.

    Returns
    -------
    EarSheet
    """
    names = judges or {}
    rank = {judge: at for at, judge in enumerate(names)}
    given = sorted(sheets, key=lambda sheet: (rank.get(sheet.judge, len(rank)), sheet.judge))
    itemised = [sheet for sheet in given if sheet.taps]
    return EarSheet(
        heading=heading,
        band=band,
        number="" if number is None else str(number),
        piece=piece,
        why=stopped(why[:1].upper() + why[1:]),
        place=place_in_words(placed.place, tied=placed.tied) if placed else "",
        mark=counted(placed.mark, unit) if placed and placed.mark is not None else "",
        safety=safety_in_words(placed.safety) if placed else "",
        steps=mark_steps(placed, unit=unit, combining=combining, judges=names) if placed else (),
        reasons=tuple(map(stopped, placed.reasons)) if placed else (),
        unit=sheet_unit,
        comments=tuple(
            Comment(names.get(sheet.judge, sheet.judge), sheet.comment) for sheet in given if sheet.comment.strip()
        ),
        itemised=tuple(names.get(sheet.judge, sheet.judge) for sheet in itemised),
        lines=heading_of(rules or Sheets()),
        noted=_noted(itemised, rules or Sheets()),
    )


def ear_sheet_pdf(sheet: EarSheet) -> bytes:
    """Sheet for the hand, A4, one or two pages.

    Parameters
    ----------
    sheet : EarSheet
        From `ear_sheet_data`.

    Returns
    -------
    bytes
        PDF; the same sheet gives the same bytes.
    """
    return typeset("ear_sheet", {"sheet": sheet}, name=f"Judged by ear: {sheet.band}")


def _noted(sheets: Sequence[Sheet], rules: Sheets) -> tuple[Noted, ...]:
    """Figures of every judge added up on each line."""
    by_change: dict[int | None, dict[int, Decimal]] = defaultdict(dict)
    for at, sheet in enumerate(sheets):
        for tap in sheet.taps:
            if tap.faults:
                found = by_change[tap.change]
                found[at] = found.get(at, Decimal(0)) + tap.faults
    return tuple(
        Noted(
            "" if change is None else label_of(change, rules),
            tuple(figure(found[at]) if at in found else "–" for at in range(len(sheets))),
        )
        for change, found in sorted(by_change.items(), key=lambda item: (item[0] is None, item[0] or 0))
    )
