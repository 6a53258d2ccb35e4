"""The draw as its page shows it, and run again for whoever asks."""

import json
from dataclasses import dataclass

from sqlmodel import Session, col, select

from judging.contest import Entry, RuleSet, Ticket, sees_name, tickets
from judging.contest.phases import Phase
from judging.errors import InputError
from judging.store import StoredAudit, entries_of
from judging.web.views import ContestView

_MOST = 200


@dataclass(frozen=True, slots=True)
class Drawn:
    """One band in the order of ringing.

    Parameters
    ----------
    number : int
        In the order.
    name, key : str
        Name or number; identifier, empty where the visitor may not know it.
    digits : str
        Its lot; empty likewise, since a name can be found by trying.
    note : str
        Late, withdrawn, scratch.
    may_swap : bool
        Whether it can still change places.
    """

    number: int
    name: str
    key: str
    digits: str
    note: str
    may_swap: bool


@dataclass(frozen=True, slots=True)
class DrawShown:
    """What the page shows of a draw.

    Parameters
    ----------
    seed : str
        As declared; empty before it is.
    bands : tuple of Drawn
        In the order of ringing; empty before the draw.
    changes : tuple of str
        What was changed after it, with reasons.
    is_as_drawn : bool
        Whether the order is still the one that the seed gives.
    may_swap : bool
        Whether bands may change places now.
    """

    seed: str
    bands: tuple[Drawn, ...]
    changes: tuple[str, ...]
    is_as_drawn: bool
    may_swap: bool


def draw_shown(view: ContestView, session: Session) -> DrawShown:
    """Return what the page shows of a contest's draw, for its visitor."""
    judged, names = view.judged, view.names
    if not judged.is_drawn:
        return DrawShown(judged.rules.draw_seed, (), (), is_as_drawn=True, may_swap=False)
    lots = {lot.entry: lot for lot in tickets(judged.day.entries, judged.rules.draw_seed)}
    begun = {entry.key for entry in entries_of(session, view.stored.id) if entry.began_at is not None}
    bands = []
    for number, entry_id in enumerate(judged.day.order, 1):
        entry = judged.entry(entry_id)
        known = sees_name(entry, names.viewer, judged.phase, was_final=judged.was_final)
        lot = lots.get(entry_id)
        bands.append(
            Drawn(
                number,
                names.name(entry_id),
                entry_id if known else "",
                lot.digits if known and lot else "",
                _note(entry),
                may_swap=entry_id not in begun and not entry.withdrawn,
            )
        )
    return DrawShown(
        judged.rules.draw_seed,
        tuple(bands),
        _changes(view, session),
        is_as_drawn=[entry for entry in judged.day.order if entry in lots] == list(lots),
        may_swap=view.is_run and judged.rules.swaps == "with consent" and judged.phase in {Phase.DRAWN, Phase.RINGING},
    )


def run_again(typed: str, rules: RuleSet) -> tuple[Ticket, ...]:
    """Return the lots of identifiers typed one a line, in the order in which they ring.

    Raises
    ------
    InputError
        About ``entries``.
    """
    wanted = typed.split()
    if not wanted:
        raise InputError("entries", "are missing; copy the identifiers from the paper of the draw, one a line")
    if len(wanted) > _MOST:
        raise InputError("entries", f"are {len(wanted)}, more than {_MOST}")
    if len(set(wanted)) < len(wanted):
        raise InputError("entries", "are not all different")
    try:
        return tickets([Entry(one, one) for one in wanted], rules.draw_seed)
    except InputError as error:
        raise InputError("entries", error.problem) from error


def _note(entry: Entry) -> str:
    notes = [
        f"withdrawn: {entry.withdrawn}" if entry.withdrawn else "",
        "late, so after those that were drawn" if entry.late else "",
        "scratch band" if entry.scratch else "",
    ]
    return "; ".join(note for note in notes if note)


def _changes(view: ContestView, session: Session) -> tuple[str, ...]:
    """Say what was changed after the newest draw, by number."""
    trail = session.exec(
        select(StoredAudit)
        .where(StoredAudit.contest == view.stored.slug, StoredAudit.what == "order of ringing set")
        .order_by(col(StoredAudit.seq))
    ).all()
    newest = max((at for at, entry in enumerate(trail) if not entry.reason), default=-1)
    return tuple(_said(json.loads(one.before), json.loads(one.after), one.reason) for one in trail[newest + 1 :])


def _said(before: list[str], after: list[str], reason: str) -> str:
    moved = [number for number, (old, new) in enumerate(zip(before, after, strict=False), 1) if old != new]
    if len(moved) == 2:
        return f"Numbers {moved[0]} and {moved[1]} changed places: {reason}"
    return f"Number {len(after)}: {reason}"
