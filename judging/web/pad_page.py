"""A judge's pad as its page needs it: whose it is, for which band, and what its two areas charge."""

from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import Depends, HTTPException
from sqlmodel import Session

from judging.contest import Phase, read_rules
from judging.contest.order import numbered
from judging.contest.pad import Pad, pad_for
from judging.figures import figure
from judging.piece import piece_from_file
from judging.store import StoredContest, StoredEntry, StoredJudge, as_entry, order_of, piece_of
from judging.web.access import BEFORE_THE_DRAW, StoreHere, Visitor, VisitorHere, contest_seen, entry_seen


@dataclass(frozen=True, slots=True)
class PadHeld:
    """A pad in the hand of its judge.

    Parameters
    ----------
    contest, entry, judge
        From the store.
    visitor : Visitor
        The judge.
    number : int
        Of the band in the order of ringing.
    """

    contest: StoredContest
    entry: StoredEntry
    judge: StoredJudge
    visitor: Visitor
    number: int

    @property
    def next_address(self) -> str:
        """Address of the pad for the band that rings next; empty after the last."""
        if self.number >= len(order_of(self.contest)):
            return ""
        return f"/contests/{self.contest.slug}/bands/band-{self.number + 1}/pad"

    @property
    def address(self) -> str:
        """Address of the band's pages."""
        return f"/contests/{self.contest.slug}/bands/band-{self.number}"


def pad_held(slug: str, key: str, store: StoreHere, visitor: VisitorHere) -> PadHeld:
    """Return the pad of a judge for a band that rings; nobody else has one.

    It is looked up in a reading session of its own, so that thirty pads wait for each other only while they write.
    """
    with store.read() as session:
        contest = contest_seen(slug, session, visitor)
        access = visitor.access
        if access is None or access.judge_id is None or access.contest_id != contest.id:
            raise HTTPException(404)
        entry = entry_seen(key, contest, session, visitor)
        judge = session.get_one(StoredJudge, access.judge_id)
    number = numbered((as_entry(entry),), order_of(contest))[0].number
    if Phase(contest.phase) in BEFORE_THE_DRAW or number is None:
        raise HTTPException(404)
    return PadHeld(contest, entry, judge, visitor, number)


PadHere = Annotated[PadHeld, Depends(pad_held)]


def pad_of(held: PadHeld, session: Session) -> tuple[Pad, str]:
    """Return what the pad must know, and the title of the piece.

    Raises
    ------
    RuleError
        No test piece is declared for the band.
    """
    file = piece_of(session, held.entry)
    piece = piece_from_file(file.file_name, file.text)
    return pad_for(piece, read_rules(held.contest.rules_text, name="rules.toml")), piece.title


def pad_document(held: PadHeld, pad: Pad) -> dict[str, Any]:
    """Return what the pad's script is told, once, when the page is opened."""
    scheme = pad.scheme
    return {
        # Of no meaning to anybody, so that a stored key tells nobody which band it is.
        "key": f"{held.contest.slug}/{held.entry.id}/{held.judge.key}",
        "address": f"{held.address}/pad",
        "entry": held.entry.id,
        "light": float(pad.light),
        "heavy": float(pad.heavy),
        "unit": pad.sheets.unit,
        "step": float(pad.sheets.step),
        "most": None if pad.sheets.most is None else float(pad.sheets.most),
        "rows": pad.rows,
        "changes": pad.changes,
        "heads": pad.heads,
        "opening": pad.opening,
        "row_ms": pad.row_ms,
        "scheme": {
            "unit_rows": scheme.unit_rows,
            "worst": scheme.adds == "worst",
            "cap": None if scheme.cap is None else float(scheme.cap),
            "step": None if scheme.step is None else float(scheme.step),
            "marks_up": scheme.marks_up,
        },
    }


def areas_in_words(pad: Pad) -> tuple[str, str]:
    """Return what stands below the figures of the two areas."""
    if pad.scheme.unit_rows == 0:
        return ("half fault" if figure(pad.light) == "½" else "small fault"), "fault"
    return ("small", "serious") if not pad.scheme.marks_up else ("a slip", "worse")


def is_open(contest: StoredContest) -> bool:
    """Whether pads may still send."""
    return Phase(contest.phase) is not Phase.FINAL
