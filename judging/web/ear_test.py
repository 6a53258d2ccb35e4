"""An ear test's form, its page, and what is told of the answers; nothing of a listener is kept anywhere."""

import math
from dataclasses import dataclass
from typing import Annotated

import numpy as np
from fastapi import Depends, HTTPException
from pydantic import BaseModel, ConfigDict, Field

from judging.errors import InputError
from judging.jobs import EarTest, ear_test_named
from judging.jobs.ear_testing import BELLS, PEAL_MINUTES, ROWS
from judging.marks.ear_test import Answered, answered_by_rows, answered_by_taps
from judging.marks.half_heard import LAPSE, floor_ms, half_heard, half_in_words, of_way
from judging.papers.drawings import half_heard_svg
from judging.papers.words import peal_speed
from judging.piece.piece import SYMBOLS
from judging.web.access import Listener

#: More than anybody taps in the longest test.
_MOST_TAPS = 1000

#: Links to hear a fault begin so long before it.
_BEFORE_S = 2.0

RUNG = {"rounds": "Rounds", "hunting": "Plain hunting"}

HINTS = {
    "peal_minutes": f"As the minutes of a peal, {PEAL_MINUTES[0]} to {PEAL_MINUTES[1]}: 165 is a usual pace on six.",
    "rows": "120 rows are about four minutes; 240 make the answer surer.",
}


class BeginForm(BaseModel):
    """What a test is rung with."""

    model_config = ConfigDict(extra="forbid")

    bells: str = Field(max_length=3)
    rung: str = Field(max_length=20)
    peal_minutes: str = Field(max_length=4)
    rows: str = Field(max_length=4)


FIELDS = tuple(BeginForm.model_fields)


class AnswerForm(BaseModel):
    """What a listener noted: taps in seconds on the clock of the sound, or rows that were ticked."""

    model_config = ConfigDict(extra="forbid")

    taps: str = Field(default="", max_length=20_000)
    until: str = Field(default="", max_length=20)
    ticked: list[Annotated[int, Field(ge=1, le=max(ROWS))]] = Field(default=[], max_length=max(ROWS))


@dataclass(frozen=True, slots=True)
class RowToTick:
    """One row as it is rung: its number, when it begins, and its bells."""

    number: int
    time_s: float
    bells: str


@dataclass(frozen=True, slots=True)
class WayTold:
    """What is told of the early or of the late blows: a sentence, and a drawing where there is enough for one."""

    name: str
    sentence: str
    drawn: str


@dataclass(frozen=True, slots=True)
class FaultTold:
    """One planted fault: row, bell, size, when to listen from, whether it was noted."""

    row: int
    bell: str
    size: str
    listen_s: float
    was_heard: bool


@dataclass(frozen=True, slots=True)
class ResultTold:
    """What is told of a test.

    Parameters
    ----------
    ways : tuple of WayTold
        Early, then late.
    remarks : tuple of str
        False alarms, reaction time, the floor of hearing, what is assumed.
    faults : tuple of FaultTold
        Every one that was played.
    """

    ways: tuple[WayTold, ...]
    remarks: tuple[str, ...]
    faults: tuple[FaultTold, ...]


def ear_test_here(name: str, visitor: Listener) -> EarTest:
    """Return the test of an address, for whoever may take one."""
    del visitor  # its being here is the right
    test = ear_test_named(name)
    if test is None:
        raise HTTPException(404)
    return test


EarTestHere = Annotated[EarTest, Depends(ear_test_here)]


def wanted_test(form: BeginForm, *, number: int) -> EarTest:
    """Return the test that a form asks for; raises `InputError` whose ``where`` is the field."""
    for field, offered in (("bells", BELLS), ("rows", ROWS)):
        if getattr(form, field) not in {str(one) for one in offered}:
            raise InputError(field, f'"{getattr(form, field)}" is not {" or ".join(map(str, offered))}')
    if form.rung not in RUNG:
        raise InputError("rung", f'"{form.rung}" is neither rounds nor plain hunting')
    test = ear_test_named(f"{form.bells}-{form.rung}-{form.peal_minutes}-{form.rows}-{number}")
    if test is None:
        least, most = PEAL_MINUTES
        raise InputError(
            "peal_minutes", f'"{form.peal_minutes}" is not a whole number of minutes from {least} to {most}'
        )
    return test


