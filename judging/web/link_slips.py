"""New personal links for everybody who has a part in a contest, on slips to cut apart."""

from datetime import timedelta
from urllib.parse import urlsplit

from pydantic import BaseModel, ConfigDict, Field
from sqlmodel import Session

from judging.errors import InputError
from judging.papers import LinkSlip
from judging.store import Settings, StoredContest, links_of, revoke_link
from judging.store.columns import utc_now
from judging.web.contest_steps import give_link
from judging.web.judged import Judged
from judging.web.words import day

#: Fields of the form.
FIELDS = ("address", "bands")

#: Tells links on slips from those that were shown at the desk.
_NOTE = "slip"


class SlipsForm(BaseModel):
    """For whom slips are printed, and where the service is."""

    model_config = ConfigDict(extra="forbid")

    address: str = Field(default="", max_length=150)
    bands: str = Field(default="", max_length=3)


def new_slips(
    session: Session, contest: StoredContest, judged: Judged, form: SlipsForm, *, who: str, settings: Settings
) -> tuple[LinkSlip, ...]:
    """Return slips with new links; earlier links of the same people that nobody has used stop working.

    Parameters
    ----------
    session : Session
        A writing session.
    contest : StoredContest
        What they are good for.
    judged : Judged
        The same, judged: its judges and bands.
    form : SlipsForm
        As typed.
    who : str
        Who makes them.
    settings : Settings
        How long a link may wait to be used.

    Returns
    -------
    tuple of LinkSlip
        The judges', the steward's and, if asked for, each band's; they can be printed only now.

    Raises
    ------
    InputError
        Its ``where`` is the field.
    """
    base = _base(form.address)
    people = [("Judge", judge.name, f"judge {judge.id}") for judge in judged.day.judges]
    people.append(("Steward", "In the ringing room", "steward"))
    if form.bands:
        people += [("Band", entry.band, f"band {entry.id}") for entry in judged.day.entries if not entry.withdrawn]
    _withdraw_unused(session, contest, {role.lower() for role, _, _ in people}, who=who)
    lapses = utc_now() + timedelta(days=settings.link_days)
    return tuple(
        LinkSlip(
            role,
            name,
            f"{base}/links/{give_link(session, contest, holder, note=_NOTE, who=who, settings=settings).token}",
            f"on {day(lapses)} if it has not been opened",
        )
        for role, name, holder in people
    )


def _withdraw_unused(session: Session, contest: StoredContest, roles: set[str], *, who: str) -> None:
    """Take back slips that nobody has used: one that was lost must not be found by somebody else."""
    for link in links_of(session, contest.id):
        if link.note == _NOTE and link.role in roles and link.used_at is None:
            revoke_link(session, link.id or 0, who=who, reason="a new slip was printed")


def _base(address: str) -> str:
    """Return the address of the service without a slash at its end."""
    given = address.strip().rstrip("/")
    try:
        parts = urlsplit(given)
        is_address = parts.scheme in {"http", "https"} and bool(parts.hostname) and (parts.port or 1) > 0
    except ValueError:  # brackets without an address in them, a port that is no number
        is_address = False
    if not is_address or parts.path or parts.query or parts.fragment or parts.username or any(map(str.isspace, given)):
        raise InputError("address", f'"{given[:60]}" is no address of a service; it is like http://192.168.1.20:8000')
    return given
