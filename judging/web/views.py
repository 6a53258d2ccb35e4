"""What routes show, brought together once for every route: the contest as it stands, as this visitor may see it."""

from dataclasses import dataclass
from typing import Annotated, cast

from fastapi import Depends, HTTPException, Request
from sqlmodel import Session

from judging.contest import Phase
from judging.contest.values import Entry
from judging.store import StoredContest, StoredEntry, is_sheet_open, is_shown
from judging.striking.values import Count
from judging.web.access import ContestRun, ContestSeen, Database, EntrySeen, Visitor, VisitorHere, viewer_of
from judging.web.judged import Judged, Judging
from judging.web.naming import Names
from judging.web.showing import Shown, shown, shows_sheet


@dataclass(frozen=True, slots=True)
class ContestView:
    """A contest and somebody who looks at it.

    Parameters
    ----------
    stored : StoredContest
        From the store.
    judged : Judged
        As it stands.
    names : Names
        For this visitor.
    shown : Shown
        What this visitor may see.
    visitor : Visitor
        Who it is.
    """

    stored: StoredContest
    judged: Judged
    names: Names
    shown: Shown
    visitor: Visitor

    @property
    def is_run(self) -> bool:
        """Whether this visitor organises it."""
        return self.visitor.runs(self.stored)


@dataclass(frozen=True, slots=True)
class BandView:
    """One band's part in a contest.

    Parameters
    ----------
    of : ContestView
        The contest.
    stored : StoredEntry
        From the store.
    entry : Entry
        With its number.
    """

    of: ContestView
    stored: StoredEntry
    entry: Entry

    @property
    def name(self) -> str:
        """Name or number, as the visitor may see it."""
        return self.of.names.name(self.entry.id)

    @property
    def address(self) -> str:
        """Address of its pages."""
        return self.of.names.address(self.entry.id)

    @property
    def is_own(self) -> bool:
        """Whether the visitor organises the contest, or is this band."""
        return self.of.is_run or self.entry.id in self.of.names.viewer.own

    @property
    def is_the_band(self) -> bool:
        """Whether the visitor is this band."""
        return self.entry.id in self.of.names.viewer.own

    @property
    def count(self) -> Count:
        """The machine's count; an address without one is not found."""
        outcome = self.of.judged.outcome
        if self.entry.id not in outcome.counts:
            raise HTTPException(404, outcome.uncounted.get(self.entry.id, "This band has no machine count."))
        return outcome.counts[self.entry.id]


def judging_of(request: Request) -> Judging:
    """Return the contests judged of late."""
    return cast(Judging, request.app.state.judging)


def contest_viewed(
    contest: ContestSeen,
    session: Database,
    visitor: VisitorHere,
    judging: Annotated[Judging, Depends(judging_of)],
) -> ContestView:
    """Return a contest as the visitor may see it."""
    return view_of(contest, session, visitor, judging)


def view_of(contest: StoredContest, session: Session, visitor: Visitor, judging: Judging) -> ContestView:
    """Return one contest for one visitor."""
    judged = judging.of(session, contest)
    viewer = viewer_of(visitor, contest, session)
    seen = shown(
        viewer,
        judged.phase,
        judged.rules.public,
        is_shown=is_shown(session, contest),
        was_final=judged.was_final,
    )
    return ContestView(contest, judged, Names(judged, viewer), seen, visitor)


ContestViewed = Annotated[ContestView, Depends(contest_viewed)]


def desk_viewed(contest: ContestRun, view: ContestViewed) -> ContestView:
    """Return a contest that the visitor organises."""
    del contest  # its being here is the right
    return view


DeskViewed = Annotated[ContestView, Depends(desk_viewed)]


def band_viewed(entry: EntrySeen, view: ContestViewed, session: Database) -> BandView:
    """Return a band whose fault sheet the visitor may open, by the rules or because the band opened it to everybody."""
    judged, is_out = view.judged, view.judged.phase is Phase.FINAL or view.judged.was_final
    by_the_rules = shows_sheet(
        entry.key, view.names.viewer, judged.phase, judged.rules.public, was_final=judged.was_final
    )
    if not by_the_rules and not (is_out and is_sheet_open(session, entry)):
        raise HTTPException(404)
    return BandView(view, entry, judged.entry(entry.key))


BandViewed = Annotated[BandView, Depends(band_viewed)]


def band_run(entry: EntrySeen, view: DeskViewed) -> BandView:
    """Return a band of a contest that the visitor organises."""
    return BandView(view, entry, view.judged.entry(entry.key))


BandRun = Annotated[BandView, Depends(band_run)]
