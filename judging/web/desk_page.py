"""The organiser's desk: what is missing now, band by band and judge by judge, and the contest's next step."""

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session

from judging.contest import NEXT, Missing, Phase, Standing, is_back, missing
from judging.figures import counted, figure
from judging.jobs import jobs_of
from judging.store import (
    StoredEntry,
    StoredJob,
    entries_of,
    judges_of,
    open_keyings,
    protest_window,
    protests_of,
)
from judging.web.entry_page import said_of
from judging.web.judged import Judged
from judging.web.standing import has_rung, in_order, wanted_judges
from judging.web.views import ContestView


@dataclass(frozen=True, slots=True)
class DeskSheet:
    """One judge's sheet for one band.

    Parameters
    ----------
    judge, address : str
        Whose it is, and where.
    total : str
        What it says; empty where none is signed.
    keyed : int
        How many people have keyed in the paper of the next version.
    is_wanted : bool
        Whether the judge's sheet for this band counts.
    """

    judge: str
    address: str
    total: str
    keyed: int
    is_wanted: bool


@dataclass(frozen=True, slots=True)
class DeskBand:
    """One band's line of the desk.

    Parameters
    ----------
    name, number : str
        As the organiser sees them.
    address : str
        Of its pages.
    key : str
        Its identifier.
    consent : str
        To be recorded.
    said : str
        What is reported of its ringing, in words.
    turn : {"", "next", "rings now", "has rung"}
        Where it is in the day.
    is_out : bool
        Whether it is withdrawn or disqualified.
    conflicts : tuple of str
        Judges' names who have to do with it.
    job : StoredJob or None
        The newest.
    count : str
        The machine's, or why there is none.
    has_sheet : bool
        Whether there is a fault sheet to open.
    sheets : tuple of DeskSheet
        One a judge.
    """

    name: str
    number: str
    address: str
    key: str
    consent: str
    said: str
    turn: str
    is_out: bool
    conflicts: tuple[str, ...]
    job: StoredJob | None
    count: str
    has_sheet: bool
    sheets: tuple[DeskSheet, ...]


@dataclass(frozen=True, slots=True)
class Board:
    """How far the day is, at a glance.

    Parameters
    ----------
    now, next : str
        Who rings now and who is next; empty where nobody.
    rung, bands : int
        How many have rung, of how many.
    signed, sheets : int
        How many sheets are signed, of how many that count.
    heard : int
        How many bands have a machine's count.
    jobs : tuple of StoredJob
        Recordings waiting or being heard.
    protests : tuple of int
        Open, and all.
    closes_at : datetime or None
        When the protest window closes; None where there is none.
    """

    now: str
    next: str
    rung: int
    bands: int
    signed: int
    sheets: int
    heard: int
    jobs: tuple[StoredJob, ...]
    protests: tuple[int, int]
    closes_at: datetime | None


@dataclass(frozen=True, slots=True)
class Step:
    """A phase that the contest may go to now, and what must be done before.

    Parameters
    ----------
    to : str
        The phase.
    words : str
        On the button.
    missing : tuple of Missing
        What must or should be done first.
    needs_reason : bool
        Whether it goes back, or opens a final result.
    """

    to: str
    words: str
    missing: tuple[Missing, ...]
    needs_reason: bool

    @property
    def is_open(self) -> bool:
        """Whether nothing is in the way."""
        return not any(item.blocks for item in self.missing)


_WORDS = {
    Phase.PUBLISHED: "Publish the rules",
    Phase.DRAWN: "Draw the order of ringing",
    Phase.RINGING: "Begin ringing",
    Phase.SHEETS_IN: "All have rung; close the sheets",
    Phase.PROVISIONAL: "Show the provisional result",
    Phase.PROTEST: "Announce it and open the protest window",
    Phase.FINAL: "Make the result final",
}

_BACK = {
    Phase.PUBLISHED: "Take the draw back",
    Phase.RINGING: "Open the sheets again",
    Phase.SHEETS_IN: "Open the marks again",
    Phase.PROVISIONAL: "Correct the result",
}


