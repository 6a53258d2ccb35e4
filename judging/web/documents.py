"""Documents for programs: the same as the command line's, with what a visitor may not see yet taken out."""

from collections.abc import Mapping
from typing import Any

from judging.contest import sees_name
from judging.web.naming import address_key
from judging.web.showing import Shown
from judging.web.views import ContestView


def veil(document: Mapping[str, Any], view: ContestView) -> dict[str, Any]:
    """Return a result document as a visitor may see it.

    Parameters
    ----------
    document : mapping
        From `judging.contest.result_document`.
    view : ContestView
        The contest and the visitor.

    Returns
    -------
    dict
        Entries are called by number where names are not to be seen, since an identifier is often made from a name;
        figures that the rules keep back are left out.
    """
    judged = view.judged
    called = {
        entry.id: entry.id
        if sees_name(entry, view.names.viewer, judged.phase, was_final=judged.was_final)
        else address_key(entry)
        for entry in judged.day.entries
    }
    veiled = {
        **document,
        "phase": str(judged.phase),
        "order": [called[entry] for entry in document["order"]],
        "machine_counts": _called(document["machine_counts"], called) if view.shown.machine else {},
        "uncounted": _called(document["uncounted"], called) if view.shown.machine else {},
        "sections": [_section(section, called, view.shown) for section in document["sections"]],
    }
    return {**veiled, "places": veiled["sections"][0]["places"]}


def _called(by_entry: Mapping[str, Any], called: Mapping[str, str]) -> dict[str, Any]:
    return {called[entry]: value for entry, value in by_entry.items()}


def _section(section: Mapping[str, Any], called: Mapping[str, str], shown: Shown) -> dict[str, Any]:
    return {**section, "places": [_place(place, called, shown) for place in section["places"]]}


def _place(place: Mapping[str, Any], called: Mapping[str, str], shown: Shown) -> dict[str, Any]:
    veiled = {**place, "entry": called[place["entry"]]}
    if not shown.by_judge:
        veiled |= {"by_judge": {}, "on_scale": {}, "adjustments": []}
    if not shown.machine:
        veiled["machine"] = None
    if not shown.safety:
        veiled["safety"] = None
    return veiled
