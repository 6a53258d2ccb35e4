"""Towers as their pages show them: the voices kept there, what is rung there, how bells are told apart and how late.

Nothing here names a ringer, a band or a count.
"""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from fastapi.responses import HTMLResponse
from pydantic import BaseModel, ConfigDict, Field
from sqlmodel import Session

from judging.contest.day import piece_of
from judging.errors import InputError, RuleError
from judging.papers.drawings.told_apart import told_apart_svg
from judging.store import (
    StoredContest,
    StoredTower,
    StoredVoices,
    entries_of,
    hearing_of,
    places_at,
    strike_log_of,
    towers,
    voices_of_tower,
)
from judging.striking import count_striking
from judging.striking.installation import FEWEST_BANDS, Installation, installation_of
from judging.striking.values import Count
from judging.web.access import Visitor
from judging.web.forms import form_of
from judging.web.judged import Judged, Judging
from judging.web.pages import page
from judging.web.practice import is_practice
from judging.web.refusals import status_of
from judging.web.told_apart import HARDLY, Clarities, ToldApart, told_apart
from judging.web.words import day


class TowerForm(BaseModel):
    """A tower as it is typed."""

    model_config = ConfigDict(extra="forbid")

    name: str = Field(default="", max_length=200)
    bells: str = Field(default="", max_length=3)
    recorder: str = Field(default="", max_length=400)


FIELDS = tuple(TowerForm.model_fields)

HINTS = {
    "name": "As you call it among yourselves; only organisers see it.",
    "bells": "How many ring together, 3 to 16. Where six of eight are rung too, they are another tower here.",
    "recorder": "Such as: on the beam below the louvres, north side. Voices belong to this one place.",
}


@dataclass(frozen=True, slots=True)
class KeptVoices:
    """Voices as they are listed: number, day, how many blows, where they were learnt, and whether they are in force."""

    number: int
    day: str
    blows: int
    learnt_from: str
    is_in_force: bool


@dataclass(frozen=True, slots=True)
class RungHere:
    """A contest or a practice night that is said to ring here: its title and its address."""

    title: str
    address: str


@dataclass(frozen=True, slots=True)
class Late:
    """A bell at one stroke that is late or early alike for everybody, in words and in milliseconds."""

    bell: int
    stroke: str
    ms: float
    se_ms: float


@dataclass(frozen=True, slots=True)
class Delays:
    """What the tower does to every band alike.

    Parameters
    ----------
    bands : int
        How many have been counted here.
    late : tuple of Late
        The largest first; empty with too few bands, or where none is the same for all.
    """

    bands: int
    late: tuple[Late, ...]

    @property
    def is_known(self) -> bool:
        """Whether enough bands say."""
        return self.bands >= FEWEST_BANDS

    @property
    def fewest(self) -> int:
        """How many bands it takes."""
        return FEWEST_BANDS


def bells_typed(form: TowerForm) -> int:
    """Return how many bells a form says.

    Raises
    ------
    InputError
        About the field ``bells``.
    """
    text = form.bells.strip()
    if not (text.isascii() and text.isdecimal()):
        raise InputError("bells", f'"{text}" is not a whole number from 3 to 16')
    return int(text)


def towers_page(
    session: Session,
    visitor: Visitor,
    *,
    typed: Mapping[str, str] | None = None,
    error: InputError | None = None,
) -> HTMLResponse:
    """Return the list of towers with the form for another, with what was typed and what is wrong with it."""
    listed = [(tower, next(iter(_kept(session, tower)), None)) for tower in towers(session)]
    return page(
        "towers.html",
        status=200 if error is None else status_of(error),
        viewer=visitor,
        towers=listed,
        form=form_of(typed, hints=HINTS, error=error, fields=FIELDS),
    )


