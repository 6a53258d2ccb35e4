"""Contests judged before → tolerance bands as their judges draw the line, for an organiser who declares new rules."""

import shutil
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from fastapi import Depends, UploadFile
from sqlmodel import Session

from judging.contest import ContestDay, Phase
from judging.errors import InputError
from judging.jobs.calibrating import Calibrated, calibrate_days, day_of
from judging.store import StoredContest, contests, load_day, rules_of
from judging.web.access import StoreHere, Visitor, VisitorHere, contest_run, contest_seen

#: Fields of the form.
FIELDS = ("archives", "before")

HINTS = {
    "archives": "ZIP files as “evenblow contest” and the service’s archive make them, with strike logs and sheets; "
    "12 MB together at most, so leave recordings out.",
}

#: Most contests at once: a decade of one, and no more than a person waits for.
MOST_CONTESTS = 12


@dataclass(frozen=True, slots=True)
class Before:
    """A final contest of this service whose bands both judges and machine have counted.

    Parameters
    ----------
    slug, title : str
        What it is called.
    day : ContestDay
        With its strike logs and sheets.
    """

    slug: str
    title: str
    day: ContestDay

    @property
    def pieces(self) -> int:
        """How many bands both have counted."""
        return len({sheet.entry for sheet in self.day.sheets} & set(self.day.logs))


@dataclass(frozen=True, slots=True)
class CalibrationView:
    """A contest whose tolerance bands are to be calibrated.

    Parameters
    ----------
    contest : StoredContest
        From the store.
    visitor : Visitor
        Its organiser.
    before : tuple of Before
        Final contests that the same organiser runs.
    """

    contest: StoredContest
    visitor: Visitor
    before: tuple[Before, ...]

    @property
    def is_open(self) -> bool:
        """Whether the rules can still be changed."""
        return Phase(self.contest.phase) is Phase.DRAFT


def calibration_viewed(slug: str, store: StoreHere, visitor: VisitorHere) -> CalibrationView:
    """Return a contest that the visitor organises, read in a session of its own: fitting takes seconds."""
    with store.read() as session:
        contest = contest_run(contest_seen(slug, session, visitor), visitor)
        return CalibrationView(contest, visitor, _before(session, visitor))


CalibrationViewed = Annotated[CalibrationView, Depends(calibration_viewed)]


def calibrated(view: CalibrationView, archives: Sequence[UploadFile], before: Sequence[str]) -> Calibrated:
    """Fit the bands of a contest's rules to contests judged before.

    Parameters
    ----------
    view : CalibrationView
        Whose rules.
    archives : sequence of UploadFile
        As chosen; one without a name where none was.
    before : sequence of str
        Contests of this service by their addresses.

    Returns
    -------
    Calibrated

    Raises
    ------
    InputError
        Its ``where`` is the field, or ``calibration`` where there is too little to go by.
    """
    chosen = [file for file in archives if file.filename]
    here = {one.slug: one for one in view.before}
    strange = sorted(set(before) - set(here))
    if strange:
        raise InputError("before", f'"{strange[0][:80]}" is no final contest with counts and sheets')
    if not chosen and not before:
        raise InputError("archives", "no contest is chosen; take one with strike logs and sheets")
    if len(chosen) + len(before) > MOST_CONTESTS:
        raise InputError("archives", f"{len(chosen) + len(before)} contests are more than {MOST_CONTESTS} at once")
    days = [(here[slug].title, here[slug].day) for slug in dict.fromkeys(before)]
    return calibrate_days([*days, *map(_read, chosen)], rules_of(view.contest))


def _before(session: Session, visitor: Visitor) -> tuple[Before, ...]:
    final = [one for one in contests(session) if Phase(one.phase) is Phase.FINAL and visitor.runs(one)]
    found = (Before(one.slug, one.title, load_day(session, one.id or 0)) for one in final)
    return tuple(one for one in found if one.pieces)


def _read(file: UploadFile) -> tuple[str, ContestDay]:
    """Return what an archive is called and holds; its own messages name files, as a folder's would."""
    name = (file.filename or "").replace("\\", "/").rsplit("/", 1)[-1][:100]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "archive.zip"
        with path.open("wb") as kept:
            shutil.copyfileobj(file.file, kept)
        try:
            return name.removesuffix(".zip"), day_of(path)
        except InputError as error:
            said = str(error).replace(f"{path}", name)
            raise InputError("archives", f"{name}: {said}") from error
