"""Practice nights of this laptop from year to year: their touches, and what there is of each to erase."""

import hashlib
from collections import OrderedDict
from dataclasses import dataclass
from threading import Lock
from typing import cast

from fastapi import Request
from sqlmodel import Session

from judging.contest import read_rules
from judging.errors import JudgingError
from judging.jobs.resounding import sounds_made_of
from judging.piece import piece_from_file
from judging.store import (
    Store,
    StoredContest,
    StoredPiece,
    StoredStrikeLog,
    contests,
    entries_of,
    piece_of,
    recordings_of,
    rules_of,
    strike_log_of,
)
from judging.store.erasing import erase_night, logs_of_night
from judging.store.evenings import stands_of
from judging.striking import count_striking, read_log
from judging.striking.touch_figures import TouchFigures, figures_of
from judging.web.practice import is_practice
from judging.web.year_to_year import OnBells, TouchOfYears, by_bells


@dataclass(frozen=True, slots=True)
class Night:
    """A practice night that has something to erase."""

    title: str
    address: str


class FiguresKept:
    """Figures of touches, by all that they are made from: years of practice nights are not counted at every look.

    Parameters
    ----------
    most : int
        How many are kept, the oldest unused going first; one takes a few hundred bytes.
    """

    def __init__(self, most: int = 10_000) -> None:
        self._most = most
        self._lock = Lock()
        self._kept: OrderedDict[bytes, TouchFigures | None] = OrderedDict()

    def of(self, log: StoredStrikeLog, piece: StoredPiece, rules_text: str) -> TouchFigures | None:
        """Return the figures of a touch under its night's rules; None where it cannot be counted."""
        made_from = (log.sha256, piece.file_name, piece.text, rules_text)
        key = hashlib.sha256("\0".join(made_from).encode()).digest()
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
        figures = _counted(log, piece, rules_text)
        with self._lock:
            self._kept[key] = figures
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)
        return figures


def figures_kept(request: Request) -> FiguresKept:
    """Return the figures that the application keeps."""
    return cast(FiguresKept, request.app.state.figures)


def on_bells(session: Session, figures: FiguresKept) -> tuple[OnBells, ...]:
    """Return every touch of every practice night that has a count, by how many bells rang.

    Parameters
    ----------
    session : Session
        A reading session will do.
    figures : FiguresKept
        What was counted before.

    Returns
    -------
    tuple of OnBells
        The fewest bells first.
    """
    nights = [night for night in contests(session) if is_practice(night)]
    return by_bells([touch for night in nights for touch in _touches(night, session, figures)])


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


def _touches(night: StoredContest, session: Session, figures: FiguresKept) -> list[TouchOfYears]:
    touches = []
    for number, entry in enumerate(entries_of(session, night.id or 0), start=1):
        log = strike_log_of(session, entry.id or 0)
        found = None if log is None else figures.of(log, piece_of(session, entry), night.rules_text)
        if found is not None:
            touches.append(
                TouchOfYears(
                    when=rules_of(night).date or night.created_at.date(),
                    name=f"touch {number}",
                    address=f"/contests/{night.slug}/bands/{entry.key}",
                    figures=found,
                )
            )
    return touches


def _counted(log: StoredStrikeLog, piece: StoredPiece, rules_text: str) -> TouchFigures | None:
    rung = piece_from_file(piece.file_name, piece.text)
    rules = read_rules(rules_text, name="rules.toml").counting
    try:
        blows = read_log(log.csv.encode(), name="strike log", bells=rung.bells)
        count = count_striking(blows, rung, rules)
    except JudgingError:  # its own page says why
        return None
    return figures_of(count) if count.rows_judged else None
