"""A contest as its page shows it: head, ranked tables, order of ringing, rules in sentences."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from judging.contest import Pause, Phase, Turn, timetable
from judging.marks.values import Placed, Result
from judging.papers import ResultsSheet
from judging.papers.of_the_day import DayPapers
from judging.papers.results_sheet import ResultLine
from judging.papers.words import day_in_words, time_of_day
from judging.web.judged import Judged
from judging.web.naming import Names
from judging.web.showing import Shown, shows_sheet

#: What is said of a contest in each phase.
STANDING: Mapping[Phase, str] = {
    Phase.DRAFT: "Being prepared",
    Phase.PUBLISHED: "Rules published, not drawn yet",
    Phase.DRAWN: "Drawn; ringing has not begun",
    Phase.RINGING: "Ringing now",
    Phase.SHEETS_IN: "All sheets are in",
    Phase.PROVISIONAL: "Provisional result",
    Phase.PROTEST: "Provisional result; protests may be handed in",
    Phase.FINAL: "Final result",
}


@dataclass(frozen=True, slots=True)
class Head:
    """What stands at the head of a contest's pages."""

    title: str
    address: str
    district: str
    when_and_where: str
    standing: str


@dataclass(frozen=True, slots=True)
class Rings:
    """One line of the order of ringing.

    Parameters
    ----------
    number : int
        From 1; 0 for a break.
    name : str
        Of the band for this visitor, or what the break is for.
    address : str
        Of its fault sheet; empty where the visitor may not open it.
    remark : str
        What sets it apart, in words.
    practice, rings : str
        Times of day; of a break, when it begins and ends. Empty where there are none.
    """

    number: int
    name: str
    address: str
    remark: str
    practice: str
    rings: str


@dataclass(frozen=True, slots=True)
class Order:
    """The order of ringing: its lines, which columns of times it has, and when the last band has rung."""

    lines: tuple[Rings, ...]
    has_times: bool
    has_practice: bool
    ends: str


@dataclass(frozen=True, slots=True)
class Table:
    """One section's result: the results sheet, which the paper prints too, and where each band's line leads.

    Parameters
    ----------
    key : str
        Names the section within the page.
    sheet : ResultsSheet
        What is shown.
    addresses : tuple of str
        Of each line's fault sheet; empty where the visitor may not open it.
    places : tuple of int or None
        Of each line.
    lower_is_better : bool
        Whether fewer is better.
    has_judges, has_machine, has_safety : bool
        Which columns there are.
    """

    key: str
    sheet: ResultsSheet
    addresses: tuple[str, ...]
    places: tuple[int | None, ...]
    lower_is_better: bool
    has_judges: bool
    has_machine: bool
    has_safety: bool


def head_of(judged: Judged) -> Head:
    """Return the head of a contest's pages."""
    rules = judged.rules
    standing = STANDING[judged.phase]
    if judged.revision > 1:
        standing += f", revision {judged.revision}"
    return Head(
        title=rules.title,
        address=f"/contests/{judged.slug}",
        district=rules.district,
        when_and_where=", ".join(
            part for part in (day_in_words(rules.date) if rules.date else "", rules.place) if part
        ),
        standing=standing,
    )


def papers_of(judged: Judged, names: Names, shown: Shown, *, audit_head: str = "") -> DayPapers:
    """Return the papers of a contest, which its pages show too, with nothing in them that the visitor may not see.

    Parameters
    ----------
    judged : Judged
        The contest.
    names : Names
        For this visitor.
    shown : Shown
        What this visitor may see.
    audit_head : str
        Printed on papers.

    Returns
    -------
    DayPapers
    """
    results = tuple(
        replace(result, places=tuple(_veiled(placed, shown) for placed in result.places), revision=judged.revision)
        for result in (judged.outcome.results if shown.result else ())
    )
    day = judged.day
    if not shown.by_judge:
        day = replace(day, sheets=tuple(replace(sheet, taps=()) for sheet in day.sheets))
    return DayPapers(
        day=day if judged.is_drawn else replace(day, order=()),
        outcome=replace(judged.outcome, results=results),
        bands=names.all(),
        state="" if judged.phase is Phase.FINAL else "provisional",
        audit_head=audit_head,
    )


