"""A judge's sheet as its page shows it, for the judge who signs it or the organiser who keys it in from paper."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Annotated

from fastapi import Depends, HTTPException
from sqlmodel import Session

from judging.contest import Compared, Keying, Phase, display_name, read_rules, side_by_side
from judging.contest.day import home_of
from judging.contest.order import numbered
from judging.contest.pad import pad_for
from judging.contest.tally import Tally, tally
from judging.errors import InputError
from judging.figures import figure
from judging.marks.lines import makes_up_the_total, number_of
from judging.marks.panel import latest
from judging.marks.sheet_rules import Lines, Sheets
from judging.marks.surprising import surprising_alone
from judging.marks.values import Sheet, Tap
from judging.piece import piece_from_file
from judging.store import (
    StoredContest,
    StoredEntry,
    StoredJudge,
    as_entry,
    judge_by_key,
    keyings_of,
    order_of,
    pad_events,
    piece_of,
    rules_of,
    sheets_by,
    was_final,
)
from judging.web.access import BEFORE_THE_DRAW, ContestSeen, Database, EntrySeen, Visitor, VisitorHere, viewer_of
from judging.web.forms import SheetForm
from judging.web.naming import address_key

#: Fields of the form, in its own order.
FIELDS = tuple(SheetForm.model_fields)


#: What a line is, for whoever types it.
_LINES: Mapping[Lines, str] = {
    "any": "One line for each change with faults: the change, then the faults, such as “38 ½”.",
    "total": "",
    "blow": "One line for each blow at fault: its change, then what it costs, such as “38 ½”.",
    "row": "One line for each row with faults: its change, then its faults, such as “38 1”.",
    "whole pull": "One line for each whole pull with faults: its number and its faults; changes 1 and 2 are the first.",
    "block": "One line for every block: its number, then what it is given, such as “3 8”.",
    "criterion": "",
}
_EACH: Mapping[Lines, str] = {
    "blow": "blow by blow",
    "row": "row by row",
    "whole pull": "whole pull by whole pull",
    "block": "block by block",
}


@dataclass(frozen=True, slots=True)
class CriterionField:
    """One criterion of an impression sheet as a field: its name, what helps to fill it in, and what stands in it."""

    name: str
    hint: str
    typed: str


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
    own_others : tuple of Decimal
        What the same judge has given other bands, latest versions.
    changes : int or None
        Length of the test piece, where the rules name it.
    keyings : tuple of Keying
        What has been keyed in from paper for the next version, by whoever did; for the organiser only.
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
    own_others: tuple[Decimal, ...]
    changes: int | None
    keyings: tuple[Keying, ...] = ()

    @property
    def is_keyed(self) -> bool:
        """Whether the visitor keys a paper in, and does not sign."""
        return self.visitor.is_organiser

    @property
    def own(self) -> Keying | None:
        """What the visitor has keyed in."""
        return next((keying for keying in self.keyings if keying.who == self.visitor.who), None)

    @property
    def last(self) -> Sheet | None:
        """The version to begin from: what the visitor has keyed in, or the judge has signed.

        What another person keyed is never shown in the form: a paper is read twice, not once and nodded at.
        """
        if self.is_keyed:
            return self.own.sheet if self.own else None
        return self.signed[-1] if self.signed else None

    @property
    def others(self) -> tuple[Keying, ...]:
        """What others have keyed in."""
        return tuple(keying for keying in self.keyings if keying.who != self.visitor.who)

    @property
    def compared(self) -> tuple[Compared, ...]:
        """The first of the others' keyings and the visitor's, side by side; empty until there are both."""
        if self.own is None or not self.others:
            return ()
        return side_by_side(self.others[0].sheet, self.own.sheet, self.rules)

    @property
    def back(self) -> str:
        """Where to go afterwards."""
        return f"/contests/{self.contest.slug}/{'desk' if self.visitor.is_organiser else 'judging'}"

    @property
    def hints(self) -> dict[str, str]:
        """What helps to fill the form in."""
        most = f", at most {figure(self.rules.most)}" if self.rules.most is not None else ""
        steps = f"In {self.rules.unit}, in steps of {figure(self.rules.step)}{most}."
        adds_up = self.rules.lines != "total" and (self.rules.lower_is_better or makes_up_the_total(self.rules))
        return {
            "total": f"{steps} May be left out where the lines below give it." if adds_up else steps,
            "taps": _LINES[self.rules.lines],
            "comment": "Read by the band. What was good, and the one thing to work on.",
            "reason": "A sheet is signed already. It is kept beside this one, with the reason for changing it."
            if self.signed
            else "Kept with the sheet.",
        }

    @property
    def lines_label(self) -> str:
        """What stands above the lines; empty where the rules ask for a total only, or for criteria."""
        return (
            ""
            if self.rules.lines in {"total", "criterion"}
            else f"Faults, {_EACH.get(self.rules.lines, 'change by change')}"
        )

    def criteria(self, typed: Sequence[str] = ()) -> tuple[CriterionField, ...]:
        """Return the fields of an impression sheet, with what was typed, or else with what is signed."""
        signed = {tap.change: figure(tap.faults) for tap in self.last.taps} if self.last else {}
        return tuple(
            CriterionField(
                one.name,
                f"At most {figure(one.most)}. {one.words}".strip(),
                typed[number - 1] if number <= len(typed) else signed.get(number, ""),
            )
            for number, one in enumerate(self.rules.criteria, 1)
        )

    def ask_about(self, sheet: Sheet) -> None:
        """Refuse a surprising figure without a reason; it is compared with the judge's own sheets and nothing else.

        Raises
        ------
        InputError
            About the field ``reason``.
        """
        question = surprising_alone(sheet.total, self.own_others, changes=self.changes, unit=self.rules.unit)
        if question and not sheet.reason:
            raise InputError("reason", f"{question} If so, say so here in a few words.")

    def typed(self) -> dict[str, str]:
        """Return what is to be changed as it would be typed: keyed in, signed, or counted by a pad."""
        last = self.last
        if last is not None:
            reason, lines = last.reason if self.is_keyed else "", _lines(last.taps, self.rules)
            return {"total": figure(last.total), "taps": lines, "comment": last.comment, "reason": reason}
        if self.counted is None:
            return {}
        total = "" if self.counted.total is None else figure(self.counted.total)
        return {"total": total, "taps": _lines(self.counted.lines, self.rules), "comment": self.counted.comment}


def sheet_viewed(
    judge: str, contest: ContestSeen, entry: EntrySeen, session: Database, visitor: VisitorHere
) -> SheetView:
    """Return a sheet that is the visitor's to sign or to key in; nobody else learns whether it is there."""
    stored = judge_by_key(session, contest.id or 0, judge)
    own = visitor.access is not None and stored is not None and visitor.access.judge_id == stored.id
    if stored is None or not (own or visitor.runs(contest)):
        raise HTTPException(404)
    order = () if Phase(contest.phase) in BEFORE_THE_DRAW else order_of(contest)
    value = numbered((as_entry(entry),), order)[0]
    rules = read_rules(contest.rules_text, name="rules.toml")
    sheets = sheets_by(session, stored)
    signed = tuple(sheet for sheet in sheets if sheet.entry == entry.key)
    others = latest(sheet for sheet in sheets if sheet.entry != entry.key)
    return SheetView(
        contest=contest,
        entry=entry,
        judge=stored,
        visitor=visitor,
        band=display_name(
            value,
            viewer_of(visitor, contest, session),
            Phase(contest.phase),
            was_final=was_final(session, contest),
        ),
        address=f"/contests/{contest.slug}/bands/{address_key(value)}/sheets/{judge}",
        rules=rules.marks.sheets,
        signed=signed,
        counted=None if signed else _counted(contest, entry, stored, session),
        own_others=tuple(sheet.total for sheet in others.values()),
        changes=home_of(value, rules).changes,
        keyings=keyings_of(session, stored, entry) if visitor.runs(contest) else (),
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


def _lines(taps: Iterable[Tap], rules: Sheets) -> str:
    return "\n".join(
        f"{number_of(tap.change, rules)} {figure(tap.faults)}" + (f" {tap.time_s:g}" if tap.time_s is not None else "")
        for tap in taps
        if tap.change is not None
    )
