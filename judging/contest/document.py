"""OUTCOME → THE DOCUMENT that ``rank --json`` prints and the API answers: plain values only, no band's name."""

from decimal import Decimal
from math import isfinite

from judging.contest.comparing import PanelCompared, compare_panel
from judging.contest.every_line import EveryLine, Orders, section_under_every_line
from judging.contest.values import ContestDay, Outcome
from judging.marks.judges import Range
from judging.marks.values import Placed, Result, Safety


def result_document(outcome: Outcome, day: ContestDay) -> dict[str, object]:
    """Put an outcome into plain values.

    Parameters
    ----------
    outcome : Outcome
        Of the day.
    day : ContestDay
        What it was made from.

    Returns
    -------
    dict
        ``unit``, ``lower_is_better``, ``places``, ``notes`` of the first (often the only) section, then ``sections``
        with all of them, ``title``, ``order`` of ringing, ``fingerprint`` and ``revision``. Marks are numbers; names
        of bands are not in it, since entries are identifiers.
    """
    sections = [_section(result) for result in outcome.results]
    return {
        **sections[0],
        "title": day.rules.title,
        "order": list(day.order),
        "fingerprint": day.rules.fingerprint,
        "machine_counts": {entry: number(total) for entry, total in outcome.machine_counts.items()},
        "uncounted": dict(outcome.uncounted),
        "sections": sections,
    }


def cross_check_document(day: ContestDay, outcome: Outcome) -> list[dict[str, object]]:
    """Put what is advice beside a result into plain values: its safety, its judges compared, it under every line.

    Parameters
    ----------
    day : ContestDay
        With the sheets.
    outcome : Outcome
        Of the day.

    Returns
    -------
    list of dict
        One a section, in the order of the rules: ``section``, ``safety``, ``judges``, ``lines``. What cannot be said,
        or is no number, is None.
    """
    return [
        {
            "section": result.section,
            "safety": None if safety is None else _safety(safety),
            "judges": _judges(compare_panel(day, outcome, result.section)),
            "lines": _lines(section_under_every_line(day, outcome, result.section)),
        }
        for result, safety in zip(outcome.results, outcome.safeties, strict=True)
    ]


def _safety(safety: Safety) -> dict[str, object]:
    return {
        "resamples": safety.resamples,
        "first": dict(safety.first),
        "podium": dict(safety.podium),
        "at_place": {entry: list(shares) for entry, shares in safety.at_place.items()},
        "ahead_of_next": list(safety.ahead_of_next),
        "dispersion": safety.dispersion,
        "degrees_of_freedom": safety.degrees_of_freedom,
    }


def _judges(panel: PanelCompared) -> dict[str, object]:
    found = panel.judges
    return {
        "by_judge": {
            one.judge: {
                "severity": _range(one.severity),
                "spread": one.spread,
                "drift": None if one.drift is None else _range(one.drift),
            }
            for one in (found.judges if found else ())
        },
        "kendall_w": _finite(found.concordance) if found else None,
        "krippendorff_alpha": _finite(found.alpha) if found else None,
        "intraclass_agreement": _finite(found.intraclass.agreement) if found else None,
        "intraclass_consistency": _finite(found.intraclass.consistency) if found else None,
        "heard": {
            judge: {sort: list(pair) for sort, pair in heard.items()}
            for judge, heard in panel.heard.items()
            if panel.taps[judge]
        },
        "surprising": [
            {"judge": one.judge, "entry": one.entry, "figure": one.figure, "foretold": one.foretold}
            for one in panel.surprising
        ],
        "sentences": list(panel.all_sentences()),
    }


def _lines(every: EveryLine | None) -> dict[str, object] | None:
    if every is None:
        return None
    return {
        "half_fault_gaps": list(every.lines_gaps),
        "declared_gaps": every.declared_gaps,
        "machine": _orders(every.machine),
        "result": None if every.result is None else _orders(every.result),
    }


def _orders(orders: Orders) -> dict[str, object]:
    return {
        "places": {entry: list(places) for entry, places in orders.by_line.items()},
        "by_scheme": {scheme: dict(order) for scheme, order in orders.by_scheme.items()},
        "sentences": dict(orders.sentences),
        "stands": orders.stands,
    }


def _range(of: Range) -> dict[str, float | None]:
    return {"value": _finite(of.value), "low": _finite(of.low), "high": _finite(of.high)}


def _finite(value: float) -> float | None:
    return float(value) if isfinite(value) else None


def number(figure: Decimal | None) -> int | float | None:
    """Figure as a JSON number: whole where it is whole."""
    if figure is None:
        return None
    return int(figure) if figure == figure.to_integral_value() else float(figure)


def _section(result: Result) -> dict[str, object]:
    return {
        "section": result.section,
        "unit": result.unit,
        "lower_is_better": result.lower_is_better,
        "places": [_place(placed) for placed in result.places],
        "notes": list(result.notes),
        "revision": result.revision,
    }


def _place(placed: Placed) -> dict[str, object]:
    return {
        "entry": placed.entry,
        "place": placed.place,
        "tied": placed.tied,
        "mark": number(placed.mark),
        "reasons": list(placed.reasons),
        "safety": placed.safety,
        "by_judge": {judge: number(figure) for judge, figure in placed.by_judge.items()},
        "on_scale": {judge: float(figure) for judge, figure in placed.on_scale.items()},
        "machine": number(placed.machine),
        "adjustments": [
            {
                "judge": step.judge,
                "rule": step.rule,
                "before": number(step.before),
                "after": number(step.after),
            }
            for step in placed.adjustments
        ],
    }
