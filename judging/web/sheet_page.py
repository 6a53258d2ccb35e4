"""A judge's sheet as its page shows it, for the judge who signs it or the organiser who keys it in from paper."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated

from fastapi import Depends, HTTPException
from sqlmodel import Session

from judging.contest import Phase, display_name, read_rules
from judging.contest.order import numbered
from judging.contest.pad import pad_for
from judging.contest.tally import Tally, tally
from judging.figures import figure
from judging.marks.rules import Sheets
from judging.marks.values import Sheet, Tap
from judging.piece import piece_from_file
from judging.store import (
    StoredContest,
    StoredEntry,
    StoredJudge,
    as_entry,
    judge_by_key,
    order_of,
    pad_events,
    piece_of,
    rules_of,
    sheets_of,
)
from judging.web.access import BEFORE_THE_DRAW, ContestSeen, Database, EntrySeen, Visitor, VisitorHere, viewer_of
from judging.web.forms import SheetForm
from judging.web.naming import address_key

#: Fields of the form, in its own order.
FIELDS = tuple(SheetForm.model_fields)


@dataclass(frozen=True, slots=True)
class SheetView:
    """One judge's sheet for one band.

    Parameters
    ----------
    contest, entry, judge
        From the store.
    visitor : Visitor
        The judge, or the contest's organiser.
    band : str
        Name or number of the band, as the visitor may see it.
    address : str
        Of the page.
    rules : Sheets
        What a sheet may hold.
    signed : tuple of Sheet
        Versions signed so far, first to last.
    counted : Tally or None
        What the judge's pads have sent while nothing is signed: a pad that died is finished on this page.
    """

    contest: StoredContest
    entry: StoredEntry
    judge: StoredJudge
    visitor: Visitor
    band: str
    address: str
    rules: Sheets
    signed: tuple[Sheet, ...]
    counted: Tally | None

    @property
    def who(self) -> str:
        """Who signs, for the audit trail."""
        return f"{self.visitor.who} for judge {self.judge.key}" if self.visitor.is_organiser else self.visitor.who

    @property
    def back(self) -> str:
        """Where to go afterwards."""
        return f"/contests/{self.contest.slug}/{'desk' if self.visitor.is_organiser else 'judging'}"

    @property
    def hints(self) -> dict[str, str]:
        """What helps to fill the form in."""
        most = f", at most {figure(self.rules.most)}" if self.rules.most is not None else ""
        steps = f"In {self.rules.unit}, in steps of {figure(self.rules.step)}{most}."
        return {
            "total": f"{steps} May be left out where the lines below give it.",
            "taps": "One line for each change with faults: the change, then the faults, such as “38 ½”.",
            "comment": "Read by the band. What was good, and the one thing to work on.",
            "reason": "A sheet is signed already. It is kept beside this one, with the reason for changing it.",
        }

    def typed(self) -> dict[str, str]:
        """Return the version in force, or what a pad has counted, as it would be typed."""
        if self.signed:
            last = self.signed[-1]
            return {"total": figure(last.total), "taps": _lines(last.taps), "comment": last.comment}
        if self.counted is None:
            return {}
        total = "" if self.counted.total is None else figure(self.counted.total)
        return {"total": total, "taps": _lines(self.counted.lines), "comment": self.counted.comment}


def sheet_viewed(
    judge: str, contest: ContestSeen, entry: EntrySeen, session: Database, visitor: VisitorHere
) -> SheetView:
    """Return a sheet that is the visitor's to sign or to key in; nobody else learns whether it is there."""
    stored = judge_by_key(session, contest.id or 0, judge)
    own = visitor.access is not None and stored is not None and visitor.access.judge_id == stored.id
    if stored is None or not (own or visitor.runs(contest)):
        raise HTTPException(404)
    signed = tuple(
        sheet for sheet in sheets_of(session, contest.id or 0) if (sheet.judge, sheet.entry) == (judge, entry.key)
    )
    order = () if Phase(contest.phase) in BEFORE_THE_DRAW else order_of(contest)
    value = numbered((as_entry(entry),), order)[0]
    return SheetView(
        contest=contest,
        entry=entry,
        judge=stored,
        visitor=visitor,
        band=display_name(value, viewer_of(visitor, contest, session), Phase(contest.phase)),
        address=f"/contests/{contest.slug}/bands/{address_key(value)}/sheets/{judge}",
        rules=read_rules(contest.rules_text, name="rules.toml").marks.sheets,
        signed=signed,
        counted=None if signed else _counted(contest, entry, stored, session),
    )


SheetViewed = Annotated[SheetView, Depends(sheet_viewed)]


def _counted(contest: StoredContest, entry: StoredEntry, judge: StoredJudge, session: Session) -> Tally | None:
    """Return what a judge's pads have sent for an entry; None where there is nothing."""
    events, _ = pad_events(session, entry.id, judge.id)
    if not events:
        return None
    file = piece_of(session, entry)
    pad = pad_for(piece_from_file(file.file_name, file.text), rules_of(contest))
    return tally(events, pad, began_ms=None if entry.began_at is None else round(entry.began_at.timestamp() * 1000))


def _lines(taps: Iterable[Tap]) -> str:
    return "\n".join(
        f"{tap.change} {figure(tap.faults)}" + (f" {tap.time_s:g}" if tap.time_s is not None else "")
        for tap in taps
        if tap.change is not None
    )
