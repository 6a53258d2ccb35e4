"""A judge's own page: the bands by number, in the order of ringing, and which sheets are signed."""

from dataclasses import dataclass
from typing import Annotated

from fastapi import Depends, HTTPException
from sqlmodel import Session

from judging.figures import figure
from judging.marks.lines import are_about_changes
from judging.store import StoredContest, StoredJudge, order_of, rules_of, sheets_by
from judging.web.access import BEFORE_THE_DRAW, ContestSeen, Database, VisitorHere


@dataclass(frozen=True, slots=True)
class JudgesBand:
    """One band as its judge knows it: number, addresses of pad and sheet, and the total (empty before it is signed)."""

    number: int
    pad: str
    address: str
    total: str


@dataclass(frozen=True, slots=True)
class JudgingView:
    """A judge's part in a contest.

    Parameters
    ----------
    contest, judge
        From the store.
    bands : tuple of JudgesBand
        Empty before the draw.
    has_pad : bool
        Whether what is judged can be counted on the pad.
    """

    contest: StoredContest
    judge: StoredJudge
    bands: tuple[JudgesBand, ...]
    has_pad: bool

    @property
    def next(self) -> JudgesBand | None:
        """The first band whose sheet is not signed yet."""
        return next((band for band in self.bands if not band.total), None)


def judging_viewed(contest: ContestSeen, session: Database, visitor: VisitorHere) -> JudgingView:
    """Return the part of a contest that the visitor judges; nobody else has one."""
    access = visitor.access
    if access is None or access.judge_id is None or access.contest_id != contest.id:
        raise HTTPException(404)
    judge = session.get_one(StoredJudge, access.judge_id)
    has_pad = are_about_changes(rules_of(contest).marks.sheets)
    return JudgingView(contest, judge, _bands(contest, judge, session, has_pad=has_pad), has_pad)


JudgingViewed = Annotated[JudgingView, Depends(judging_viewed)]


def _bands(contest: StoredContest, judge: StoredJudge, session: Session, *, has_pad: bool) -> tuple[JudgesBand, ...]:
    if contest.phase in BEFORE_THE_DRAW:
        return ()
    own = {sheet.entry: sheet for sheet in sheets_by(session, judge)}
    return tuple(
        JudgesBand(
            number,
            f"/contests/{contest.slug}/bands/band-{number}/{'pad' if has_pad else f'sheets/{judge.key}'}",
            f"/contests/{contest.slug}/bands/band-{number}/sheets/{judge.key}",
            figure(own[entry].total) if entry in own else "",
        )
        for number, entry in enumerate(order_of(contest), start=1)
    )
