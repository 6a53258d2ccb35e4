"""A practice night: no contest, nobody ranked, private to whoever holds the laptop's link.

It is kept as a contest that never leaves the draft, so that recordings, hearing, counting and fault sheets are the
same as on the day; each touch is an entry. What marks it is the first line of its rules.
"""

import re
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from pathlib import PurePath

from pydantic import BaseModel, ConfigDict, Field
from sqlmodel import Session

from judging.contest.values import Entry
from judging.errors import InputError
from judging.figures import counted, figure
from judging.jobs import jobs_of
from judging.papers.words import day_in_words, peal_speed
from judging.piece import METHODS, read_piece, read_rows
from judging.store import StoredContest, StoredEntry, StoredJob, add_entry, create_contest, entries_of, pieces_of
from judging.striking.values import Count
from judging.web.peal_speed_meant import beside_meant, minutes_said, rung_minutes
from judging.web.views import ContestView

#: First line of a practice night's rules.
MARK = "# A practice night: nobody is ranked.\n"

#: Second line, where a peal speed is meant; a remark, since it changes no mark.
_MEANT = "# Peal speed meant: {minutes} minutes.\n"
_MEANT_SAID = re.compile(r"# Peal speed meant: (\d+) minutes\.")

#: The pull-off and the rounds are part of what is practised, so all of it is marked.
_RULES = """rules = 1
title = "{title}"
date = {date}
[[section]]
name = "Practice"
piece = "{piece}"
[marked]
pull_off = true
opening = true
closing = true
"""

ROUNDS = "Rounds"
OWN = "Rows of my own"

#: More rounds than anybody rings on end at a practice.
_MOST_WHOLE_PULLS = 500


class PracticeForm(BaseModel):
    """What a practice night begins with."""

    model_config = ConfigDict(extra="forbid")

    what: str = Field(max_length=100)
    bells: str = Field(default="", max_length=3)
    whole_pulls: str = Field(default="", max_length=4)
    rows: str = Field(default="", max_length=200_000)
    speed: str = Field(default="", max_length=20)


FIELDS = tuple(PracticeForm.model_fields)

HINTS = {
    "what": "A method is rung as a plain course, on its own bells with a tenor behind where it has an odd number.",
    "bells": "For rounds: 3 to 16.",
    "whole_pulls": "For rounds: how many at most; 30 whole pulls are about two minutes.",
    "rows": "For rows of your own: one a line, the opening rounds first; bells as 1 to 9, 0, E, T, A, B, C, D.",
    "speed": "If you have one in mind: the time of a peal, such as 2h50. You are told how near you came.",
}


@dataclass(frozen=True, slots=True)
class PracticeTouch:
    """One touch of the evening.

    Parameters
    ----------
    number : int
        In order, from 1.
    address : str
        Of its fault sheet and recording.
    job : StoredJob or None
        The newest that hears it.
    total, a_hundred_rows, speed, pace, pull_off, work_on : str
        Its count, faults in a hundred rows, peal speed, that speed beside the one meant, what its pull-off was like,
        and what to work on; empty where it is not heard yet, or no speed is meant.
    why_not : str
        Why it has no count.
    """

    number: int
    address: str
    job: StoredJob | None
    total: str = ""
    a_hundred_rows: str = ""
    speed: str = ""
    pace: str = ""
    pull_off: str = ""
    work_on: str = ""
    why_not: str = ""


def choices() -> tuple[str, ...]:
    """Return what can be chosen to be rung: rounds, every method that is known, rows typed in."""
    return (ROUNDS, *(method.title for method in METHODS), OWN)


def is_practice(contest: StoredContest) -> bool:
    """Whether a stored contest is a practice night."""
    return contest.rules_text.startswith(MARK)


def begin_practice(session: Session, form: PracticeForm, *, today: date, who: str) -> StoredContest:
    """Begin a practice night.

    Parameters
    ----------
    session : Session
        A writing session.
    form : PracticeForm
        What is rung.
    today : date
        For its title.
    who : str
        Who begins it.

    Returns
    -------
    StoredContest

    Raises
    ------
    InputError
        Its ``where`` is the field.
    """
    name, text = _piece(form)
    meant = _MEANT.format(minutes=minutes_said(form.speed, field="speed")) if form.speed.strip() else ""
    what = {ROUNDS: f"Rounds on {form.bells}", OWN: "rows of our own"}.get(form.what, form.what)
    title = f"Practice, {day_in_words(today)}: {what}"
    rules_text = MARK + meant + _RULES.format(title=title, date=today.isoformat(), piece=PurePath(name).stem)
    return create_contest(session, rules_text=rules_text, pieces={name: text}, who=who)


