"""Practice nights of this laptop beside each other: every touch, and whether the striking becomes closer."""

from dataclasses import dataclass
from datetime import date
from itertools import groupby

import numpy as np
from sqlmodel import Session

from judging.jobs import sound_path
from judging.papers.drawings import peal_minutes
from judging.papers.drawings.over_time import over_time_svg
from judging.papers.words import day_in_words, peal_speed
from judging.store import Store, StoredContest, contests, entries_of, recordings_of
from judging.store.erasing import erase_night, logs_of_night
from judging.store.evenings import stands_of
from judging.striking.over_time import struck_ms, trend, trend_in_words
from judging.web.judged import Judging
from judging.web.practice import a_hundred_rows, is_practice
from judging.web.sounds import WAYS


@dataclass(frozen=True, slots=True)
class TouchOfYears:
    """One touch: the day, its fault sheet, and what it was like."""

    when: date
    address: str
    name: str
    bells: int
    piece: str
    a_hundred_rows: str
    struck_ms: float
    speed: str
    handstroke_gap: str
    work_on: str

    @property
    def day(self) -> str:
        """The day in words."""
        return day_in_words(self.when)


@dataclass(frozen=True, slots=True)
class OnBells:
    """All touches on so many bells, the newest first, with what can be said of them together."""

    bells: int
    touches: tuple[TouchOfYears, ...]
    sentence: str
    drawn: str


@dataclass(frozen=True, slots=True)
class Night:
    """A practice night that has something to erase."""

    title: str
    address: str


def on_bells(session: Session, judging: Judging) -> tuple[OnBells, ...]:
    """Return every touch of every practice night that has a count, by how many bells rang.

    Parameters
    ----------
    session : Session
        A reading session will do.
    judging : Judging
        What judges each night.

    Returns
    -------
    tuple of OnBells
        The fewest bells first.
    """
    touches = [
        touch for night in contests(session) if is_practice(night) for touch in _touches(night, session, judging)
    ]
    touches.sort(key=lambda touch: (touch.bells, touch.when))
    return tuple(_together(bells, list(some)) for bells, some in groupby(touches, key=lambda touch: touch.bells))


def nights_with_something(session: Session) -> tuple[Night, ...]:
    """Return the practice nights of which a recording, a strike log or a pull-off is kept."""
    return tuple(
        Night(night.title, f"/contests/{night.slug}/practice")
        for night in contests(session)
        if is_practice(night) and has_something(session, night)
    )


def has_something(session: Session, night: StoredContest) -> bool:
    """Whether anything heard or recorded of a practice night is kept."""
    entries = entries_of(session, night.id or 0)
    return bool(
        logs_of_night(session, night)
        or stands_of(session, night.id or 0)
        or any(recordings_of(session, entry.id or 0) for entry in entries)
    )


def erase(store: Store, night: StoredContest, *, who: str) -> None:
    """Erase a practice night: its rows in one transaction, and then its files."""
    with store.write() as session:
        here = session.get_one(StoredContest, night.id)
        logs = logs_of_night(session, here)
        sounds = [sound_path(store, log, way, here.rules_text) for log in logs for way in WAYS.values()]
        recordings = erase_night(session, here, who=who)
    for sha256 in recordings:
        store.recordings.erase(sha256)
    for sound in sounds:
        sound.unlink(missing_ok=True)


def _touches(night: StoredContest, session: Session, judging: Judging) -> list[TouchOfYears]:
    judged = judging.of(session, night)
    touches = []
    for number, entry in enumerate(judged.day.entries, start=1):
        count = judged.outcome.counts.get(entry.id)
        if count is None:
            continue
        gap = count.rhythm.handstroke_gap
        touches.append(
            TouchOfYears(
                when=judged.rules.date or night.created_at.date(),
                address=f"/contests/{night.slug}/bands/{entry.id}",
                name=f"Touch {number}",
                bells=count.rung.piece.bells,
                piece=count.rung.piece.title,
                a_hundred_rows=a_hundred_rows(count),
                struck_ms=struck_ms(count),
                speed=peal_speed(float(np.mean(peal_minutes(count)))),
                handstroke_gap=f"{gap:.2f}" if count.rhythm.handstroke_gap_is_seen else "not seen",
                work_on=next((habit.sentence for habit in count.habits if not habit.praise), ""),
            )
        )
    return touches


def _together(bells: int, touches: list[TouchOfYears]) -> OnBells:
    days = [touch.when for touch in touches]
    spreads = [touch.struck_ms for touch in touches]
    found = trend([float(day.toordinal()) for day in days], spreads)
    told = trend_in_words(found, len(set(days)))
    drawn = over_time_svg(days, spreads, found, name=f"over-time-{bells}", told=told)
    return OnBells(bells, tuple(reversed(touches)), told, drawn)
