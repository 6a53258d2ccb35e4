"""COUNTS → THE ORDER UNDER EVERY LINE AND EVERY SCHEME: which places hang on where the line is drawn.

A count says little without the line it was drawn at. Here the same blows are counted again with all tolerance lines
moved together, and under every marking scheme. The bands are put in order by the machine's count alone and, where the
rules give it a part in the result, by the whole of the rules. What the judges gave does not depend on these lines; all
of it is advice, and changes nothing.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import groupby, pairwise

from judging.contest.day import entrants_in, panel_of
from judging.contest.declared import RuleSet
from judging.contest.machine import moved, recounted
from judging.contest.values import ContestDay, Outcome
from judging.marks.panel import MACHINE
from judging.marks.ranking import rank
from judging.marks.rules import Combining, MachinePart, MarksRules, Ties
from judging.marks.safety import ordinal
from judging.marks.sheet_rules import Sheets
from judging.marks.values import Entrant, Result, Sheet
from judging.striking.marking import SCHEMES
from judging.striking.rules import CountingRules
from judging.striking.values import Count

#: Where the half fault's line is drawn, in gaps: from a little more than an experienced ear notices (a tenth of a gap)
#: to what everybody calls a crunch (half a gap). Both from common practice, no source.
LINES_GAPS: tuple[float, ...] = tuple(round(0.14 + 0.02 * step, 2) for step in range(19))


@dataclass(frozen=True, slots=True)
class Orders:
    """Places of a section under every line and every scheme.

    Parameters
    ----------
    by_line : mapping of str to tuple of int or None
        By entry, one place a line; None where unplaced.
    by_scheme : mapping of str to mapping of str to int or None
        By marking scheme and entry, at the declared lines.
    sentences : mapping of str to str
        By entry: where it stands from which line to which.
    """

    by_line: Mapping[str, tuple[int | None, ...]]
    by_scheme: Mapping[str, Mapping[str, int | None]]
    sentences: Mapping[str, str]

    @property
    def stands(self) -> bool:
        """Whether every place is the same under every line and scheme."""
        return all(
            len({*places, *(order[entry] for order in self.by_scheme.values())}) == 1
            for entry, places in self.by_line.items()
        )


@dataclass(frozen=True, slots=True)
class EveryLine:
    """A section under every line and scheme.

    Parameters
    ----------
    lines_gaps : tuple of float
        Where the half fault's line was drawn, in gaps; the other lines move with it.
    declared_gaps : float
        Where the rules draw it.
    counts : mapping of str to tuple of Decimal
        By entry, the machine's faults after penalties, one figure a line.
    machine : Orders
        From the machine's counts alone.
    result : Orders or None
        The result itself, judges' sheets and all; None where the machine has no part in it, since then it hangs on no
        line.
    """

    lines_gaps: tuple[float, ...]
    declared_gaps: float
    counts: Mapping[str, tuple[Decimal, ...]]
    machine: Orders
    result: Orders | None


def under_every_line(
    counts: Mapping[str, Count],
    entrants: Sequence[Entrant],
    rules: RuleSet,
    *,
    sheets: Sequence[Sheet] = (),
    judges: Sequence[str] = (),
    unfit: Mapping[str, str] | None = None,
    lines_gaps: Sequence[float] = LINES_GAPS,
) -> EveryLine:
    """Order of a section under other lines and schemes.

    Parameters
    ----------
    counts : mapping of str to Count
        By entry; only these are ranked by the machine alone.
    entrants : sequence of Entrant
        Of the section.
    rules : RuleSet
        As declared: its lines and its scheme are what is varied, everything else is kept.
    sheets : sequence of Sheet
        Of the section's judges, for the result itself; without any there is none.
    judges : sequence of str
        The section's panel.
    unfit : mapping of str to str or None
        Why a count is not of the declared quality, by entry.
    lines_gaps : sequence of float
        Half-fault lines to draw.

    Returns
    -------
    EveryLine
    """
    bands = rules.counting.bands
    drawn = [replace(rules.counting, bands=moved(bands, line)) for line in lines_gaps]
    schemes = {name: replace(rules.counting, scheme=scheme) for name, scheme in SCHEMES.items()}

    def recount(counting: CountingRules) -> dict[str, Decimal]:
        return {entrant.id: recounted(counts[entrant.id], counting) for entrant in entrants if entrant.id in counts}

    by_line = [recount(counting) for counting in drawn]
    by_scheme = {name: recount(counting) for name, counting in schemes.items()}

    def whole(figures: Mapping[str, Decimal]) -> Result:
        return rank(entrants, sheets, rules.marks, judges=judges, machine=figures, unfit=unfit or {})

    def orders(by_line: Sequence[Result], by_scheme: Mapping[str, Result]) -> Orders:
        places = [_places(result) for result in by_line]
        by_entry = {entry: tuple(order[entry] for order in places) for entry in places[0]}
        return Orders(
            by_entry,
            {name: _places(result) for name, result in by_scheme.items()},
            {entry: _in_words(lines_gaps, of) for entry, of in by_entry.items() if None not in of},
        )

    alone = [_alone(figures, entrants, rules) for figures in by_line]
    has_part = bool(sheets) and rules.marks.machine.part != "cross-check"
    return EveryLine(
        lines_gaps=tuple(lines_gaps),
        declared_gaps=bands.half_gaps,
        counts={line.entry: tuple(_mark_of(line.entry, order) for order in alone) for line in alone[0].places},
        machine=orders(alone, {name: _alone(figures, entrants, rules) for name, figures in by_scheme.items()}),
        result=orders(list(map(whole, by_line)), {name: whole(figures) for name, figures in by_scheme.items()})
        if has_part
        else None,
    )


def section_under_every_line(day: ContestDay, outcome: Outcome, section: str = "") -> EveryLine | None:
    """Order of a section of a judged day under other lines and schemes.

    Parameters
    ----------
    day : ContestDay
        With the sheets.
    outcome : Outcome
        With the machine's counts.
    section : str
        Name of the section; empty where there is only one.

    Returns
    -------
    EveryLine or None
        None where fewer than two of its bands have a count.
    """
    declared = next(one for one in day.rules.sections if one.name == section)
    entrants = entrants_in(day, declared)
    ids = {entrant.id for entrant in entrants}
    counts = {entry: count for entry, count in outcome.counts.items() if entry in ids}
    if len(counts) < 2:
        return None
    return under_every_line(
        counts,
        entrants,
        day.rules,
        sheets=[sheet for sheet in day.sheets if sheet.entry in ids],
        judges=panel_of(day, declared),
        unfit=outcome.uncounted,
    )


def _places(result: Result) -> dict[str, int | None]:
    return {line.entry: line.place for line in result.places}


def _alone(figures: Mapping[str, Decimal], entrants: Sequence[Entrant], rules: RuleSet) -> Result:
    """Rank by the machine as the only judge, after the declared penalties."""
    here = [entrant for entrant in entrants if entrant.id in figures]
    alone = MarksRules(
        sheets=Sheets(step=Decimal("0.001")),
        combining=Combining("sum"),
        machine=MachinePart("cross-check"),
        penalties=rules.marks.penalties,
        ties=Ties(),
        rounding=rules.marks.rounding,
    )
    sheets = [Sheet(MACHINE, entrant.id, figures[entrant.id]) for entrant in here if not entrant.withdrawn]
    return rank(here, sheets, alone, judges=[MACHINE])


def _mark_of(entry: str, order: Result) -> Decimal:
    mark = next(line.mark for line in order.places if line.entry == entry)
    return Decimal(0) if mark is None else mark


def _in_words(lines_gaps: Sequence[float], places: Sequence[int | None]) -> str:
    """Say from which line to which a place holds: ``"first from 0.14 to 0.38 gap, second beyond"``."""
    runs = [
        (place, list(lines)) for place, lines in groupby(lines_gaps, key=dict(zip(lines_gaps, places, strict=True)).get)
    ]
    if len(runs) == 1:
        return f"{ordinal(runs[0][0] or 0)} under every line from {lines_gaps[0]:g} to {lines_gaps[-1]:g} gap"
    parts = [f"{ordinal(place or 0)} from {lines[0]:g} to {nxt[1][0]:g}" for (place, lines), nxt in pairwise(runs)]
    parts[0] += " gap"
    return f"{', '.join(parts)}, {ordinal(runs[-1][0] or 0)} beyond"
