"""The fault sheet: what a band takes home, as data for the page, as a PDF for the hand and as one HTML file."""

from collections.abc import Mapping, Sequence
from dataclasses import fields
from decimal import Decimal

import numpy as np

from judging.errors import InputError
from judging.figures import counted, figure
from judging.marks.values import Placed
from judging.papers.drawings import (
    MapRow,
    habits_svg,
    habits_told,
    map_blocks,
    pace_svg,
    pace_told,
    peal_minutes,
    rows_map,
)
from judging.papers.heading import Heading
from judging.papers.mark_steps import mark_steps
from judging.papers.markup import fill_page
from judging.papers.sheet_values import Comment, Evidence, Fact, FaultLine, FaultSheet, HabitLine, MethodLine
from judging.papers.typesetting import Setting, setting
from judging.papers.words import clock, peal_speed, place_in_words, safety_in_words, stopped
from judging.striking.document import fault_id
from judging.striking.values import Count, Event, Fault, Habit

#: Rows that a habit is shown by.
EVIDENCE_ROWS = 6


def fault_sheet_data(
    count: Count,
    *,
    heading: Heading,
    band: str,
    number: int | None = None,
    placed: Placed | None = None,
    unit: str = "faults",
    combining: str = "",
    judges: Mapping[str, str] | None = None,
    comments: Sequence[tuple[str, str]] = (),
) -> FaultSheet:
    """Fault sheet of one band.

    Parameters
    ----------
    count : Count
        The machine's count.
    heading : Heading
        The contest; with an empty title for a practice night.
    band : str
        As the reader may see it: a name, or a number before the result is final.
    number : int or None
        Place in the drawn order of ringing.
    placed : Placed or None
        The band's line of the result; None where there is none (yet).
    unit : str
        Unit of the mark.
    combining : str
        How the judges' figures are combined, in words.
    judges : mapping of str to str or None
        Judges' names as printed, by identifier; an identifier without one is printed itself.
    comments : sequence of (str, str)
        Judge's name and words, in the order in which they are printed; empty words are left out.

    Returns
    -------
    FaultSheet

    Raises
    ------
    InputError
        Where the count has no row at all, or the number is below 1.
    """
    if not len(count.judged):
        raise InputError("count", "holds no row, so there is no sheet to print")
    if number is not None and number < 1:
        raise InputError("number", f"is {number}, but the band that rings first has number 1")
    charged = [fault for fault in count.faults if fault.charge]
    judged = [fault for fault in count.faults if fault.judged and not fault.charge]
    unmarked = [fault for fault in count.faults if not fault.judged and not fault.charge]
    first = next((habit for habit in count.habits if not habit.praise), None)
    return FaultSheet(
        heading=heading,
        band=band,
        number="" if number is None else str(number),
        piece=count.rung.piece.title,
        place=place_in_words(placed.place, tied=placed.tied) if placed else "",
        mark=counted(placed.mark, unit) if placed and placed.mark is not None else "",
        safety=safety_in_words(placed.safety) if placed else "",
        steps=mark_steps(placed, unit=unit, combining=combining, judges=judges or {}) if placed else (),
        reasons=tuple(map(stopped, placed.reasons)) if placed else (),
        total=counted(count.total, "faults"),
        facts=_facts(count, charged),
        summary=stopped(count.summary),
        pull_off=stopped(count.pull_off),
        work_on=stopped(first.sentence) if first else "",
        habits=tuple(
            HabitLine(
                stopped(habit.sentence),
                counted(habit.saves, "faults") if habit.saves else "",
                habit.praise,
                _evidence(count, habit),
            )
            for habit in count.habits
        ),
        map=rows_map(count),
        pace=pace_svg(count),
        pace_told=pace_told(count),
        habits_drawn=habits_svg(count),
        habits_told=habits_told(count),
        faults=tuple(_fault_line(count, fault) for fault in charged),
        blemishes=tuple(_fault_line(count, fault) for fault in judged),
        unmarked=tuple(_fault_line(count, fault) for fault in unmarked),
        method=tuple(_method_line(count, event) for event in count.rung.events),
        comments=tuple(Comment(judge, words) for judge, words in comments if words.strip()),
        scheme=count.scheme,
        notes=tuple(map(stopped, count.notes)),
    )


def fault_sheet_pdf(sheet: FaultSheet) -> bytes:
    """Fault sheet for the hand, A4, two to four pages for an ordinary test piece.

    A list of many faults is set small in two columns, and a map of many rows small and closer; the longest and poorest
    ringing that tests feed it (400 rows on sixteen bells, 300 faults) takes five.

    Parameters
    ----------
    sheet : FaultSheet
        From `fault_sheet_data`.

    Returns
    -------
    bytes
        PDF; the same sheet gives the same bytes.
    """
    return fault_sheet_setting(sheet).pdf()


def fault_sheet_setting(sheet: FaultSheet) -> Setting:
    """Fault sheet ready to be set, which takes the longer the more rows and faults it has."""
    plain = {one.name: getattr(sheet, one.name) for one in fields(sheet) if one.name != "map"}
    rows = [_row_on_paper(row) for row in sheet.map.rows]
    data = {"sheet": plain, "bells": sheet.map.bells, "rows": rows, "not_charged": not_charged(sheet)}
    expected_ms = 15 + 0.04 * (len(rows) * sheet.map.bells + 15 * len(sheet.faults))
    return setting("fault_sheet", data, name=f"Fault sheet: {sheet.band}", expected_ms=expected_ms)


