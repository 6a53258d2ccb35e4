"""Practice nights of this laptop from year to year: their touches, and what there is of each to erase."""

from dataclasses import dataclass

from sqlmodel import Session

from judging.jobs.resounding import sounds_made_of
from judging.store import Store, StoredContest, contests, entries_of, recordings_of
from judging.store.erasing import erase_night, logs_of_night
from judging.store.evenings import stands_of
from judging.striking.touch_figures import figures_of
from judging.web.judged import Judging
from judging.web.practice import is_practice
from judging.web.year_to_year import OnBells, TouchOfYears, by_bells


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
    nights = [night for night in contests(session) if is_practice(night)]
    return by_bells([touch for night in nights for touch in _touches(night, session, judging)])


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
        sounds = [path for log in logs for path in sounds_made_of(session, store, log, here.rules_text)]
        recordings = erase_night(session, here, who=who)
    for sha256 in recordings:
        store.recordings.erase(sha256)
    for sound in sounds:
        sound.unlink(missing_ok=True)
    store.settle()


def _touches(night: StoredContest, session: Session, judging: Judging) -> list[TouchOfYears]:
    judged = judging.of(session, night)
    return [
        TouchOfYears(
            when=judged.rules.date or night.created_at.date(),
            name=f"touch {number}",
            address=f"/contests/{night.slug}/bands/{entry.id}",
            figures=figures_of(judged.outcome.counts[entry.id]),
        )
        for number, entry in enumerate(judged.day.entries, start=1)
        if entry.id in judged.outcome.counts and judged.outcome.counts[entry.id].rows_judged
    ]
