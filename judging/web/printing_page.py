"""Everything of a contest that is printed, on one page: what there is now, for what, and where it is."""

import json
from dataclasses import dataclass, replace
from datetime import time

from sqlmodel import Session

from judging.contest import Phase
from judging.contest.phases import SHOWING
from judging.errors import InputError
from judging.papers import Paper, Part
from judging.papers.before_the_day import DRAFT
from judging.papers.of_the_day import DayPapers
from judging.papers.words import twelve
from judging.store import entries_of, strike_log_of
from judging.store.audit import head
from judging.web.contest_page import papers_of
from judging.web.views import ContestView

#: What stands over the papers of each part, and what is said where there is none.
HEADINGS = {
    Part.BEFORE: ("Before the day", ""),
    Part.RESULTS: ("For the prize-giving", "There is no result yet."),
    Part.CERTIFICATES: ("Certificates", "Nobody is placed yet."),
    Part.SHEETS: ("For the bands to take home", "No band is counted or judged yet."),
}

HINTS = {
    "first": "Such as 14:10, where that is not as the rules declare it; the times of all others follow.",
    "address": "As a phone opens it. 127.0.0.1 and localhost are this computer alone: no phone can reach it there.",
}


@dataclass(frozen=True, slots=True)
class Line:
    """One paper of the list; ``as_page`` is empty where there is only the PDF."""

    title: str
    address: str
    as_page: str


@dataclass(frozen=True, slots=True)
class Group:
    """Papers that are printed at one time; what is missing is said where there is none."""

    key: str
    heading: str
    missing: str
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class Printing:
    """What the page shows.

    Parameters
    ----------
    groups : tuple of Group
        In the order in which they are wanted.
    everything : str
        Address of the one file of all of them.
    has_slots : bool
        Whether the rules say how long each band has, so that there can be a timetable.
    printed : str
        What every paper prints to be checked against.
    """

    groups: tuple[Group, ...]
    everything: str
    has_slots: bool
    printed: str


def day_papers_of(view: ContestView, session: Session, first: str = "", *, checked_at: str = "") -> DayPapers:
    """Return the papers of a contest as its organiser has them: with names, whatever the phase.

    Parameters
    ----------
    view : ContestView
        The contest, seen by its organiser.
    session : Session
        A reading session will do.
    first : str
        When the first band begins, such as ``"14:00"``, where that is not as declared; empty otherwise.
    checked_at : str
        Address of the page that confirms a certificate's code.

    Returns
    -------
    DayPapers
        Provisional until the result is final, and a draft before the rules are published.

    Raises
    ------
    InputError
        ``first`` is no time of day.
    """
    papers = papers_of(view.judged, view.names, view.shown, audit_head=str(head(session)))
    logs = {entry.key: strike_log_of(session, entry.id or 0) for entry in entries_of(session, view.stored.id or 0)}
    return replace(
        papers,
        state=DRAFT if view.judged.phase is Phase.DRAFT else papers.state,
        first=_first(first),
        checked_at=checked_at,
        notes={entry: json.loads(log.notes_json) for entry, log in logs.items() if log is not None},
    )


def printing_of(view: ContestView, papers: DayPapers, first: str = "") -> Printing:
    """Return what the page of papers shows.

    Parameters
    ----------
    view : ContestView
        The contest.
    papers : DayPapers
        Of `day_papers_of`.
    first : str
        As typed; carried on in the addresses.

    Returns
    -------
    Printing
    """
    address, given = f"/contests/{view.stored.slug}/printing", f"?first={first}" if papers.first else ""
    made = papers.papers()
    about = papers.heading()
    groups = {
        part: Group(
            part.replace(" ", "-"), heading, missing, _lines([one for one in made if one.part is part], address, given)
        )
        for part, (heading, missing) in HEADINGS.items()
    }
    is_over = view.judged.phase in SHOWING  # what was for before the day is then hardly wanted any more
    return Printing(
        groups=tuple(groups[part] for part in sorted(groups, key=lambda part: is_over and part is Part.BEFORE)),
        everything=f"{address}/everything.zip{given}",
        has_slots=all(section.slot_minutes is not None for section in view.judged.rules.sections),
        printed=" · ".join(
            part
            for part in (
                about.state,
                f"revision {view.judged.revision}",
                f"rules {twelve(about.fingerprint)}",
                f"audit {twelve(about.audit_head)}",
            )
            if part
        ),
    )


def _lines(papers: list[Paper], address: str, given: str) -> tuple[Line, ...]:
    files = {paper.file for paper in papers}
    lines = []
    for paper in papers:
        stem, _, kind = paper.file.rpartition(".")
        if kind == "pdf":
            page = f"{stem}.html"
            lines.append(
                Line(paper.title, f"{address}/{paper.file}{given}", f"{address}/{page}" if page in files else "")
            )
    return tuple(lines)


def _first(text: str) -> time | None:
    """Return when the first band rings; a time of day where the bells are, of no zone."""
    if not text.strip():
        return None
    try:
        return time.fromisoformat(text.strip()).replace(tzinfo=None)
    except ValueError:
        raise InputError("first", f'"{text.strip()[:20]}" is no time of day; write it as 14:00') from None
