"""A judge's cross-check as its pages show it: for that judge alone, and for bands whose sheet that judge has signed."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Annotated

from fastapi import Depends, HTTPException

from judging.contest.cross_check import CrossCheck, Difference, cross_check, minutes_for, that_could_move
from judging.contest.day import entries_in
from judging.marks.panel import latest
from judging.marks.values import Sheet
from judging.store import StoredContest, StoredEntry, StoredJudge
from judging.web.access import EntrySeen
from judging.web.judging_page import JudgingViewed
from judging.web.views import ContestView, ContestViewed


@dataclass(frozen=True, slots=True)
class BandChecked:
    """One band of a judge's own list, its sheet beside the machine's count.

    Parameters
    ----------
    key, band, address : str
        Entry, its name or number as the judge may see it, and where its cross-check is.
    sheet : Sheet
        The version in force.
    checked : CrossCheck or None
        None where the machine has no count of it.
    first : tuple of Difference
        The few that could change the order on this judge's own list.
    """

    key: str
    band: str
    address: str
    sheet: Sheet
    checked: CrossCheck | None
    first: tuple[Difference, ...]

    @property
    def minutes(self) -> int:
        """How long it takes to listen to the few."""
        return minutes_for(self.first)


@dataclass(frozen=True, slots=True)
class CrossChecked:
    """One band's cross-check, for its judge.

    Parameters
    ----------
    contest, entry, judge
        From the store.
    view : ContestView
        The contest as that judge may see it.
    band : BandChecked
        What differs.
    """

    contest: StoredContest
    entry: StoredEntry
    judge: StoredJudge
    view: ContestView
    band: BandChecked

    @property
    def first_keys(self) -> frozenset[str]:
        """Keys of the few that could move a place."""
        return frozenset(one.key for one in self.band.first)


def bands_checked(judge: StoredJudge, view: ContestView) -> tuple[BandChecked, ...]:
    """Return a judge's signed sheets beside the machine's counts, in the order of ringing.

    The few that could move a place are told once every own sheet is signed: before that nobody knows them.
    """
    judged = view.judged
    if not judged.is_drawn:  # a draw that was taken back: bands have no number, and an identifier is a band's name
        return ()
    rules = judged.rules.marks.sheets
    sheets = {entry: sheet for (by, entry), sheet in latest(judged.day.sheets).items() if by == judge.key}
    lost = _lost(view, sheets)
    checks = {
        entry: cross_check(sheet, judged.outcome.counts[entry], rules)
        for entry, sheet in sheets.items()
        if entry in judged.outcome.counts
    }
    return tuple(
        BandChecked(
            key=entry,
            band=view.names.name(entry),
            address=f"{view.names.address(entry)}/cross-check",
            sheet=sheets[entry],
            checked=checks.get(entry),
            first=(
                that_could_move(entry, lost[entry], checks[entry])
                if entry in checks and checks[entry].is_matched and entry in lost
                else ()
            ),
        )
        for entry in (judged.day.order if judged.is_drawn else ())  # after a draw was taken back bands have no number
        if entry in sheets
    )


def cross_checked(entry: EntrySeen, judging: JudgingViewed, view: ContestViewed) -> CrossChecked:
    """Return the cross-check of a band whose sheet the visiting judge has signed; nobody else has one."""
    bands = {band.key: band for band in bands_checked(judging.judge, view)}
    if entry.key not in bands:
        raise HTTPException(403, "A band’s cross-check opens once you have signed your own sheet for it.")
    return CrossChecked(judging.contest, entry, judging.judge, view, bands[entry.key])


CrossCheckHere = Annotated[CrossChecked, Depends(cross_checked)]


def _lost(view: ContestView, sheets: dict[str, Sheet]) -> dict[str, dict[str, Decimal]]:
    """Faults or marks lost of each section's bands by this judge, by entry; empty where a sheet is still missing."""
    judged = view.judged
    declared = judged.rules.marks.sheets
    top = Decimal(0) if declared.lower_is_better else declared.most
    found: dict[str, dict[str, Decimal]] = {}
    for section in judged.rules.sections:
        own = [entry.id for entry in entries_in(judged.day, section.name) if entry.id in judged.day.order]
        if not set(own) <= set(sheets):
            continue
        totals = {entry: sheets[entry].total for entry in own}
        most = top if top is not None else max(totals.values(), default=Decimal(0))  # marks are lost from any same top
        lost = {entry: abs(most - total) for entry, total in totals.items()}
        found |= dict.fromkeys(own, lost)
    return found
