"""ENTRIES WITH THE SAME MARK → ORDER, by the declared rules asked one after another; what stays level shares the place.

A rule is asked only where it can be asked of every entry that is level: one that needs each tap cannot judge between a
sheet of taps and a bare total. Rules never see entries that were not level.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby, pairwise

from judging.figures import figure
from judging.marks.combining import Figures, placings
from judging.marks.rules import TieRule, Ties
from judging.marks.values import Entrant, Sheet

_ONE = Decimal(1)

#: Rules whose name does not read well after "by".
_IN_WORDS: Mapping[TieRule, str] = {
    "chief judge": "the chief judge's figure",
    "better by more judges": "how many judges had it ahead",
    "machine": "the machine's count",
}


@dataclass(frozen=True, slots=True)
class Evidence:
    """What tie rules may look at.

    Parameters
    ----------
    by_judge : mapping of str to mapping of str to Decimal
        By judge and entry, after each judge's adjustments; human judges only.
    sheets : mapping of tuple of str to Sheet
        By judge and entry, the sheets that count.
    entrants : mapping of str to Entrant
        By identifier.
    placed : tuple of str
        Entries that can be placed.
    machine : mapping of str to Decimal or None
        The machine's figures after its adjustments; None where it has no part.
    lower_is_better : bool
        Of a judge's figure.
    """

    by_judge: Mapping[str, Figures]
    sheets: Mapping[tuple[str, str], Sheet]
    entrants: Mapping[str, Entrant]
    placed: tuple[str, ...]
    machine: Figures | None
    lower_is_better: bool


@dataclass(frozen=True, slots=True)
class Settled:
    """A group of level entries in order.

    Parameters
    ----------
    groups : tuple of tuple of str
        Best first; entries in one group stay level.
    splits : mapping of str to str
        What decided between an entry and the entries of the group before its own, in words, by entry.
    not_asked : tuple of str
        Rules that could not be asked, and why.
    """

    groups: tuple[tuple[str, ...], ...]
    splits: Mapping[str, str]
    not_asked: tuple[str, ...]


def settle_tie(level: Sequence[str], rules: Ties, evidence: Evidence) -> Settled:
    """Order of entries that have the same mark.

    Parameters
    ----------
    level : sequence of str
        Two entries or more.
    rules : Ties
        The declared rules.
    evidence : Evidence
        What they may look at.

    Returns
    -------
    Settled
        Independent of the order of ``level``.
    """
    groups: list[tuple[str, ...]] = [tuple(sorted(level))]
    splits: dict[str, str] = {}
    not_asked: dict[str, None] = {}
    for rule in rules.rules:
        after: list[tuple[str, ...]] = []
        for group in groups:
            scores = _SCORERS[rule](group, rules, evidence) if len(group) > 1 else {}
            if isinstance(scores, str):
                not_asked[f"The rule “{rule}” could not be asked: {scores}."] = None
                scores = {}
            parts = _by_score(group, scores)
            for better, worse in pairwise(parts):
                words = (
                    f"{name_of(rule, rules)}: {figure(abs(scores[better[0]]))} against {figure(abs(scores[worse[0]]))}"
                )
                splits.update(dict.fromkeys(worse, words))
            after += parts
        groups = after
    return Settled(tuple(groups), splits, tuple(not_asked))


def name_of(rule: TieRule, rules: Ties) -> str:
    """Name of a tie rule as it is printed, its number filled in."""
    if rule == "fewest faults in the last changes":
        return f"fewest faults in the last {rules.last_changes} changes"
    return _IN_WORDS.get(rule, rule)


def _by_score(group: tuple[str, ...], scores: Mapping[str, Decimal]) -> list[tuple[str, ...]]:
    if not scores:
        return [group]
    ordered = sorted(group, key=lambda entry: (scores[entry], entry))
    return [tuple(part) for _, part in groupby(ordered, key=lambda entry: scores[entry])]


#: Scores of a rule, lower is better (a negative score prints as its size); or, as text, why it cannot be asked.
_Scores = Mapping[str, Decimal] | str


def _signed(figure: Decimal, evidence: Evidence) -> Decimal:
    return figure if evidence.lower_is_better else -figure


def _chief(group: tuple[str, ...], rules: Ties, evidence: Evidence) -> _Scores:
    figures = evidence.by_judge.get(rules.chief_judge, {})
    if any(entry not in figures for entry in group):
        return "the chief judge has no sheet for every one of them"
    return {entry: _signed(figures[entry], evidence) for entry in group}


def _itemised(group: tuple[str, ...], evidence: Evidence, *, by_change: bool) -> dict[str, list[Sheet]]:
    """Sheets of the judges who itemised every entry of the group, by entry."""
    found: dict[str, list[Sheet]] = {entry: [] for entry in group}
    for judge in sorted(evidence.by_judge):
        sheets = {entry: evidence.sheets[judge, entry] for entry in group if (judge, entry) in evidence.sheets}
        if len(sheets) == len(group) and all(_is_itemised(sheet, by_change=by_change) for sheet in sheets.values()):
            for entry, sheet in sheets.items():
                found[entry].append(sheet)
    return found


def _is_itemised(sheet: Sheet, *, by_change: bool) -> bool:
    complete = sum((tap.faults for tap in sheet.taps), Decimal(0)) == sheet.total
    return complete and not (by_change and any(tap.change is None for tap in sheet.taps))


def _whole_faults(group: tuple[str, ...], _: Ties, evidence: Evidence) -> _Scores:
    sheets = _itemised(group, evidence, by_change=False)
    if not sheets[group[0]]:
        return "no judge noted every fault of every one of them"
    return {entry: Decimal(sum(tap.faults >= _ONE for sheet in sheets[entry] for tap in sheet.taps)) for entry in group}


def _faulty_changes(group: tuple[str, ...], _: Ties, evidence: Evidence) -> _Scores:
    sheets = _itemised(group, evidence, by_change=True)
    if not sheets[group[0]]:
        return "no judge noted the change of every fault of every one of them"
    return {
        entry: Decimal(sum(len({tap.change for tap in sheet.taps if tap.faults}) for sheet in sheets[entry]))
        for entry in group
    }


def _last_changes(group: tuple[str, ...], rules: Ties, evidence: Evidence) -> _Scores:
    sheets = _itemised(group, evidence, by_change=True)
    if not sheets[group[0]]:
        return "no judge noted the change of every fault of every one of them"
    scores = {}
    for entry in group:
        length = evidence.entrants[entry].changes
        if length is None:
            return "the length of the piece is not fixed"
        after = length - (rules.last_changes or 0)
        late = (tap.faults for sheet in sheets[entry] for tap in sheet.taps if tap.change and tap.change > after)
        scores[entry] = sum(late, Decimal(0))
    return scores


def _more_judges(group: tuple[str, ...], _: Ties, evidence: Evidence) -> _Scores:
    if not _all_heard(group, evidence):
        return "not every judge has a sheet for every one of them"
    return {
        entry: -Decimal(
            sum(
                _signed(figures[entry], evidence) < _signed(figures[other], evidence)
                for figures in evidence.by_judge.values()
                for other in group
            )
        )
        for entry in group
    }


def _best_sheet(group: tuple[str, ...], _: Ties, evidence: Evidence) -> _Scores:
    if not _all_heard(group, evidence):
        return "not every judge has a sheet for every one of them"
    return {entry: min(_signed(figures[entry], evidence) for figures in evidence.by_judge.values()) for entry in group}


def _total_of_placings(group: tuple[str, ...], _: Ties, evidence: Evidence) -> _Scores:
    if not _all_heard(group, evidence):
        return "not every judge has a sheet for every one of them"
    tables = [
        placings(figures, evidence.placed, lower_is_better=evidence.lower_is_better)
        for figures in evidence.by_judge.values()
    ]
    return {entry: sum((table[entry] for table in tables), Decimal(0)) for entry in group}


def _machine(group: tuple[str, ...], _: Ties, evidence: Evidence) -> _Scores:
    if evidence.machine is None:
        return "the machine has no part in this section"
    return {entry: evidence.machine[entry] for entry in group}


def _all_heard(group: tuple[str, ...], evidence: Evidence) -> bool:
    return all(entry in figures for figures in evidence.by_judge.values() for entry in group)


_SCORERS: Mapping[TieRule, Callable[[tuple[str, ...], Ties, Evidence], _Scores]] = {
    "chief judge": _chief,
    "fewest whole faults": _whole_faults,
    "fewest faulty changes": _faulty_changes,
    "fewest faults in the last changes": _last_changes,
    "better by more judges": _more_judges,
    "best single sheet": _best_sheet,
    "lowest total of placings": _total_of_placings,
    "machine": _machine,
}