def tables_of(judged: Judged, names: Names, shown: Shown) -> tuple[Table, ...]:
    """Return the ranked table of every section, as far as the visitor may see it.

    Parameters
    ----------
    judged : Judged
        The contest.
    names : Names
        For this visitor.
    shown : Shown
        What this visitor may see.

    Returns
    -------
    tuple of Table
        Empty where there is no result, or none to be seen.
    """
    papers = papers_of(judged, names, shown)
    return tuple(
        _table(result, index, papers, judged, names, shown) for index, result in enumerate(papers.outcome.results, 1)
    )


def _table(result: Result, index: int, papers: DayPapers, judged: Judged, names: Names, shown: Shown) -> Table:
    return Table(
        key=str(index),
        sheet=papers.results_sheet(result),
        addresses=tuple(sheet_address(judged, names, placed.entry) for placed in result.places),
        places=tuple(placed.place for placed in result.places),
        lower_is_better=result.lower_is_better,
        has_judges=shown.by_judge,
        has_machine=shown.machine and any(placed.machine is not None for placed in result.places),
        has_safety=shown.safety and any(placed.safety is not None for placed in result.places),
    )


def order_of_ringing(judged: Judged, names: Names) -> Order:
    """Return the drawn order and timetable as they are listed; without a line before the draw."""
    table = timetable(judged.rules, judged.day.entries, judged.day.order if judged.is_drawn else ())
    return Order(
        lines=tuple(
            Rings(0, line.what, "", "", time_of_day(line.begins), time_of_day(line.ends))
            if isinstance(line, Pause)
            else _rings(line, judged, names)
            for line in table.lines
        ),
        has_times=table.ends is not None,
        has_practice=any(turn.practice for turn in table.turns),
        ends=time_of_day(table.ends),
    )


def _rings(turn: Turn, judged: Judged, names: Names) -> Rings:
    return Rings(
        number=turn.number,
        name=names.name(turn.entry),
        address=sheet_address(judged, names, turn.entry),
        # That a band is a scratch band would tell judges who it is.
        remark=turn.remark if turn.is_off or names.sees(turn.entry) else "",
        practice="" if turn.is_off else time_of_day(turn.practice),
        rings="" if turn.is_off else time_of_day(turn.rings),
    )


def announced(sheet: ResultsSheet, step: int) -> tuple[ResultLine, ...]:
    """Return the lines announced after some steps, the newest first: unplaced bands, then from last place to first."""
    return sheet.lines[max(len(sheet.lines) - step, 0) :]


def winners(judged: Judged, names: Names, shown: Shown) -> str:
    """Return who won the first section, where that may be seen."""
    results = judged.outcome.results if shown.result else ()
    first = [placed.entry for placed in results[0].places if placed.place == 1] if results else []
    return " and ".join(names.name(entry) for entry in first)


def sheet_address(judged: Judged, names: Names, entry_id: str) -> str:
    """Return where an entry's fault sheet is; empty where there is none, or the visitor may not open it."""
    may = shows_sheet(entry_id, names.viewer, judged.phase, judged.rules.public, was_final=judged.was_final)
    return names.address(entry_id) if may and _has_sheet(judged, entry_id) else ""


def _has_sheet(judged: Judged, entry_id: str) -> bool:
    return entry_id in judged.outcome.counts or judged.is_by_ear_alone(entry_id)


def _veiled(placed: Placed, shown: Shown) -> Placed:
    """Take from a line what the visitor may not see."""
    return replace(
        placed,
        by_judge=placed.by_judge if shown.by_judge else {},
        on_scale=placed.on_scale if shown.by_judge else {},
        machine=placed.machine if shown.machine else None,
        safety=placed.safety if shown.safety else None,
        adjustments=placed.adjustments if shown.by_judge else (),
    )
