"""The organiser's desk: what is missing now, band by band and judge by judge, and the contest's next step."""

from dataclasses import dataclass

from sqlmodel import Session

from judging.contest import NEXT, Missing, Phase, Standing, missing
from judging.contest.day import piece_of
from judging.contest.values import ContestDay, Entry
from judging.errors import InputError
from judging.figures import counted, figure
from judging.jobs import jobs_of
from judging.store import StoredJob, entries_of, recordings_of
from judging.web.entry_page import said_of
from judging.web.judged import Judged
from judging.web.views import ContestView


@dataclass(frozen=True, slots=True)
class DeskSheet:
    """One judge's sheet for one band: where it is, and what it says (empty where it is missing)."""

    judge: str
    address: str
    total: str


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
    has_recording : bool
        Whether one is kept.
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
    has_recording: bool
    job: StoredJob | None
    count: str
    has_sheet: bool
    sheets: tuple[DeskSheet, ...]


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
        Empty where nothing is in the way.
    needs_reason : bool
        Whether it goes back, or opens a final result.
    """

    to: str
    words: str
    missing: tuple[Missing, ...]
    needs_reason: bool


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


def standing_of(judged: Judged) -> Standing:
    """Return what is known of a contest when its next step is asked for."""
    day = judged.day
    ringing = [entry for entry in day.entries if not entry.withdrawn]
    signed = {(sheet.judge, sheet.entry) for sheet in day.sheets}
    return Standing(
        phase=judged.phase,
        revision=judged.revision,
        has_seed=bool(day.rules.draw_seed),
        judges=len(day.judges),
        entries=len(ringing),
        entries_without_piece=tuple(entry.id for entry in ringing if not _has_piece(entry, day)),
        sheets_missing=tuple(
            (judge.name, "band-" + str(entry.number) if entry.number else entry.id)
            for judge in day.judges
            for entry in ringing
            if (judge.id, entry.id) not in signed
        ),
    )


def steps_of(judged: Judged) -> tuple[Step, ...]:
    """Return where the contest may go now, the way on first."""
    standing = standing_of(judged)
    onward, *back = NEXT[judged.phase]
    first = Step(
        onward,
        _WORDS[onward] if judged.phase is not Phase.FINAL else _BACK[onward],
        missing(standing, onward),
        needs_reason=judged.phase is Phase.FINAL,
    )
    return (first, *(Step(to, _BACK[to], missing(standing, to), needs_reason=True) for to in back))


def bands_of(view: ContestView, session: Session) -> tuple[DeskBand, ...]:
    """Return the desk's lines, in the order of ringing once it is drawn."""
    judged = view.judged
    stored = {entry.key: entry for entry in entries_of(session, view.stored.id or 0)}
    sheets = {(sheet.judge, sheet.entry): sheet for sheet in judged.day.sheets}  # later versions come later
    bands = []
    for entry in sorted(judged.day.entries, key=lambda entry: entry.number or 0):
        kept = stored[entry.id]
        jobs = [job for job in jobs_of(session, kept.id or 0) if job.kind == "listen"]
        address = view.names.address(entry.id)
        count = judged.outcome.counts.get(entry.id)
        bands.append(
            DeskBand(
                name=view.names.name(entry.id),
                number=str(entry.number or ""),
                address=address,
                key=entry.id,
                consent=kept.consent,
                said=said_of(entry),
                has_recording=bool(recordings_of(session, kept.id or 0)),
                job=jobs[0] if jobs else None,
                count=counted(count.total, "faults") if count else judged.outcome.uncounted.get(entry.id, ""),
                has_sheet=count is not None,
                sheets=tuple(
                    DeskSheet(
                        judge.name,
                        f"{address}/sheets/{judge.id}",
                        figure(sheets[judge.id, entry.id].total) if (judge.id, entry.id) in sheets else "",
                    )
                    for judge in judged.day.judges
                ),
            )
        )
    return tuple(bands)


def _has_piece(entry: Entry, day: ContestDay) -> bool:
    try:
        piece_of(entry, day)
    except InputError:
        return False
    return True