def steps_of(judged: Judged, standing: Standing) -> tuple[Step, ...]:
    """Return where the contest may go now, the way on first."""
    onward, *back = NEXT[judged.phase]
    goes_back = is_back(judged.phase, onward)
    first = Step(
        onward,
        _BACK[onward] if goes_back else _onward(onward, judged),
        missing(standing, onward),
        needs_reason=goes_back,
    )
    return (first, *(Step(to, _BACK[to], missing(standing, to), needs_reason=True) for to in back))


def _onward(to: Phase, judged: Judged) -> str:
    if to is Phase.PROTEST and not judged.rules.protest.minutes:
        return "Announce the result"  # the judges' decision is final, so there is no window
    return _WORDS[to]


def board_of(view: ContestView, session: Session, bands: tuple[DeskBand, ...], standing: Standing) -> Board:
    """Return how far the day is."""
    ringing = [band for band in bands if not band.is_out]
    wanted = [sheet for band in ringing for sheet in band.sheets if sheet.is_wanted]
    window = protest_window(view.stored)
    return Board(
        now=next((band.name for band in ringing if band.turn == "rings now"), ""),
        next=next((band.name for band in ringing if band.turn == "next"), ""),
        rung=sum(band.turn == "has rung" for band in ringing),
        bands=len(ringing),
        signed=sum(bool(sheet.total) for sheet in wanted),
        sheets=len(wanted),
        heard=sum(band.has_sheet for band in ringing),
        jobs=tuple(band.job for band in bands if band.job and band.job.state in {"queued", "running"}),
        protests=(standing.open_protests, len(protests_of(session, view.stored.id))),
        closes_at=window.closes_at if window else None,
    )


def bands_of(view: ContestView, session: Session) -> tuple[DeskBand, ...]:
    """Return the desk's lines, in the order of ringing once it is drawn."""
    judged = view.judged
    stored = {entry.key: entry for entry in entries_of(session, view.stored.id)}
    sheets = {(sheet.judge, sheet.entry): sheet for sheet in judged.day.sheets}  # later versions come later
    keyed = open_keyings(session, view.stored.id)
    named = {judge.key: judge.name for judge in judges_of(session, view.stored.id)}
    turns = _turns(judged, stored, session)
    bands = []
    for entry in in_order(judged.day.entries):
        kept = stored[entry.id]
        jobs = [job for job in jobs_of(session, kept.id) if job.kind == "listen"]
        address = view.names.address(entry.id)
        count = judged.outcome.counts.get(entry.id)
        wanted = wanted_judges(entry, judged.day)
        bands.append(
            DeskBand(
                name=view.names.name(entry.id),
                number=str(entry.number or ""),
                address=address,
                key=entry.id,
                consent=kept.consent,
                said="; ".join(filter(None, (said_of(entry), kept.incidents))),
                turn=turns.get(entry.id, ""),
                is_out=bool(entry.withdrawn or entry.disqualified),
                conflicts=tuple(named.get(judge, judge) for judge in entry.conflicts),
                job=jobs[0] if jobs else None,
                count=counted(count.total, "faults") if count else judged.outcome.uncounted.get(entry.id, ""),
                has_sheet=count is not None,
                sheets=tuple(
                    DeskSheet(
                        judge.name,
                        f"{address}/sheets/{judge.id}",
                        figure(sheets[judge.id, entry.id].total) if (judge.id, entry.id) in sheets else "",
                        keyed.get((judge.id, entry.id), 0),
                        judge.id in wanted,
                    )
                    for judge in judged.day.judges
                ),
            )
        )
    return tuple(bands)


def _turns(judged: Judged, stored: dict[str, StoredEntry], session: Session) -> dict[str, str]:
    """Return where each band is in the day, from what the steward has noted and what is there of it."""
    if judged.phase is not Phase.RINGING:
        return {}
    turns: dict[str, str] = {}
    order = [judged.entry(entry) for entry in judged.day.order if not judged.entry(entry).withdrawn]
    for entry in order:
        kept = stored[entry.id]
        if kept.began_at and not kept.ended_at:
            turns[entry.id] = "rings now"
        elif has_rung(session, kept, entry, judged.day):
            turns[entry.id] = "has rung"
    waiting = next((entry.id for entry in order if entry.id not in turns), None)
    return turns | ({waiting: "next"} if waiting else {})
