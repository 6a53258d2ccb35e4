"""OUTCOME → THE DOCUMENT that ``rank --json`` prints and the API answers: plain values only, no band's name."""

from decimal import Decimal

from judging.contest.values import ContestDay, Outcome
from judging.marks.values import Placed, Result


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