def not_charged(sheet: FaultSheet) -> str:
    """Tell how much was heard that is on the map and not on the list; empty for nothing."""
    parts = []
    if sheet.blemishes:
        parts.append(f"{len(sheet.blemishes)} judged but not charged")
    if sheet.unmarked:
        parts.append(f"{len(sheet.unmarked)} in rows that are not marked")
    return f"Also on the map: {' and '.join(parts)}." if parts else ""


def fault_sheet_html(sheet: FaultSheet) -> str:
    """Fault sheet as one HTML file that opens without a server or a network.

    Parameters
    ----------
    sheet : FaultSheet
        From `fault_sheet_data`.

    Returns
    -------
    str
        A whole document.
    """
    return fill_page("fault_sheet", sheet=sheet, blocks=map_blocks(sheet.map), not_charged=not_charged(sheet))


def _row_on_paper(row: MapRow) -> dict[str, object]:
    """Row of the map with only what is drawn: most blows are just a bell."""
    return {
        "change": "" if row.change is None else str(row.change),
        "hand": row.is_hand,
        "judged": row.is_judged,
        "lead": row.is_lead_head,
        "words": row.words,
        "bells": [cell.symbol for cell in row.cells],
        "marks": {str(cell.place): cell for cell in row.cells if cell.direction or not cell.in_course},
    }


def _facts(count: Count, charged: Sequence[Fault]) -> tuple[Fact, ...]:
    """Figures of the summary; every share has its denominator beside it."""
    rows = count.rows_judged
    minutes = peal_minutes(count)
    marked = minutes[count.judged] if count.judged.any() else minutes
    levels = [sum(fault.level == level for fault in charged) for level in ("whole", "half")]
    blows = int((count.judged[:, np.newaxis] & np.isfinite(count.rung.times_s)).sum())
    facts = [
        Fact("charged", f"{counted(count.total, 'faults')} in {rows} rows"),
        Fact("made of", f"{levels[0]} whole and {levels[1]} half faults in {blows:,} blows"),
    ]
    if rows:
        facts.append(Fact("a row, on average", counted((count.total / rows).quantize(Decimal("0.01")), "faults")))
    if count.most:
        share = (100 * (1 - count.total / count.most)).quantize(Decimal("0.1"))
        facts.append(Fact("as a percentage", f"{figure(share)} % of {counted(count.most, 'faults')} at most"))
    doubtful = sum(fault.doubtful for fault in charged)
    if doubtful:
        facts.append(Fact("doubtful", f"{doubtful} of the {len(charged)} faults, marked with a question mark"))
    gap = "" if count.rhythm.handstroke_gap_is_seen else " (declared, too short to be seen)"
    facts += [
        Fact("peal speed", peal_speed(float(marked.mean()))),
        Fact("gap between blows", f"{1000 * count.gap_s:.0f} ms"),
        Fact("handstroke gap", f"{count.rhythm.handstroke_gap:.2f} of a gap{gap}"),
    ]
    return tuple(facts)


def _evidence(count: Count, habit: Habit) -> tuple[Evidence, ...]:
    """Rows in which a habit cost most, in order; none where it spans most of the piece, or is praise."""
    if habit.praise or len(habit.rows) > count.rows_judged / 2:
        return ()
    dearest = sorted(habit.rows, key=lambda row: (-float(count.charge[row].sum()), row))[:EVIDENCE_ROWS]
    found = []
    for row in sorted(dearest):
        change, times = count.rung.piece.change_of(row), count.rung.times_s[row]
        if change is not None and np.isfinite(times).any():
            found.append(Evidence(count.rung.row_id(row), str(change), float(np.nanmin(times))))
    return tuple(found)


def _fault_line(count: Count, fault: Fault) -> FaultLine:
    _, _, what = fault.sentence.rpartition(": ")
    stroke = "hand" if fault.is_hand else "back"
    return FaultLine(
        id=fault_id(count, fault),
        row=count.rung.row_id(fault.row),
        blow=count.rung.blow_id(fault.row, fault.place),
        time_s=float(fault.time_s),
        time=clock(fault.time_s),
        change="opening" if fault.change is None else str(fault.change),
        stroke=stroke,
        bell=str(fault.bell),
        charge=figure(fault.charge) if fault.charge else "",
        level=fault.level,
        doubtful=fault.doubtful,
        sentence=stopped(fault.sentence),
        where=f"opening {fault.row + 1}" if fault.change is None else f"{fault.change} {stroke}",
        what=what,
    )


def _method_line(count: Count, event: Event) -> MethodLine:
    """Where and what; a sentence that begins with where is taken apart, so that it is not said twice."""
    where, apart, what = event.sentence.partition(": ")
    if apart and where.startswith("Change"):
        return MethodLine(where.lower(), stopped(what[:1].upper() + what[1:]))
    first, last = (count.rung.piece.change_of(row) for row in (event.first_row, event.last_row))
    if first is None:
        return MethodLine("opening rounds", stopped(event.sentence))
    return MethodLine(f"change {first}" if first == last else f"changes {first} to {last}", stopped(event.sentence))
