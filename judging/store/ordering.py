"""The order of ringing after the draw: two bands change places, a late one rings after the others."""

from sqlmodel import Session

from judging.contest import Entry, Phase, swap
from judging.errors import InputError, RuleError
from judging.store.contests import add_entry, set_order
from judging.store.lookups import entries_of, order_of, rules_of
from judging.store.tables import StoredContest, StoredEntry

_AFTER_THE_DRAW = frozenset({Phase.DRAWN, Phase.RINGING})


def swap_bands(session: Session, contest: StoredContest, first: str, second: str, *, who: str, reason: str) -> None:
    """Let two bands change places in the order of ringing.

    Parameters
    ----------
    session : Session
        A writing session.
    contest : StoredContest
        From this session.
    first, second : str
        Entries' identifiers.
    who, reason : str
        Who allows it, and why; a reason is needed.

    Raises
    ------
    InputError
        Its ``where`` is the field.
    RuleError
        The rules do not allow it, there is no draw to change, or one of them has rung.
    """
    if rules_of(contest).swaps == "not allowed":
        raise RuleError("By the rules of this contest bands do not change places after the draw.")
    if Phase(contest.phase) not in _AFTER_THE_DRAW:
        raise RuleError(f"Bands change places between the draw and their ringing; the contest is {contest.phase}.")
    if first == second:
        raise InputError("second", "is the same band; two bands change places")
    if not reason.strip():
        raise InputError("reason", "is empty; say why, and that both agree")
    for entry in entries_of(session, contest.id):
        if entry.key in {first, second} and entry.began_at is not None:
            raise RuleError(f"{entry.band} has begun to ring and keeps its place.")
    set_order(session, contest, swap(order_of(contest), first, second), who=who, reason=reason.strip())


def add_late_entry(session: Session, contest: StoredContest, entry: Entry, *, who: str) -> StoredEntry:
    """Entry taken after the draw, to ring after all that are in the order.

    Raises
    ------
    InputError
        As for any entry.
    RuleError
        The rules do not take it, or ringing is over.
    """
    if rules_of(contest).late == "refused":
        raise RuleError("By the rules of this contest a band that enters after the draw does not ring.")
    if Phase(contest.phase) not in _AFTER_THE_DRAW:
        raise RuleError(f"A band can enter late until ringing is over; the contest is {contest.phase}.")
    stored = add_entry(session, contest.id, entry, who=who)
    order = (*order_of(contest), entry.id)
    set_order(session, contest, order, who=who, reason="entered after the draw, so it rings last")
    return stored
