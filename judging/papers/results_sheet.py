"""The results sheet: places with reasons, every judge's figure, what was adjusted, and the judges' comments."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from judging.errors import InputError
from judging.figures import figure
from judging.marks.values import Placed, Result
from judging.papers.heading import Heading
from judging.papers.markup import fill_page
from judging.papers.sheet_values import Comment
from judging.papers.typesetting import typeset
from judging.papers.words import ordinal, safety_in_words, stopped


@dataclass(frozen=True, slots=True)
class ResultLine:
    """One band's line; every text as printed.

    Parameters
    ----------
    place : str
        Such as ``"2nd ="``; a dash where unplaced.
    number, band, piece : str
        Order of ringing (empty where not known), name, what was rung.
    by_judge : tuple of str
        Figures in the order of the sheet's judges; a dash where there is none.
    mark, machine : str
        The combined mark; the machine's count beside it. A dash where there is none.
    footnotes : tuple of int
        Which of the sheet's footnotes belong to this line, from 1.
    reasons : tuple of str
        Why this place.
    safety : str
        In words; empty where it cannot be said.
    """

    place: str
    number: str
    band: str
    piece: str
    by_judge: tuple[str, ...]
    mark: str
    machine: str
    footnotes: tuple[int, ...]
    reasons: tuple[str, ...]
    safety: str


@dataclass(frozen=True, slots=True)
class BandComments:
    """What the judges said to one band."""

    number: str
    band: str
    comments: tuple[Comment, ...]


@dataclass(frozen=True, slots=True)
class ResultsSheet:
    """Everything a results sheet of one section shows.

    Parameters
    ----------
    heading : Heading
        The contest and its section.
    unit, combining : str
        What a mark is, and how the judges' figures are combined.
    judges : tuple of str
        Judges' names, in the order of the columns.
    lines : tuple of ResultLine
        Best first, unplaced last.
    footnotes : tuple of str
        What was adjusted, numbered from 1 in order.
    comments : tuple of BandComments
        In order of ringing.
    notes : tuple of str
        What the reader of the whole table must know.
    """

    heading: Heading
    unit: str
    combining: str
    judges: tuple[str, ...]
    lines: tuple[ResultLine, ...]
    footnotes: tuple[str, ...]
    comments: tuple[BandComments, ...]
    notes: tuple[str, ...]


def results_sheet_data(
    result: Result,
    *,
    heading: Heading,
    bands: Mapping[str, str],
    judges: Mapping[str, str],
    order: Sequence[str] = (),
    pieces: Mapping[str, str] | None = None,
    comments: Mapping[str, Sequence[tuple[str, str]]] | None = None,
    combining: str = "",
) -> ResultsSheet:
    """Results sheet of one section.

    Parameters
    ----------
    result : Result
        The ranked result.
    heading : Heading
        The contest; revision and fingerprint are taken from it.
    bands : mapping of str to str
        Names as the reader may see them, by entry.
    judges : mapping of str to str
        Names as printed, by identifier, in the order of the columns.
    order : sequence of str
        Entries in the drawn order of ringing; those of other sections are counted but not printed.
    pieces : mapping of str to str or None
        Title of the piece, by entry.
    comments : mapping of str to sequence of (str, str) or None
        Judge's name and words, by entry.
    combining : str
        How the judges' figures are combined, in words.

    Returns
    -------
    ResultsSheet

    Raises
    ------
    InputError
        Where an entry of the result has no name to print.
    """
    nameless = [placed.entry for placed in result.places if placed.entry not in bands]
    if nameless:
        raise InputError("bands", f"no name is given for {', '.join(nameless)}, which the result places")
    numbers = {entry: str(index) for index, entry in enumerate(order, 1)}
    footnotes: dict[str, int] = {}
    last = max((placed.place or 0 for placed in result.places), default=0)  # nobody can fall below it
    lines = []
    for placed in result.places:
        own = [_footnote(placed, index, judges) for index in range(len(placed.adjustments))]
        for note in own:
            footnotes.setdefault(note, len(footnotes) + 1)
        lines.append(
            ResultLine(
                place=_place(placed),
                number=numbers.get(placed.entry, ""),
                band=bands[placed.entry],
                piece=(pieces or {}).get(placed.entry, ""),
                by_judge=tuple(_dashed(placed.by_judge.get(judge)) for judge in judges),
                mark=_dashed(placed.mark),
                machine=_dashed(placed.machine),
                footnotes=tuple(footnotes[note] for note in own),
                reasons=tuple(map(stopped, placed.reasons)),
                safety=safety_in_words(placed.safety) if placed.place not in {None, last} else "",
            )
        )
    said = comments or {}
    rung = sorted((placed.entry for placed in result.places), key=lambda entry: int(numbers.get(entry, "0")))
    return ResultsSheet(
        heading=heading,
        unit=result.unit,
        combining=combining,
        judges=tuple(judges.values()),
        lines=tuple(lines),
        footnotes=tuple(footnotes),
        comments=tuple(
            BandComments(
                numbers.get(entry, ""),
                bands[entry],
                tuple(Comment(judge, words) for judge, words in said[entry] if words.strip()),
            )
            for entry in rung
            if any(words.strip() for _, words in said.get(entry, ()))
        ),
        notes=tuple(map(stopped, result.notes)),
    )


def results_sheet_pdf(sheet: ResultsSheet) -> bytes:
    """Results sheet to pin up, A4; landscape where there are more than four judges.

    Parameters
    ----------
    sheet : ResultsSheet
        From `results_sheet_data`.

    Returns
    -------
    bytes
        PDF; the same sheet gives the same bytes.
    """
    return typeset("results_sheet", {"sheet": sheet}, name=f"Results: {sheet.heading.contest}")


def results_sheet_html(sheet: ResultsSheet) -> str:
    """Results sheet as one HTML file that opens without a server or a network.

    Parameters
    ----------
    sheet : ResultsSheet
        From `results_sheet_data`.

    Returns
    -------
    str
        A whole document.
    """
    return fill_page("results_sheet", sheet=sheet)


def _place(placed: Placed) -> str:
    if placed.place is None:
        return "–"
    return ordinal(placed.place) + (" =" if placed.tied else "")


def _dashed(number: Decimal | None) -> str:
    return "–" if number is None else figure(number)


def _footnote(placed: Placed, index: int, judges: Mapping[str, str]) -> str:
    adjustment = placed.adjustments[index]
    whose = f"{judges.get(adjustment.judge, adjustment.judge)}: " if adjustment.judge else ""
    return f"{whose}{adjustment.rule}: {figure(adjustment.before)} became {figure(adjustment.after)}"
