"""How firm a result is, as its page shows it: places drawn over recounts, judges compared, places under every line.

All of it is advice; none of it changes a mark.
"""

from collections.abc import Collection
from dataclasses import dataclass, replace
from math import isnan

from fastapi import HTTPException

from judging.contest import EveryLine
from judging.contest.every_line import Orders
from judging.marks.judges import JudgesCompared
from judging.marks.values import Result
from judging.papers.drawings import judges_svg, lines_svg, safety_svg, safety_told
from judging.striking.repeatability import together
from judging.web.judged import Judged
from judging.web.naming import Names
from judging.web.showing import Shown


@dataclass(frozen=True, slots=True)
class Agreement:
    """One coefficient of agreement: what it is called, its value, what it asks."""

    name: str
    value: str
    asks: str


@dataclass(frozen=True, slots=True)
class Firmness:
    """How firm one section's result is.

    Parameters
    ----------
    key : str
        Names the section within the page.
    safety : str
        Drawing of places over recounts; empty where it is not to be seen, or says nothing.
    safety_told : tuple of str
        The same in words.
    judges : str
        Drawing of the judges compared; empty where it is not to be seen.
    judges_told : tuple of str
        The same in words, and what each hears.
    agreement : tuple of Agreement
        Of the panel.
    surprising : tuple of str
        Figures to look at again; for the organiser alone.
    lines_address : str
        Of the page of every line; empty where it is not to be seen.
    recorders : str
        How the machine repeated itself from one recorder to another on the day; empty where only one stood there.
    """

    key: str
    safety: str
    safety_told: tuple[str, ...]
    judges: str
    judges_told: tuple[str, ...]
    agreement: tuple[Agreement, ...]
    surprising: tuple[str, ...]
    lines_address: str
    recorders: str = ""


@dataclass(frozen=True, slots=True)
class Order:
    """Marking schemes that give the same order, and that order."""

    schemes: tuple[str, ...]
    bands: tuple[str, ...]
    is_declared: bool


@dataclass(frozen=True, slots=True)
class Drawn:
    """One order of a section under every line.

    Parameters
    ----------
    drawing : str
        SVG.
    told : tuple of str
        Band and what becomes of it.
    orders : tuple of Order
        Marking schemes, those that agree together.
    stands : bool
        Whether nothing changes under any line or scheme.
    """

    drawing: str
    told: tuple[tuple[str, str], ...]
    orders: tuple[Order, ...]
    stands: bool


@dataclass(frozen=True, slots=True)
class Lines:
    """A section under every line: by the machine alone, and the result itself where the machine has a part in it."""

    section: str
    low: float
    high: float
    declared: float
    machine: Drawn
    result: Drawn | None


def firmness_of(judged: Judged, names: Names, shown: Shown) -> tuple[Firmness, ...]:
    """Return how firm each section's result is, as far as the visitor may see it.

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
    tuple of Firmness
        Empty where there is no result to be seen.
    """
    results = judged.outcome.results if shown.result else ()
    return tuple(_firmness(judged, result, number, names, shown) for number, result in enumerate(results, 1))


def _firmness(judged: Judged, result: Result, number: int, names: Names, shown: Shown) -> Firmness:
    bands = names.all()
    safety = judged.outcome.safeties[number - 1] if shown.safety else None
    placed = [line for line in result.places if line.place is not None]
    drawn = safety if safety is not None and len(placed) > 1 else None
    panel = judged.panel(result.section) if shown.judges_compared else None
    judges = panel.judges if panel else None
    told: tuple[str, ...] = ()
    if panel is not None:
        told = panel.all_sentences() if shown.machine else replace(panel, sentences={}).all_sentences()
    return Firmness(
        key=str(number),
        safety=safety_svg(drawn, placed, bands) if drawn else "",
        safety_told=safety_told(drawn, placed, bands) if drawn else (),
        judges=judges_svg(judges, panel.names) if judges is not None and panel is not None else "",
        judges_told=told,
        agreement=agreement_of(judges) if judges is not None else (),
        surprising=tuple(f"{panel.names[one.judge]}, {bands[one.entry]}: {one.sentence}" for one in panel.surprising)
        if panel and names.viewer.role == "organiser"
        else (),
        lines_address=f"/contests/{judged.slug}/sections/{number}/lines"
        if shown.machine and _has_two_counts(judged, result)
        else "",
        recorders=recorders_told(judged, {line.entry for line in result.places}) if shown.machine else "",
    )


def recorders_told(judged: Judged, entries: Collection[str]) -> str:
    """Return what two recorders of some entries say of the machine; empty where only one stood there."""
    return together([one for entry, one in judged.repeated.items() if entry in entries and not isinstance(one, str)])


def agreement_of(judges: JudgesCompared) -> tuple[Agreement, ...]:
    """Return the coefficients of a panel, each with the question it answers."""
    return tuple(
        Agreement(name, "–" if isnan(value) else f"{value:.2f}".replace("-", "−"), asks)
        for name, value, asks in (
            ("Kendall’s W", judges.concordance, "Do they put the bands in the same order?"),
            ("Krippendorff’s alpha", judges.alpha, "Do they give the same figures?"),
            (
                "Intraclass correlation",
                judges.intraclass.consistency,
                "Do they find the same differences, severity set aside?",
            ),
        )
    )


def lines_of(judged: Judged, names: Names, shown: Shown, number: int) -> Lines:
    """Return a section under every line.

    Parameters
    ----------
    judged : Judged
        The contest.
    names : Names
        For this visitor.
    shown : Shown
        What this visitor may see.
    number : int
        Of the section, from 1.

    Returns
    -------
    Lines

    Raises
    ------
    HTTPException
        404 where there is none to be seen.
    """
    results = judged.outcome.results if shown.result and shown.machine else ()
    result = results[number - 1] if number <= len(results) else None
    every = judged.every_line(result.section) if result is not None else None
    if result is None or every is None:
        raise HTTPException(404, "There are no machine counts here that could be drawn under every line.")
    entries = [line.entry for line in result.places]
    declared = judged.rules.counting.scheme.name
    return Lines(
        section=result.section,
        low=every.lines_gaps[0],
        high=every.lines_gaps[-1],
        declared=every.declared_gaps,
        machine=_drawn(every, every.machine, entries, names, declared),
        result=_drawn(every, every.result, entries, names, declared) if every.result is not None else None,
    )


def _drawn(every: EveryLine, orders: Orders, entries: list[str], names: Names, declared: str) -> Drawn:
    placed = [entry for entry in entries if entry in orders.sentences]
    bands = names.all()
    together: dict[tuple[str, ...], list[str]] = {}
    for scheme, order in orders.by_scheme.items():
        ranked = sorted(placed, key=lambda entry: (order[entry] or 0, bands[entry]))
        together.setdefault(tuple(f"{order[entry]} {bands[entry]}" for entry in ranked), []).append(scheme)
    return Drawn(
        drawing=lines_svg(every, orders, placed, bands),
        told=tuple((bands[entry], orders.sentences[entry]) for entry in placed),
        orders=tuple(Order(tuple(schemes), order, declared in schemes) for order, schemes in together.items()),
        stands=orders.stands,
    )


def _has_two_counts(judged: Judged, result: Result) -> bool:
    return sum(line.entry in judged.outcome.counts for line in result.places) > 1