def title_of(test: EarTest) -> str:
    """Return what a test is called, such as ``"120 rows of rounds on 6 bells at 2h45"``."""
    return f"{test.rows} rows of {test.piece.title} on {test.bells} bells at {peal_speed(test.peal_minutes)}"


def rows_to_tick(test: EarTest) -> tuple[RowToTick, ...]:
    """Return the rows of a test."""
    return tuple(
        RowToTick(index + 1, float(test.log.times_s[index * test.bells]), "".join(SYMBOLS[bell - 1] for bell in row))
        for index, row in enumerate(test.piece.rows.tolist())
    )


def told_of(test: EarTest, form: AnswerForm) -> ResultTold:
    """Return what a listener's answers tell.

    Parameters
    ----------
    test : EarTest
        What was played.
    form : AnswerForm
        Taps; or rows, where there are none.

    Returns
    -------
    ResultTold

    Raises
    ------
    InputError
        Nothing was noted, or it cannot be told what the taps answer.
    """
    answered = _answered(test, form)
    floor = floor_ms(test.gap_s)
    faults = tuple(
        FaultTold(
            row=fault.row + 1,
            bell=SYMBOLS[int(test.piece.rows[fault.row, fault.place - 1]) - 1],
            size=f"{abs(fault.late_ms):.0f} ms {'late' if fault.late_ms > 0 else 'early'}",
            listen_s=max(float(test.log.times_s[fault.row * test.bells + fault.place - 1]) - _BEFORE_S, 0.0),
            was_heard=heard.was_heard,
        )
        for fault, heard in zip(test.planted, answered.heard, strict=False)  # those that were listened to
    )
    return ResultTold(
        ways=tuple(_way(answered, late=late, floor=floor) for late in (False, True)),
        remarks=tuple(_remarks(answered, floor, 1000 * test.gap_s)),
        faults=faults,
    )


def _answered(test: EarTest, form: AnswerForm) -> Answered:
    if form.taps.strip():
        end_s = float(test.log.times_s[-1]) + 2
        until_s = min(_second(form.until), end_s) if form.until.strip() else end_s
        taps = np.sort([_second(word) for word in form.taps.split()])
        if len(taps) > _MOST_TAPS:
            raise InputError(
                "taps", f"are {len(taps)}, more than {_MOST_TAPS}; tap once for each blow that is out of time"
            )
        return answered_by_taps(taps, test.log, test.planted, bells=test.bells, until_s=until_s)
    if not form.ticked:
        raise InputError("taps", "too few to tell: nothing was noted; listen to the end, and tap or tick as you go")
    rows = sorted({number - 1 for number in form.ticked})
    return answered_by_rows(rows, test.planted, rows_rung=test.rows)


def _second(word: str) -> float:
    try:
        time_s = float(word)
    except ValueError:
        time_s = math.nan
    if not 0 <= time_s <= 86_400:
        raise InputError("taps", f'"{word[:20]}" is no time in seconds')
    return time_s


def _way(answered: Answered, *, late: bool, floor: float) -> WayTold:
    name = "late" if late else "early"
    heard = of_way(answered.heard, late=late)
    try:
        found = half_heard(heard, guess=answered.guess, floor_ms=floor)
    except InputError as error:
        return WayTold(name, f"{error.problem[:1].upper()}{error.problem[1:]}.", "")
    told = half_in_words(heard, found, name)
    return WayTold(name, told, half_heard_svg(heard, found, late=late, told=told))


def _remarks(answered: Answered, floor: float, gap_ms: float) -> list[str]:
    alarms = answered.false_alarms
    said = (
        "You noted nothing where nothing was"
        if not alarms
        else (f"You noted something {alarms} {'time' if alarms == 1 else 'times'} where nothing was")
    )
    remarks = [
        f"{said}; at that rate luck alone would find {100 * answered.guess:.0f} % of the faults, which is allowed for."
    ]
    if answered.reaction_s is not None:
        remarks.append(f"Your taps came {answered.reaction_s:.1f} s after the blows, half of them sooner.")
    remarks.append(
        f"Listeners in a published experiment just noticed one displaced sound at {floor:.0f} ms where sounds follow "
        f"each other by {gap_ms:.0f} ms (Friberg and Sundberg 1995). It is the floor here: less is never claimed."
    )
    remarks.append(
        f"The interval in brackets is that of 95 %. It is reckoned that {100 * LAPSE:.0f} % are missed at any size, "
        "by a thought or a cough. Bells in a tower are harder to hear than these: this is the best that you can do."
    )
    return remarks
