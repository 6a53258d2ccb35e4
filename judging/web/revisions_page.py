"""Results as they were published, each readable for good, and what changed from one to the next."""

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session

from judging.contest import Phase, changes_between
from judging.marks.safety import ordinal
from judging.store import StoredPublication, publications_of
from judging.web.views import ContestView
from judging.web.words import figure as shown_figure


@dataclass(frozen=True, slots=True)
class PublishedLine:
    """One band's line of a published result, as printed."""

    place: str
    band: str
    by_judge: tuple[str, ...]
    mark: str
    reasons: tuple[str, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PublishedSection:
    """One section of a published result."""

    name: str
    unit: str
    judges: tuple[str, ...]
    lines: tuple[PublishedLine, ...]


@dataclass(frozen=True, slots=True)
class BandChanged:
    """What changed for one band since the result before."""

    band: str
    section: str
    what: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Published:
    """One result as it was published.

    Parameters
    ----------
    number : int
        In order of publishing, from 1; names it in addresses.
    revision : int
        Of the result.
    phase : {"provisional", "final"}
        As what.
    made_at : datetime
        When, where the machine is.
    reason : str
        Why it was made anew; empty for the first revision.
    audit_head : str
        As papers print it.
    sections : tuple of PublishedSection
        The result.
    since : str
        Which earlier result the changes are counted from; empty for the first.
    changes : tuple of BandChanged
        What changed since then.
    """

    number: int
    revision: int
    phase: str
    made_at: datetime
    reason: str
    audit_head: str
    sections: tuple[PublishedSection, ...]
    since: str
    changes: tuple[BandChanged, ...]


def published(view: ContestView, session: Session) -> tuple[Published, ...]:
    """Return what was published of a contest, as far as the visitor may see it, newest first."""
    seen = [one for one in publications_of(session, view.stored.id) if _may_see(one, view)]
    return tuple(
        _published(number, one, _earlier(one, seen[: number - 1]), view) for number, one in enumerate(seen, 1)
    )[::-1]


def _may_see(publication: StoredPublication, view: ContestView) -> bool:
    """Whether a visitor may read a result: once one is final, that and all that led to it; before, as the rules say."""
    judged = view.judged
    if view.is_run or judged.phase is Phase.FINAL:
        return True
    if judged.was_final and publication.revision < judged.revision:
        return True
    return publication.phase == Phase.PROVISIONAL and judged.rules.public.result == "provisional"


def _earlier(publication: StoredPublication, before: list[StoredPublication]) -> StoredPublication | None:
    """Return the last result of an earlier revision: what this one corrects; or else the one just before."""
    older = [one for one in before if one.revision < publication.revision]
    found = older or before
    return found[-1] if found else None


def _published(
    number: int, publication: StoredPublication, earlier: StoredPublication | None, view: ContestView
) -> Published:
    names = _names(publication, view)
    document = json.loads(publication.result_json)
    changes = changes_between(json.loads(earlier.result_json), document) if earlier else ()
    return Published(
        number,
        publication.revision,
        publication.phase,
        publication.made_at.astimezone(),
        publication.reason,
        publication.audit_head,
        tuple(_section(section, names, view) for section in document["sections"]),
        f"the {earlier.phase} result of revision {earlier.revision}" if earlier else "",
        tuple(
            BandChanged(
                names.get(changed.entry, changed.entry),
                changed.section,
                tuple(what for what in changed.what if view.shown.by_judge or not what.startswith("sheet of judge ")),
            )
            for changed in changes
        ),
    )


def _names(publication: StoredPublication, view: ContestView) -> dict[str, str]:
    """Names as they were then, where names are known; otherwise as the visitor may see them now."""
    now = view.names.all()
    known = view.is_run or view.judged.was_final
    return {**now, **(json.loads(publication.bands_json) if known else {})}


def _section(section: dict[str, Any], names: dict[str, str], view: ContestView) -> PublishedSection:
    public = view.judged.rules.public
    by_judge = view.is_run or public.by_judge
    judges = (
        list(dict.fromkeys(judge for place in section["places"] for judge in place["by_judge"])) if by_judge else []
    )
    called = {judge.id: judge.name for judge in view.judged.day.judges}
    return PublishedSection(
        section["section"],
        section["unit"],
        tuple(called.get(judge, judge) for judge in judges),
        tuple(
            PublishedLine(
                place="–" if place["place"] is None else ordinal(place["place"]) + (" =" if place["tied"] else ""),
                band=names.get(place["entry"], place["entry"]),
                by_judge=tuple(shown_figure(place["by_judge"].get(judge)) for judge in judges),
                mark=shown_figure(place["mark"]),
                reasons=tuple(place["reasons"]),
                notes=tuple(dict.fromkeys(step["rule"] for step in place["adjustments"])) if by_judge else (),
            )
            for place in section["places"]
        ),
    )
