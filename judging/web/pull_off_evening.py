"""An evening of pull-offs as its page shows it: the newest, what it says of those before, and what to aim at."""

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from pydantic import BaseModel, ConfigDict, Field
from sqlmodel import Session

from judging.errors import InputError
from judging.jobs.ideal_pull_off import gap_ms, ideal_path
from judging.jobs.pull_offs_live import pulled_off_in
from judging.papers.words import peal_speed
from judging.piece import NAMES, name_of, named_row, read_row, rounds, row_said, row_text
from judging.store import Store, StoredEvening, StoredStand, evening_of, log_of_stand, stands_of
from judging.striking import BellInPullOffs, PullOff, bells_of, pull_offs, series_in_words
from judging.striking.pull_off_since import since_before
from judging.web.peal_speed_meant import minutes_said
from judging.web.pull_off_table import PulledOff, pulled

ROUNDS = "Rounds"


class EveningForm(BaseModel):
    """What an evening listens for."""

    model_config = ConfigDict(extra="forbid")

    bells: str = Field(default="", max_length=3)
    row: str = Field(default="", max_length=40)
    there_bells: str = Field(default="", max_length=3)
    there_speed: str = Field(default="", max_length=20)


FIELDS = tuple(EveningForm.model_fields)

HINTS = {
    "bells": "3 to 16.",
    "row": "Rounds, Queens, Tittums …, or the row as bells: 135246.",
    "there_bells": "Leave empty where none is to be visited.",
    "there_speed": "The time of a peal there, such as 3h10.",
}


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a form asks for; as `judging.store.set_evening` takes it."""

    row: str
    there_bells: int | None
    there_minutes: int | None


@dataclass(frozen=True, slots=True)
class Stand:
    """One stand of the evening.

    Parameters
    ----------
    number : int
        Of the pull-off, from 1; 0 where there was none.
    stood_at : str
        By the clock on the wall.
    sentence : str
        What it was like, or why it was not heard.
    table : PulledOff or None
        Each blow; None where there was none.
    notes : tuple of str
        How good the sound was.
    times, since : int and str
        How often in a row there was none, and by the clock since when; told once.
    """

    number: int
    stood_at: str
    sentence: str
    table: PulledOff | None = None
    notes: tuple[str, ...] = ()
    times: int = 1
    since: str = ""


@dataclass(frozen=True, slots=True)
class There:
    """A tower that is practised for.

    Parameters
    ----------
    sentence : str
        How quick a pull-off is there, beside the newest here.
    sound : str
        Address of an ideal pull-off at its pace; empty where it is not made yet.
    """

    sentence: str
    sound: str


@dataclass(frozen=True, slots=True)
class EveningPage:
    """All that the page shows.

    Parameters
    ----------
    row_said, bells : str and int
        What is pulled off in.
    newest : Stand or None
        The last stand, whatever it was.
    last : Stand or None
        The last pull-off; it stays in sight when bells are lowered after it.
    before : tuple of Stand
        The others, newest first.
    since : tuple of str
        What the last pull-off says of earlier habits.
    series : str
        All pull-offs in this row, in words.
    each : tuple of (int, BellInPullOffs or None, BellInPullOffs or None)
        Each bell at handstroke and at backstroke over them; empty for fewer than two.
    pulled_off : int
        How many there are.
    there : There or None
        The tower to be visited.
    """

    row_said: str
    bells: int
    newest: Stand | None
    last: Stand | None
    before: tuple[Stand, ...]
    since: tuple[str, ...]
    series: str
    each: tuple[tuple[int, BellInPullOffs | None, BellInPullOffs | None], ...]
    pulled_off: int
    there: There | None


def read_evening(form: EveningForm) -> Wanted:
    """Return what a form asks for.

    Raises
    ------
    InputError
        Its ``where`` is the field.
    """
    bells = _whole(form.bells, "bells", 3, 16)
    there = None
    if form.there_bells.strip() or form.there_speed.strip():
        there = _whole(form.there_bells, "there_bells", 3, 16)
    minutes = None if there is None else minutes_said(form.there_speed, field="there_speed")
    return Wanted(row_text(row_said(form.row.strip() or ROUNDS, bells)), there, minutes)


def typed_of(evening: StoredEvening | None, bells: int) -> dict[str, str]:
    """Return what stands in the form: what is listened for, or the night's own number of bells in rounds."""
    if evening is None:
        return {"bells": str(bells), "row": ROUNDS}
    row = read_row(evening.row, where="row")
    return {
        "bells": str(len(row)),
        "row": name_of(row) or row_text(row),
        "there_bells": str(evening.there_bells or ""),
        "there_speed": peal_speed(evening.there_minutes) if evening.there_minutes else "",
    }


def names_for(bells: int) -> tuple[str, ...]:
    """Return the named rows that there are on so many bells."""
    found = []
    for name in NAMES:
        try:
            named_row(name, bells)
        except InputError:
            continue
        found.append(name)
    return tuple(found)


