"""COUNTS → THE MACHINE'S ORDER UNDER EVERY LINE AND EVERY SCHEME: which places hang on where the line is drawn.

A count says little without the line it was drawn at. Here the same blows are counted again with all tolerance lines
moved together, and under every marking scheme, and the bands are put in order by the machine's count alone. What the
judges gave does not depend on these lines; this is for the cross-check, and changes nothing.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace
from decimal import Decimal
from itertools import groupby, pairwise

from judging.contest.declared import RuleSet
from judging.marks.panel import MACHINE
from judging.marks.ranking import rank
from judging.marks.rules import Combining, MachinePart, MarksRules, Sheets, Ties
from judging.marks.safety import ordinal
from judging.marks.values import Entrant, Sheet
from judging.striking.deviation import deviations
from judging.striking.faults import charged_faults, levels
from judging.striking.marking import SCHEMES
from judging.striking.rules import CountingRules
from judging.striking.tolerance import ToleranceBands
from judging.striking.values import Count

#: Where the half fault's line is drawn, in gaps: from a little more than an experienced ear notices (a tenth of a gap)
#: to what everybody calls a crunch (half a gap). Both from common practice, no source.
LINES_GAPS: tuple[float, ...] = tuple(round(0.14 + 0.02 * step, 2) for step in range(19))


@dataclass(frozen=True, slots=True)
class EveryLine:
    """The machine's order under every line and scheme.

    Parameters
    ----------
    lines_gaps : tuple of float
        Where the half fault's line was drawn, in gaps; the other lines move with it.
    counts, places : mapping of str to tuple
        By entry, one figure a line: faults after penalties, and the place (None where unplaced).
    by_scheme : mapping of str to mapping of str to int or None
        Places by marking scheme and entry, at the declared lines.
    sentences : mapping of str to str
        By entry: where it stands from which line to which.
    """

    lines_gaps: tuple[float, ...]
    counts: Mapping[str, tuple[Decimal, ...]]
    places: Mapping[str, tuple[int | None, ...]]
    by_scheme: Mapping[str, Mapping[str, int | None]]
    sentences: Mapping[str, str]


def under_every_line(
    counts: Mapping[str, Count],
    entrants: Sequence[Entrant],
    rules: RuleSet,
    *,
    lines_gaps: Sequence[float] = LINES_GAPS,
) -> EveryLine:
    """Order of the machine's counts under other lines and schemes.

    Parameters
    ----------
    counts : mapping of str to Count
        By entry; only these are ranked.
    entrants : sequence of Entrant
        Of the section.
    rules : RuleSet
        As declared: its lines and its scheme are what is varied, its penalties are kept.
    lines_gaps : sequence of float
        Half-fault lines to draw.

    Returns
    -------
    EveryLine
        Places from the machine's counts alone.
    """
    here = [entrant for entrant in entrants if entrant.id in counts]
    drawn = [
        _order(counts, here, rules, replace(rules.counting, bands=moved(rules.counting.bands, line)))
        for line in lines_gaps
    ]
    places = {entrant.id: tuple(order[entrant.id][0] for order in drawn) for entrant in here}
    schemes = {
        name: _order(counts, here, rules, replace(rules.counting, scheme=scheme)) for name, scheme in SCHEMES.items()
    }
    return EveryLine(
        lines_gaps=tuple(lines_gaps),
        counts={entrant.id: tuple(order[entrant.id][1] for order in drawn) for entrant in here},
        places=places,
        by_scheme={name: {entry: place for entry, (place, _) in order.items()} for name, order in schemes.items()},
        sentences={entry: _in_words(lines_gaps, of) for entry, of in places.items() if None not in of},
    )


def moved(bands: ToleranceBands, half_gaps: float) -> ToleranceBands:
    """Return tolerance bands with every line moved in the same proportion, the half fault's to a given place.

    Parameters
    ----------
    bands : ToleranceBands
        As declared.
    half_gaps : float
        Where the half fault's line goes, in gaps.

    Returns
    -------
    ToleranceBands
        The floors in milliseconds move too; what a clash is stays.
    """
    factor = half_gaps / bands.half_gaps
    lines = [part.name for part in fields(bands) if part.name != "clash_gaps"]
    return replace(bands, **{name: getattr(bands, name) * factor for name in lines})


def recounted(count: Count, rules: CountingRules) -> Decimal:
    """Faults of ringing that is already laid and fitted, under other rules.

    Parameters
    ----------
    count : Count
        With its evidence.
    rules : CountingRules
        Other lines or another scheme; what is marked stays as it was.

    Returns
    -------
    Decimal
        Total charge.
    """
    found = deviations(count.rung, count.rhythm, rules.bands)
    far = levels(count.rung, count.rhythm, found, rules, count.judged)
    faults = charged_faults(count.rung, count.rhythm, found, far, rules, count.judged)
    return sum((fault.charge for fault in faults), Decimal(0))


def _order(
    counts: Mapping[str, Count], entrants: Sequence[Entrant], rules: RuleSet, counting: CountingRules
) -> dict[str, tuple[int | None, Decimal]]:
    """Place and figure by entry, the machine being the only judge."""
    alone = MarksRules(
        sheets=Sheets(step=Decimal("0.001")),
        combining=Combining("sum"),
        machine=MachinePart("cross-check"),
        penalties=rules.marks.penalties,
        ties=Ties(),
        rounding=rules.marks.rounding,
    )
    sheets = [Sheet(MACHINE, entrant.id, recounted(counts[entrant.id], counting)) for entrant in entrants]
    result = rank(entrants, [sheet for sheet in sheets if _may_have_sheet(sheet, entrants)], alone, judges=[MACHINE])
    return {line.entry: (line.place, line.mark if line.mark is not None else Decimal(0)) for line in result.places}


def _may_have_sheet(sheet: Sheet, entrants: Sequence[Entrant]) -> bool:
    return not any(entrant.id == sheet.entry and entrant.withdrawn for entrant in entrants)


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
