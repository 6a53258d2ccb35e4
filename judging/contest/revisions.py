"""TWO PUBLISHED RESULTS → WHAT CHANGED BETWEEN THEM, band by band, in words."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from judging.figures import figure
from judging.marks.safety import ordinal


@dataclass(frozen=True, slots=True)
class Changed:
    """What a revision changed for one band.

    Parameters
    ----------
    section : str
        Of the contest; empty where it has only one.
    entry : str
        Identifier of the entry.
    what : tuple of str
        Sentences without a full stop, such as ``"second, was third"``.
    """

    section: str
    entry: str
    what: tuple[str, ...]


def changes_between(before: Mapping[str, Any], after: Mapping[str, Any]) -> tuple[Changed, ...]:
    """Say what changed from one published result to a later one.

    Parameters
    ----------
    before, after : mapping
        Documents of `judging.contest.result_document`.

    Returns
    -------
    tuple of Changed
        In the order of the later result; a band whose line stayed as it was is not in it.
    """
    earlier = {section["section"]: _by_entry(section) for section in before["sections"]}
    found = []
    for section in after["sections"]:
        name, now = section["section"], _by_entry(section)
        then = earlier.get(name, {})
        for entry in [*now, *(entry for entry in then if entry not in now)]:
            what = tuple(_changes(then.get(entry), now.get(entry)))
            if what:
                found.append(Changed(name, entry, what))
    return tuple(found)


def _by_entry(section: Mapping[str, Any]) -> dict[str, Mapping[str, Any]]:
    return {place["entry"]: place for place in section["places"]}


def _changes(before: Mapping[str, Any] | None, after: Mapping[str, Any] | None) -> Iterator[str]:
    if before is None or after is None:
        yield "is in the result now" if before is None else "is no longer in the result"
        return
    if _place(before) != _place(after):
        yield f"{_place(after)}, was {_place(before)}"
    if before["mark"] != after["mark"]:
        yield f"mark {_figure(after['mark'])}, was {_figure(before['mark'])}"
    for judge in dict.fromkeys([*before["by_judge"], *after["by_judge"]]):
        then, now = before["by_judge"].get(judge), after["by_judge"].get(judge)
        if then != now:
            yield f"sheet of judge {judge} {_figure(now)}, was {_figure(then)}"
    yield from (f"no longer: {rule}" for rule in _without(_rules(before), _rules(after)))
    yield from (f"now: {rule}" for rule in _without(_rules(after), _rules(before)))


def _place(line: Mapping[str, Any]) -> str:
    if line["place"] is None:
        return "unplaced"
    return ordinal(line["place"]) + (" equal" if line["tied"] else "")


def _figure(number: float | None) -> str:
    return "none" if number is None else figure(Decimal(str(number)))


def _rules(line: Mapping[str, Any]) -> list[str]:
    return list(dict.fromkeys(step["rule"] for step in line["adjustments"]))


def _without(these: Sequence[str], those: Sequence[str]) -> list[str]:
    return [rule for rule in these if rule not in those]