def evening_page(session: Session, store: Store, contest_id: int, bells: int, address: str) -> EveningPage:
    """Return an evening as its page shows it.

    Parameters
    ----------
    session : Session
        A reading session will do.
    store : Store
        Where sounds are.
    contest_id : int
        The practice night.
    bells : int
        Of its own piece, where nothing else was said.
    address : str
        Of the page.

    Returns
    -------
    EveningPage
    """
    evening = evening_of(session, contest_id)
    row = read_row(evening.row, where="row") if evening else rounds(bells)
    kept = stands_of(session, contest_id)
    stands, series, newest_gap_ms = _told(kept, row_text(row))
    pulled_off = [(one.row, stand) for one, stand in zip(kept, stands, strict=True) if stand.number]
    last_row, last = pulled_off[-1] if pulled_off else ("", None)
    stands = _told_once(stands)
    newest = stands[-1] if stands else None
    each = bells_of(series)
    return EveningPage(
        row_said=name_of(row) or row_text(row),
        bells=len(row),
        newest=newest,
        last=last,
        before=tuple(stand for stand in reversed(stands[:-1]) if stand is not last),
        since=since_before(series) if last_row == row_text(row) else (),
        series=series_in_words(series) if len(series) > 1 else "",
        each=tuple(
            (
                bell,
                next((one for one in each if one.bell == bell and one.is_hand), None),
                next((one for one in each if one.bell == bell and not one.is_hand), None),
            )
            for bell in range(1, len(row) + 1)
        )
        if len(series) > 1
        else (),
        pulled_off=len(series),
        there=_there(evening, store, newest_gap_ms, address),
    )


def row_there(evening: StoredEvening) -> str:
    """Return what is pulled off in at a tower to be visited: the same row where it has as many bells, else rounds."""
    bells = evening.there_bells or len(evening.row)
    return evening.row if bells == len(evening.row) else row_text(rounds(bells))


def _told(kept: Sequence[StoredStand], row: str) -> tuple[list[Stand], list[PullOff], float]:
    """Return the stands in order, the pull-offs in this row, and the newest one's gap in ms (0 for none)."""
    stands: list[Stand] = []
    series: list[PullOff] = []
    number, newest_gap_ms = 0, 0.0
    for one in kept:
        at = one.stood_at.astimezone().strftime("%H:%M")
        if not one.csv:
            stands.append(Stand(0, at, one.problem))
            continue
        log = log_of_stand(one)
        found = pull_offs(log, pulled_off_in(read_row(one.row, where="row")))
        if not found:  # it was one when it was heard; another version may read it otherwise
            stands.append(Stand(0, at, "This was heard, but it does not begin with a whole pull."))
            continue
        number += 1
        own_gap_ms = 1000 * float(np.median(np.diff(log.times_s)))
        stands.append(
            Stand(
                number,
                at,
                found[0].sentence,
                pulled(number, found[0], own_gap_ms, told_gaps=0.0),
                tuple(json.loads(one.notes_json)),
            )
        )
        if one.row == row:
            series.append(found[0])
            newest_gap_ms = own_gap_ms
    return stands, series, newest_gap_ms


def _told_once(stands: Sequence[Stand]) -> list[Stand]:
    """Return the stands with those in a row that were no pull-off as one, the newest of them."""
    told: list[Stand] = []
    for stand in stands:
        before = told[-1] if told else None
        if before is not None and not (stand.number or before.number):
            told[-1] = replace(stand, times=before.times + 1, since=before.since or before.stood_at)
        else:
            told.append(stand)
    return told


def _there(evening: StoredEvening | None, store: Store, here_ms: float, address: str) -> There | None:
    if evening is None or evening.there_bells is None or evening.there_minutes is None:
        return None
    gap = gap_ms(evening.there_bells, evening.there_minutes)
    row_s = 60 * evening.there_minutes / 5040
    said = (
        f"On {evening.there_bells} bells at a peal speed of {peal_speed(evening.there_minutes)} a row takes "
        f"{row_s:.2f} s: one blow follows another after {gap:.0f} ms, and a handstroke lead the blow before it after "
        f"{2 * gap:.0f} ms"
    )
    if here_ms:
        more = 100 * (gap / here_ms - 1)
        beside = "as much as" if abs(more) < 1 else f"{abs(more):.0f} % {'more' if more > 0 else 'less'} than"
        said += f". From blow to blow that is {beside} the {here_ms:.0f} ms of your newest pull-off"
    path = ideal_path(store, row_there(evening), evening.there_minutes)
    return There(f"{said}.", f"{address}/ideal.flac" if path.is_file() else "")


def _whole(text: str, field: str, least: int, most: int) -> int:
    if not (text.isascii() and text.strip().isdecimal() and least <= int(text) <= most):
        raise InputError(field, f'"{text}" is not a whole number from {least} to {most}')
    return int(text)