def tower_page(
    session: Session,
    tower: StoredTower,
    visitor: Visitor,
    judging: Judging,
    *,
    typed: Mapping[str, str] | None = None,
    error: InputError | RuleError | None = None,
) -> HTMLResponse:
    """Return a tower's page, with what was typed and what is wrong with it."""
    rung = [session.get_one(StoredContest, place.contest_id) for place in places_at(session, tower)]
    told = told_apart(tuple(_clarities(session, tower, rung)))
    return page(
        "tower.html",
        status=200 if error is None else status_of(error),
        viewer=visitor,
        tower=tower,
        voices=_kept(session, tower),
        rung=[_rung_here(contest) for contest in rung],
        told=told,
        drawn="" if told is None else _drawn(told),
        delays=_delays(session, tower, rung, judging),
        form=form_of(
            typed or {"name": tower.name, "recorder": tower.recorder}, hints=HINTS, error=error, fields=FIELDS
        ),
    )


def voices_in_words(voices: StoredVoices) -> str:
    """Return when voices were kept and from how many blows they were learnt."""
    return f"{day(voices.kept_at)}, learnt from {voices.blows:,} blows"


def _kept(session: Session, tower: StoredTower) -> list[KeptVoices]:
    return [
        KeptVoices(voices.id, day(voices.kept_at), voices.blows, voices.learnt_from, number == 0)
        for number, voices in enumerate(voices_of_tower(session, tower))
    ]


def _rung_here(contest: StoredContest) -> RungHere:
    return RungHere(contest.title, f"/contests/{contest.slug}/{'practice' if is_practice(contest) else 'tower'}")


def _clarities(session: Session, tower: StoredTower, rung: list[StoredContest]) -> Iterator[Clarities]:
    """Yield how well bells were told apart in each recording that was heard here, by the log in force."""
    for entry in [entry for contest in rung for entry in entries_of(session, contest.id)]:
        log = strike_log_of(session, entry.id)
        hearing = None if log is None else hearing_of(session, log)
        bells = [] if hearing is None else json.loads(hearing.clarity_json)
        if len(bells) == tower.bells:
            yield [(int(bell), float(apart), int(like)) for bell, apart, like in bells]


def _drawn(told: ToldApart) -> str:
    bars = [(bell.bell, bell.apart, bell.most_like) for bell in told.bells]
    words = "; ".join(
        f"{pair.bells[0]} and {pair.bells[1]} are {pair.verdict} ({pair.apart:.2f})" for pair in told.pairs
    )
    return told_apart_svg(bars, hardly=HARDLY, told=f"{words}.")


def _delays(session: Session, tower: StoredTower, rung: list[StoredContest], judging: Judging) -> Delays:
    """Return what the tower does to all bands alike, from contests: a practice night's touches are one band's."""
    counts: dict[str, Count] = {}
    for contest in rung:  # the newest first: of a band that rang here twice its last ringing says
        if not is_practice(contest):
            judged = judging.of(session, contest)
            for entry_id, count in _plain_counts(judged):
                if count.rung.piece.bells == tower.bells:
                    counts.setdefault(judged.entry(entry_id).band.casefold(), count)
    if len(counts) < FEWEST_BANDS:
        return Delays(len(counts), ())
    return Delays(len(counts), _late(installation_of(list(counts.values()))))


def _plain_counts(judged: Judged) -> Iterator[tuple[str, Count]]:
    """Yield each band's count as it is before anything is taken out for the tower."""
    for entry_id, count in judged.outcome.counts.items():
        if entry_id in judged.outcome.uncounted:
            continue
        if not judged.rules.marks.machine.tower_delays:
            yield entry_id, count
            continue
        piece = piece_of(judged.entry(entry_id), judged.day)
        yield entry_id, count_striking(judged.day.logs[entry_id], piece, judged.rules.counting, name=entry_id)


def _late(tower: Installation) -> tuple[Late, ...]:
    found = [
        Late(
            int(bell) + 1,
            ("handstroke", "backstroke")[stroke],
            float(tower.delay_ms[bell, stroke]),
            float(tower.se_ms[bell, stroke]),
        )
        for bell, stroke in np.argwhere(tower.delay_ms != 0)
    ]
    return tuple(sorted(found, key=lambda one: -abs(one.ms)))
