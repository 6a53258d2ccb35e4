"""A band's fault sheet as its page shows it: the paper's own data, the map in blocks, and what is being heard."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import inf

from judging.contest.values import Entry
from judging.papers import FaultSheet
from judging.papers.sheet_values import FaultLine
from judging.papers.words import stopped
from judging.striking.values import Count
from judging.web.contest_page import papers_of
from judging.web.fault_map import Block, map_of, pages_of
from judging.web.judged import Judged
from judging.web.naming import Names
from judging.web.peal_speed_meant import beside_meant
from judging.web.showing import Shown


@dataclass(frozen=True, slots=True)
class Part:
    """What one page of a fault sheet shows of a piece that may be longer.

    Parameters
    ----------
    titles : tuple of str
        Of all parts, such as ``"changes 1 to 288"``.
    number : int
        Which this is, from 1.
    blocks : tuple of Block
        Of the map.
    charged : tuple of FaultLine
        Faults charged in these rows.
    shown : tuple of (str, tuple of FaultLine)
        What is shown and not charged: a heading and its faults.
    """

    titles: tuple[str, ...]
    number: int
    blocks: tuple[Block, ...]
    charged: tuple[FaultLine, ...]
    shown: tuple[tuple[str, tuple[FaultLine, ...]], ...]


def fault_sheet_of(
    judged: Judged,
    entry: Entry,
    names: Names,
    shown: Shown,
    *,
    audit_head: str = "",
    notes: Sequence[str] = (),
    meant: int | None = None,
) -> FaultSheet:
    """Return the fault sheet of an entry, for page and paper, as far as the visitor may see the marks.

    Parameters
    ----------
    judged : Judged
        The contest; the entry has a count.
    entry : Entry
        Whose sheet.
    names : Names
        For this visitor.
    shown : Shown
        What this visitor may see of the result.
    audit_head : str
        Printed on papers.
    notes : sequence of str
        What the ear said of the recording; stands before the count's own notes.
    meant : int or None
        The peal speed that was meant, in minutes.

    Returns
    -------
    FaultSheet
    """
    sheet = papers_of(judged, names, shown, audit_head=audit_head).fault_sheet(entry.id)
    pace_meant = "" if meant is None else stopped(beside_meant(judged.outcome.counts[entry.id], meant))
    return replace(sheet, notes=(*notes, *sheet.notes), pace_meant=pace_meant)


def part_of(count: Count, sheet: FaultSheet, *, number: int | None, at_s: float | None) -> Part:
    """Return one part of a fault sheet's rows: the one asked for, or the one in which something is heard.

    Parameters
    ----------
    count : Count
        The machine's count.
    sheet : FaultSheet
        Made from it.
    number : int or None
        From 1; beyond the end is the last.
    at_s : float or None
        A time of the recording.

    Returns
    -------
    Part
    """
    pages = pages_of(map_of(count))
    if number is None:
        number = _number_of(pages, blow_at(sheet, at_s), at_s)
    number = min(max(number, 1), len(pages))
    blocks = pages[number - 1]
    rows = _rows_of(blocks)

    def here(lines: Sequence[FaultLine]) -> tuple[FaultLine, ...]:
        return tuple(line for line in lines if line.row in rows)

    return Part(
        titles=tuple(_title(page) for page in pages),
        number=number,
        blocks=blocks,
        charged=here(sheet.faults),
        shown=(
            ("Too slight to charge, or beyond what a row can be charged", here(sheet.blemishes)),
            ("In rows that are not marked", here(sheet.unmarked)),
        ),
    )


def blow_at(sheet: FaultSheet, at_s: float | None) -> FaultLine | None:
    """Return the fault that begins at a time of the recording, if one does."""
    if at_s is None:
        return None
    lines = (*sheet.faults, *sheet.blemishes, *sheet.unmarked)
    return next((line for line in lines if abs(line.time_s - at_s) < 0.006), None)  # addresses say hundredths


def _number_of(pages: Sequence[tuple[Block, ...]], here: FaultLine | None, at_s: float | None) -> int:
    """Return the number of the page that holds a fault, or else the last that has begun at a time."""
    if here is not None:
        return next(index for index, page in enumerate(pages, 1) if here.row in _rows_of(page))
    starts_s = [
        min((line.at_s for block in page for line in block.lines if line.at_s is not None), default=inf)
        for page in pages
    ]
    return max(sum(start_s <= (at_s or 0.0) for start_s in starts_s), 1)


def _rows_of(blocks: Sequence[Block]) -> frozenset[str]:
    return frozenset(line.of.id for block in blocks for line in block.lines)


def _title(page: tuple[Block, ...]) -> str:
    numbers = [line.number for block in page for line in block.lines if line.of.change is not None]
    return f"changes {numbers[0]} to {numbers[-1]}" if numbers else page[0].title
