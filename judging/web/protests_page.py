"""The register of protests as the organiser keeps it and a band sees its own part of it."""

from dataclasses import dataclass
from datetime import datetime, time, timedelta

from pydantic import BaseModel, ConfigDict, Field
from sqlmodel import Session

from judging.contest import ANSWERS, Window
from judging.errors import InputError
from judging.store import StoredEntry, StoredProtest, entries_of, entry_by_key, protest_window, protests_of
from judging.store.columns import utc_now
from judging.web.views import ContestView


class ProtestForm(BaseModel):
    """A protest as it is handed in; a band's own link says who it is."""

    model_config = ConfigDict(extra="forbid")

    band: str = Field(default="", max_length=80)
    handed_in_by: str = Field(default="", max_length=200)
    handed_in_at: str = Field(default="", max_length=20)
    about: str = Field(default="", max_length=5000)


class AnswerForm(BaseModel):
    """How a protest is answered."""

    model_config = ConfigDict(extra="forbid")

    outcome: str = Field(default="", max_length=20)
    answered_by: str = Field(default="", max_length=200)
    answer: str = Field(default="", max_length=5000)


FIELDS = tuple(ProtestForm.model_fields)
ANSWER_FIELDS = tuple(AnswerForm.model_fields)

HINTS = {
    "handed_in_at": "Such as 16:08; empty for this minute.",
    "handed_in_by": "Where it is nobody of these bands.",
    "about": "In the words of whoever protests.",
}


@dataclass(frozen=True, slots=True)
class ProtestShown:
    """One line of the register; times as moments where the machine is."""

    number: int
    revision: int
    by: str
    handed_in_at: datetime
    about: str
    outcome: str
    answered_by: str
    answer: str
    answered_at: datetime | None


@dataclass(frozen=True, slots=True)
class Register:
    """The register as somebody sees it.

    Parameters
    ----------
    protests : tuple of ProtestShown
        First to last; a band sees its own.
    window : Window or None
        While protests may be handed in; it may be over.
    is_open : bool
        Whether it is not over.
    rule : str
        What the rules say of protests.
    outcomes : tuple of str
        How one may be answered.
    """

    protests: tuple[ProtestShown, ...]
    window: Window | None
    is_open: bool
    rule: str
    outcomes: tuple[str, ...] = ANSWERS


def register_of(view: ContestView, session: Session, own: StoredEntry | None = None) -> Register:
    """Return the register of a contest, or a band's part of it."""
    bands = {entry.id: entry.key for entry in entries_of(session, view.stored.id)}
    window = protest_window(view.stored)
    minutes = view.judged.rules.protest.minutes
    to = f" to {view.judged.rules.protest.to}" if view.judged.rules.protest.to else ""
    return Register(
        tuple(
            _shown(protest, view, bands)
            for protest in protests_of(session, view.stored.id)
            if own is None or protest.entry_id == own.id
        ),
        window,
        is_open=window is not None and window.closes_at >= utc_now(),
        rule=f"A protest is handed in{to} within {minutes} minutes of the provisional result."
        if minutes
        else "The judges’ decision is final; the rules know no protest.",
    )


def read_protest(form: ProtestForm, view: ContestView, session: Session) -> tuple[StoredEntry | None, datetime | None]:
    """Return the band that protests, and when it did, as the organiser types them.

    Raises
    ------
    InputError
        Its ``where`` is the field.
    """
    entry = entry_by_key(session, view.stored.id, form.band) if form.band else None
    if form.band and entry is None:
        raise InputError("band", f'"{form.band}" is no band of this contest')
    return entry, _moment(form.handed_in_at)


def _moment(text: str) -> datetime | None:
    """Return a time of day as the last moment that had it; clocks in the tower show no date."""
    if not text.strip():
        return None
    try:
        wanted = time.fromisoformat(text.strip())
    except ValueError:
        raise InputError("handed_in_at", f'"{text.strip()[:20]}" is no time of day; write it as 16:08') from None
    now = utc_now().astimezone()
    moment = datetime.combine(now.date(), wanted.replace(tzinfo=None)).astimezone()
    if moment > now + timedelta(hours=12):  # a little before midnight, written down a little after
        moment -= timedelta(days=1)
    return moment


def _shown(protest: StoredProtest, view: ContestView, bands: dict[int, str]) -> ProtestShown:
    by = view.names.name(bands[protest.entry_id]) if protest.entry_id is not None else ""
    return ProtestShown(
        protest.number,
        protest.revision,
        ", ".join(part for part in (by, protest.handed_in_by) if part),
        protest.handed_in_at.astimezone(),
        protest.about,
        protest.outcome,
        protest.answered_by,
        protest.answer,
        protest.answered_at.astimezone() if protest.answered_at else None,
    )