def minutes_meant(contest: StoredContest) -> int | None:
    """Return the peal speed that is meant on a practice night, in minutes; None where none was said."""
    lines = contest.rules_text.splitlines()[:2]
    said = _MEANT_SAID.fullmatch(lines[1]) if is_practice(contest) and len(lines) > 1 else None
    return None if said is None else int(said[1])


def new_touch(session: Session, contest: StoredContest, *, who: str) -> StoredEntry:
    """Return a new touch of a practice night, which its recording is then joined to."""
    number = len(entries_of(session, contest.id or 0)) + 1
    (piece,) = pieces_of(session, contest.id or 0)
    entry = Entry(id=f"touch-{number}", band=f"Touch {number}", section="Practice", piece=piece.key)
    return add_entry(session, contest.id or 0, entry, who=who)


def touches_of(view: ContestView, session: Session) -> tuple[PracticeTouch, ...]:
    """Return the touches of a practice night, the newest first."""
    touches = []
    for number, entry in enumerate(entries_of(session, view.stored.id or 0), start=1):
        jobs = [job for job in jobs_of(session, entry.id or 0) if job.kind == "listen"]
        touches.append(_touch(number, view, jobs[0] if jobs else None, entry.key))
    return tuple(reversed(touches))


def _touch(number: int, view: ContestView, job: StoredJob | None, key: str) -> PracticeTouch:
    outcome, address = view.judged.outcome, view.names.address(key)
    count = outcome.counts.get(key)
    if count is None:
        return PracticeTouch(number, address, job, why_not=outcome.uncounted.get(key, ""))
    meant = minutes_meant(view.stored)
    return PracticeTouch(
        number,
        address,
        job,
        total=counted(count.total, "faults"),
        a_hundred_rows=a_hundred_rows(count),
        speed=peal_speed(rung_minutes(count)),
        pace="" if meant is None else beside_meant(count, meant),
        pull_off=count.pull_off,
        work_on=next((habit.sentence for habit in count.habits if not habit.praise), ""),
    )


def a_hundred_rows(count: Count) -> str:
    """Return faults in a hundred judged rows; empty where none was judged."""
    if not count.rows_judged:
        return ""
    return figure((100 * count.total / count.rows_judged).quantize(Decimal("0.1")))


def _piece(form: PracticeForm) -> tuple[str, str]:
    """Return file name and text of what is rung."""
    if form.rows.strip() and form.what != OWN:
        raise InputError("what", f'{form.what} is chosen, and rows are typed below; choose "{OWN}", or empty them')
    if form.what == ROUNDS:
        bells = _whole(form.bells, "bells", 3, 16)
        pulls = _whole(form.whole_pulls, "whole_pulls", 2, _MOST_WHOLE_PULLS)
        return "rounds.txt", "\n".join(["1234567890ETABCD"[:bells]] * (2 * pulls)) + "\n"
    if form.what == OWN:
        _readable(form.rows)
        return "rows.txt", form.rows
    method = next((method for method in METHODS if method.title == form.what), None)
    if method is None:
        raise InputError("what", f'"{form.what}" is nothing that is known here')
    cover = '\ncover = "tenor"' if method.stage % 2 else ""
    text = f'piece = 1\ntitle = "Plain course of {method.title}"\nmethod = "{method.title}"{cover}\nopening_rows = 8\n'
    read_piece(text, name="piece.toml")
    return "piece.toml", text


def _readable(rows: str) -> None:
    try:
        read_rows(rows, name="rows")
    except InputError as error:
        raise InputError("rows", str(error)) from error


def _whole(text: str, field: str, least: int, most: int) -> int:
    if not (text.isascii() and text.isdecimal() and least <= int(text) <= most):
        raise InputError(field, f'"{text}" is not a whole number from {least} to {most}')
    return int(text)
